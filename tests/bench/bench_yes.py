"""The yes to what was read back, and sentences that are none, by every voice of a half, where a pass is read back.

    KITCALL_MODEL=FOLDER PYTHONPATH=. python tests/bench/bench_yes.py --set tuning

Half of the passes count only after a yes, so this is how often that yes is taken; a no yes taken is a false pass to be.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from multiprocessing import get_context

import click
import figures
import running
import sentences
import trials
import voices
from bench_hearing import ROOT

from assistant.check.turns import Expects
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.listening import Listed
from assistant.language.sequence import load
from audio.ear import Ear
from audio.frames import FRAME_SAMPLES
from audio.model import find
from audio.recognise import Recogniser

STEP = "hoses"
LEVELS = (None, 18.0, 12.0, 6.0)
_heard: dict[str, tuple[Ear, Listed]] = {}


def said(half: str, seed: int) -> list[trials.Trial]:
    """Each yes by all voices of the half, each sentence that is none by four plain ones, clean and in noise."""
    team, found = (voices.SCORING if half == "scoring" else voices.TUNING), []
    plain = [voice for voice in team if not voice.is_neural]
    for key, speakers in (("yes", team), ("no_yes", plain[:4])):
        for text in sentences.read("yes")[key]:
            for voice in speakers:
                for level in LEVELS:
                    kind = "clean" if level is None else trials._kind(text, voice.name, level, seed)
                    expected = key.removeprefix("no_yes")
                    trial = trials._trial(key, STEP, text, expected, voice.name, kind, level, seed)
                    found.append(replace(trial, half=half))
    return found


def open_ear() -> None:
    """Load the ear once in this process."""
    check, recogniser = load(ROOT / "grammars/en/checks/rental.toml", lambda word: True), Recogniser(find())
    expected = Expected(check, shipped_commands(check.language), recogniser.knows)
    listening = expected.at(Expects("confirm", STEP))
    assert isinstance(listening, Listed)
    _heard["ear"] = Ear(recogniser), listening


def play(trial: trials.Trial) -> tuple[trials.Trial, str]:
    """The trial and what was heard."""
    samples, _ = trials.sound_of(trial)
    frames = (samples[at : at + FRAME_SAMPLES] for at in range(0, samples.size - FRAME_SAMPLES + 1, FRAME_SAMPLES))
    ear, listening = _heard["ear"]
    return trial, running.outcome_of(ear.listen(frames, listening))


@click.command(help=__doc__)
@click.option("--set", "half", type=click.Choice(["tuning", "scoring"]), default="tuning", show_default=True)
@click.option("--seed", type=int, default=7, show_default=True)
@click.option("--processes", type=int, default=2, show_default=True)
def main(half: str, seed: int, processes: int) -> None:
    chosen, counts, taken = said(half, seed), Counter[tuple[str, str, str]](), list[str]()
    trials.prepare(chosen)
    with get_context("spawn").Pool(processes, open_ear) as pool:
        for trial, outcome in pool.imap(play, chosen, chunksize=4):
            row = trial.text if trial.expected else "sentences that are no yes"
            counts[row, trial.condition, "all"] += 1
            counts[row, trial.condition, "yes"] += outcome == "yes"
            if outcome == "yes" and not trial.expected:
                taken.append(f"{trial.text} ({trial.voice}, {trial.condition})")
    conditions = ["clean" if level is None else f"{level:g} dB" for level in LEVELS]
    rows = dict.fromkeys(row for row, _, _ in counts)
    cells = [[row, *(f"{counts[row, c, 'yes']} of {counts[row, c, 'all']}" for c in conditions)] for row in rows]
    print("\n".join(figures.table([f"taken as a yes, {half} half, seed {seed}", *conditions], cells)))
    print("no yes, taken:", *(taken or ["nothing"]), sep="\n  ")


if __name__ == "__main__":
    main()
