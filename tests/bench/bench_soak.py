"""Hours of deck, sped up, ears open as in a check and nobody answering: what is taken, and how often it asks again.

    KITCALL_MODEL=FOLDER PYTHONPATH=. python tests/bench/bench_soak.py --hours 8 --seed 1

Each minute has one noise (engine, wind, water, compressor, or the recorded kitchen of ../shared/speech) at a level
drawn by the seed, and in it voices of one half that talk, on deck or over the radio (300 to 3,000 Hz), 0 to
20 dB above the noise. The ear is at one step after another, a window each, as a check listens. Time is counted in
frames. To reach: no pass, no fault, "say again" at most three times an hour; what is read back is counted apart.
"""

from __future__ import annotations

import sys
import time
from collections import Counter, deque
from collections.abc import Iterator

import click
import figures
import numpy as np
import recordings
import running
import sentences
import trials
import voices
from bench_hearing import ROOT

from assistant.check.session import LISTENS
from assistant.check.table import State
from assistant.events import Doubted, Heard
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.sequence import load
from assistant.rehearsal import deck_noise
from audio.ear import Ear
from audio.frames import FRAME_S, FRAME_SAMPLES, RATE_HZ, Frame
from audio.model import find
from audio.recognise import Recogniser

MINUTE = 60 * RATE_HZ
RADIO_HZ = (300.0, 3000.0)
LINES_A_MINUTE = 4  # about a sixth of the time
LEVELS_DBFS = (-50.0, -25.0)  # of the noise
ABOVE_DB = (0.0, 20.0)  # of the talk over it
TALKERS = 96  # different voices saying different lines
TO_REACH = 3.0  # times an hour
ONE_IN = 2  # of the lines come over the radio


def talk(half: str, seed: int) -> list[trials.Samples]:
    """Lines of a half's everyday talk, each by one of its voices."""
    every = [text for texts in sentences.read("talk").values() for text in texts]
    lines = [text for text in every if sentences.half_of(text) == half]
    team = voices.SCORING if half == "scoring" else voices.TUNING
    speakers = np.random.default_rng(seed).integers(len(team), size=TALKERS)
    chosen = [(team[int(at)], lines[line % len(lines)]) for line, at in enumerate(speakers)]
    voices.render_all(chosen, told=True)
    return [voices.render(voice, text) for voice, text in chosen]


def over_radio(speech: trials.Samples) -> trials.Samples:
    """As a small loudspeaker gives it."""
    f_hz = np.fft.rfftfreq(speech.size, 1 / RATE_HZ)
    kept = np.fft.rfft(speech.astype(np.float64)) * ((f_hz > RADIO_HZ[0]) & (f_hz < RADIO_HZ[1]))
    return np.clip(np.rint(np.fft.irfft(kept, speech.size)), -32768, 32767).astype(np.int16)


def minute(chance: np.random.Generator, clips: list[trials.Samples], told: Counter[str]) -> trials.Samples:
    """One minute of deck with some talk in it."""
    kinds = (*deck_noise.STEADY, "kitchen")
    kind = kinds[int(chance.integers(len(kinds)))]
    bed = kitchen() if kind == "kitchen" else deck_noise.make(kind, MINUTE, int(chance.integers(2**31)))
    start = int(chance.integers(max(1, bed.size - MINUTE)))
    level = 32768 * 10 ** (chance.uniform(*LEVELS_DBFS) / 20)
    sound = level * bed[start : start + MINUTE]
    for _ in range(LINES_A_MINUTE):
        clip = clips[int(chance.integers(len(clips)))]
        clip = over_radio(clip) if chance.integers(ONE_IN) else clip
        at = int(chance.integers(MINUTE - clip.size))
        gain = level * 10 ** (chance.uniform(*ABOVE_DB) / 20) / max(1.0, deck_noise.active_rms(clip))
        sound[at : at + clip.size] += gain * clip
        told["lines of talk"] += 1
    return np.clip(np.rint(sound), -32768, 32767).astype(np.int16)


def kitchen() -> deck_noise.Sound:
    """The recording, to RMS 1."""
    sound = recordings.kitchen()
    return np.asarray(sound / np.sqrt(np.mean(sound**2)))


class Deck:
    """Frames of minute after minute, counted."""

    def __init__(self, hours: float, half: str, seed: int, told: Counter[str]) -> None:
        self._minutes, self._half, self._seed, self._told, self.taken = round(hours * 60), half, seed, told, 0

    def __iter__(self) -> Iterator[Frame]:
        clips, began_s = talk(self._half, self._seed), time.monotonic()
        for done in range(self._minutes):
            sound = minute(np.random.default_rng([self._seed, done]), clips, self._told)
            for start in range(0, MINUTE, FRAME_SAMPLES):
                self.taken += 1
                yield sound[start : start + FRAME_SAMPLES]
            print(f"\r{done + 1}/{self._minutes} min in {time.monotonic() - began_s:.0f} s ", end="", file=sys.stderr)


@click.command(help=__doc__)
@click.option("--hours", type=float, default=8.0, show_default=True)
@click.option("--set", "half", type=click.Choice(["tuning", "scoring"]), default="scoring", show_default=True)
@click.option("--seed", type=int, default=1, show_default=True)
def main(hours: float, half: str, seed: int) -> None:
    check = load(ROOT / "grammars/en/checks/rental.toml", lambda word: True)
    recogniser = Recogniser(find())
    ear, expected = Ear(recogniser), Expected(check, shipped_commands(check.language), recogniser.knows, kept=99)
    counts, taken, doubted, steps = Counter[str](), list[str](), list[str](), deque(step.id for step in check.steps)
    deck = Deck(hours, half, seed, counts)
    frames, window_s = iter(deck), LISTENS[State.ASKING][1]
    began_s = time.process_time()
    while deck.taken * FRAME_S < hours * 3600 - 1:
        heard = ear.listen(frames, expected.for_step(steps[0]), window_s)
        outcome = running.outcome_of(heard)
        counts[outcome.partition(":")[0]] += 1
        if isinstance(heard, Heard):
            taken.append(f"{deck.taken * FRAME_S:.0f} s, {steps[0]}: {outcome}: {heard.match.text}")
        elif isinstance(heard, Doubted):
            said = f"{heard.text}; {heard.evidence.written}"
            doubted.append(f"{deck.taken * FRAME_S:.0f} s, {steps[0]}: {outcome}: {said}")
        steps.rotate(-1)
    print(file=sys.stderr)
    heard_h = deck.taken * FRAME_S / 3600
    again_h, back_h = (
        sum(count for name, count in counts.items() if name.startswith(kind)) / heard_h for kind in ("doubted", "back")
    )
    computing = (time.process_time() - began_s) / heard_h / 3600
    print(f"# {heard_h:.2f} hours of deck, {half} half, seed {seed}; {computing:.3f} of real time, noise made too\n")
    print("\n".join(figures.table(["what", "count"], [[name, str(counts[name])] for name in sorted(counts)])))
    print(f"\nasked again an hour: {again_h:.2f} (at most {TO_REACH:g} wanted); read back: {back_h:.2f}")
    print("taken:", *(taken or ["nothing"]), sep="\n  ")
    print("doubted; and what the second recogniser wrote:", *(doubted or ["nothing"]), sep="\n  ")


if __name__ == "__main__":
    main()
