"""From the end of the speech to the start of the reply, beside vosk's own endpoint; and every other figure of speed.

    python tests/bench/bench_reply.py [--rounds 2] [--times 5]

kitcall leads its own check through all steps of the shipped sequence: a synthetic diver's clip goes in frame by
frame, and the clock stops when the first sample of the reply is handed to the speaker, so deciding, the synced commit
and the rendering are in it. Plain vosk hears the very clips with the step's phrases as a flat list and ends each by
its own endpoint; it decides and writes nothing more. Delay is audio time from the last audible sample to the frame
that brought the decision, plus the wall time from then on. Each system has a process of its own, so that its peak
memory is its own. Wall time: use a quiet machine.
"""

from __future__ import annotations

import argparse
import multiprocessing
import resource
import statistics
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import bench_start
import numpy as np
import soxr
import systems

from assistant.app import Conversation, Parts
from assistant.check.turns import Expects, Fact, Record, Start
from assistant.commands.options import load_check
from assistant.events import Silent
from assistant.judges import Judges
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.files import grammar_file
from assistant.language.replies import shipped_replies
from assistant.language.sequence import load
from assistant.mouth import SpokenMouth
from assistant.record import Clip, Log
from assistant.sums.settings import load as load_settings
from audio import model
from audio.ear import Ear
from audio.frames import FRAME_S, FRAME_SAMPLES, RATE_HZ, Frame
from audio.voice import Voice

DIVER = ("gmw/en-gb-x-rp", 150)
BEFORE_S, AFTER_S, PEAK, HISS = 0.6, 2.5, 9000, 12  # vosk's endpoint waits up to a second of quiet
AUDIBLE = 0.03  # of the peak: -30 dB
MOST_TURNS = 60
HURRIED = Judges(load_settings(Path(__file__).parents[1] / "hurried.toml"))  # no round waits eight minutes for a leak


@dataclass
class Measured:
    """What one system did; delays in s after the last audible sample."""

    decided_s: list[float] = field(default_factory=list)
    replied_s: list[float] = field(default_factory=list)
    audio_s: float = 0.0
    computing_s: float = 0.0
    peak_mb: float = 0.0

    def finish(self) -> Measured:
        self.peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        return self


class Handed:
    """A clip's frames, noting when the last one was handed over."""

    def __init__(self, samples: Frame) -> None:
        self._samples, self.taken, self.last_s = samples, 0, 0.0

    def __iter__(self) -> Iterator[Frame]:
        for start in range(0, self._samples.size - FRAME_SAMPLES + 1, FRAME_SAMPLES):
            self.taken += 1
            self.last_s = time.perf_counter()
            yield self._samples[start : start + FRAME_SAMPLES]


def clip(voice: Voice, words: str) -> tuple[Frame, float]:
    """16 kHz samples of these words in a quiet room, and where the speech ends in s."""
    spoken, rate_hz = voice.render(words)
    sound = soxr.resample(spoken.astype(np.float64) / 32768, rate_hz, RATE_HZ)
    sound *= PEAK / float(np.abs(sound).max())
    end_s = BEFORE_S + (int(np.flatnonzero(np.abs(sound) > AUDIBLE * PEAK)[-1]) + 1) / RATE_HZ
    padded = np.pad(sound, (round(BEFORE_S * RATE_HZ), round(AFTER_S * RATE_HZ)))
    return np.asarray(padded + np.random.default_rng(1).normal(0, HISS, padded.size), dtype=np.int16), end_s


class TimedDiver:
    """Fulfils app.Ears and play.Sounder: speaks every step's first example, and notes when the reply begins."""

    by = "voice"

    def __init__(self, ear: Ear, voice: Voice, examples: dict[str, str], measured: Measured) -> None:
        self._ear, self._voice, self._examples, self._measured = ear, voice, examples, measured
        self._handed: Handed | None = None
        self._end_s, self._turns = 0.0, 0

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        if expects.kind == "nothing":
            return Silent(0.0)
        self._turns += 1
        usual = {"start": "start the check", "confirm": "yes confirmed", "waiting": "carry on"}
        words = usual.get(expects.kind) or self._examples[expects.step_id]
        listening = expected.at(expects)
        samples, self._end_s = clip(self._voice, "stop the check" if self._turns > MOST_TURNS else words)
        began_s, self._handed = time.process_time(), Handed(samples)
        heard = self._ear.listen(self._handed, listening, expects.window_s)
        self._measured.decided_s.append(self._delay_s(self._handed))
        self._measured.computing_s += time.process_time() - began_s
        self._measured.audio_s += self._handed.taken * FRAME_S
        return heard

    def _delay_s(self, handed: Handed) -> float:
        return handed.taken * FRAME_S - self._end_s + time.perf_counter() - handed.last_s

    def play(self, samples: Frame, rate_hz: int) -> bool:
        if self._handed is not None:
            self._measured.replied_s.append(self._delay_s(self._handed))
        self._handed = None
        return True

    def stop(self) -> None: ...
    def note(self, window_s: float) -> Clip | None: ...
    def reopen(self) -> bool:
        return False
    def said(self, text: str) -> None: ...
    def heard(self, fact: Fact) -> None: ...
    def recorded(self, records: Sequence[Record]) -> None: ...


def lead(folder: Path, scratch: Path, rounds: int) -> Measured:
    """kitcall's own check, from its start phrase to the verdict, `rounds` times; the first round fills the cache."""
    loaded, measured = load_check(None, str(folder)), Measured()
    examples = {step.id: step.examples[0] for step in loaded.check.steps}
    with Voice(*DIVER, scratch) as theirs, Voice(folder=scratch) as own, Log(
        scratch / "record.db", device="bench", wall=lambda: datetime.now(UTC), monotonic=time.monotonic
    ) as log:
        for place in range(rounds):
            diver = TimedDiver(Ear(loaded.recogniser), theirs, examples, measured)
            parts = Parts(log, diver, SpokenMouth(own, diver), diver, loaded.expected, shipped_replies("en"),
                          judges=HURRIED)  # fmt: skip
            Conversation(loaded.check, f"round {place}", Start(), parts).run()
    return measured.finish()


def hear_plainly(folder: Path, scratch: Path, rounds: int) -> Measured:
    """Plain vosk on the same clips."""
    check, measured = load(grammar_file("checks/rental.toml"), lambda word: True), Measured()
    plain = systems.factory("plain")(folder, check, shipped_commands())
    with Voice(*DIVER, scratch) as voice:
        for step in [step for _ in range(rounds) for step in check.steps]:
            samples, end_s = clip(voice, step.examples[0])
            began_s, handed = time.process_time(), Handed(samples)
            plain.hear(handed, step.id)
            measured.decided_s.append(handed.taken * FRAME_S - end_s + time.perf_counter() - handed.last_s)
            measured.computing_s += time.process_time() - began_s
            measured.audio_s += handed.taken * FRAME_S
    return measured.finish()


def spread(delays_s: list[float]) -> str:
    late_s = statistics.quantiles(delays_s, n=20)[-1]
    return f"{statistics.median(delays_s):.2f} s, {late_s:.2f} s"


def compared(ours: Measured, plain: Measured) -> list[tuple[str, str, str, str]]:
    """Rows of figure, kitcall, vosk, ratio of the medians."""
    middle = statistics.median
    loads = [each.computing_s / each.audio_s for each in (ours, plain)]
    return [
        ("speech to decision: median, 95 %", spread(ours.decided_s), spread(plain.decided_s),
         f"{middle(ours.decided_s) / middle(plain.decided_s):.2f}"),
        ("speech to reply: median, 95 %", spread(ours.replied_s), spread(plain.decided_s) + " (decides)",
         f"{middle(ours.replied_s) / middle(plain.decided_s):.2f}"),
        ("real-time factor", f"{loads[0]:.3f}", f"{loads[1]:.3f}", f"{loads[0] / loads[1]:.2f}"),
        ("peak memory", f"{ours.peak_mb:.0f} MB", f"{plain.peak_mb:.0f} MB", f"{ours.peak_mb / plain.peak_mb:.2f}"),
    ]  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=2, help="whole checks to lead")
    parser.add_argument("--times", type=int, default=5, help="how often each start is measured")
    options = parser.parse_args()
    folder, context = model.find(), multiprocessing.get_context("spawn")
    with tempfile.TemporaryDirectory() as scratch:
        found = []
        for run in (lead, hear_plainly):
            with context.Pool(1) as pool:
                found.append(pool.apply(run, (folder, Path(scratch), options.rounds)))
    bench_start.print_table(compared(*found), "vosk, its own endpoint")
    print(f"\n{len(found[0].decided_s)} turns of kitcall, {len(found[1].decided_s)} clips to vosk\n")
    bench_start.print_table(bench_start.table(options.times), "baseline")


if __name__ == "__main__":
    main()
