"""The gate's operating point: one run of the ear with its rules wide open, then the rules replayed on what it read.

    KITCALL_MODEL=FOLDER PYTHONPATH=. python tests/bench/bench_gate.py --quick 30

Prints, for each set of margins, what is understood, what is taken wrongly, and the cost by the weights below. Only
the tuning half: margins are chosen here. Synthetic voices whose clips are made already are taken first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from multiprocessing import Pool
from pathlib import Path

import click
import systems
import trials
from bench_hearing import ROOT

import audio.ear
from assistant.check.steps import Check
from assistant.events import Heard, Listening
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.sequence import load
from audio.ear import Settings
from audio.frames import FRAME_SAMPLES
from audio.gate import Margins, rule
from audio.model import find
from audio.opinion import Weighed
from audio.recognise import Reading, Recogniser

# a wrong pass; one by nonsense a sound or two away, which nobody reports; another wrong answer; asking again
COSTS = {"pass": 1000, "nonsense": 20, "other": 10, "again": 1}
NONSENSE = "near_else"
NO_OPINION = {"other_opinion": 999.0, "written": 999.0}
WIDE = Settings(
    margins=Margins(9.0, 9.0, 0.5, 0.0, 99.0, 99.0, **NO_OPINION), more_s=99.0, clipped=1.0, above_noise_db=-99.0
)
CLASSES = ("pass", "fault", "command", "negation", "near_bad", "near_else", "question", "hedge")
SHIPPED, SHIPPED_MORE_S = Margins(), Settings().more_s
POINTS: dict[str, tuple[Margins, float]] = {
    "as shipped": (SHIPPED, SHIPPED_MORE_S),
    "no second recogniser": (replace(SHIPPED, **NO_OPINION), SHIPPED_MORE_S),
    "no second recogniser, nonsense rival 1": (replace(SHIPPED, rival=1.0, **NO_OPINION), SHIPPED_MORE_S),
    "no second recogniser, nonsense rival 0": (replace(SHIPPED, rival=0.0, **NO_OPINION), SHIPPED_MORE_S),
    "second recogniser alone": (replace(SHIPPED, rival=99.0, rival_faulty=99.0), SHIPPED_MORE_S),
    "a soundalike 0 behind for it": (replace(SHIPPED, other_opinion=0.0), SHIPPED_MORE_S),
    "a soundalike 1 behind for it": (replace(SHIPPED, other_opinion=1.0), SHIPPED_MORE_S),
    "a soundalike 3 behind for it": (replace(SHIPPED, other_opinion=3.0), SHIPPED_MORE_S),
    "a soundalike 4 behind for it": (replace(SHIPPED, other_opinion=4.0), SHIPPED_MORE_S),
    "its own words 8 ahead": (replace(SHIPPED, written=8.0), SHIPPED_MORE_S),
    "its own words 12 ahead": (replace(SHIPPED, written=12.0), SHIPPED_MORE_S),
    "its own words 20 ahead": (replace(SHIPPED, written=20.0), SHIPPED_MORE_S),
    "its own words not asked": (replace(SHIPPED, written=999.0), SHIPPED_MORE_S),
    "nonsense rival 1": (replace(SHIPPED, rival=1.0), SHIPPED_MORE_S),
    "nonsense rival 2": (replace(SHIPPED, rival=2.0), SHIPPED_MORE_S),
    "nonsense rival 5": (replace(SHIPPED, rival=5.0), SHIPPED_MORE_S),
    "rival of bad kit 0": (replace(SHIPPED, rival_faulty=0.0), SHIPPED_MORE_S),
    "lead of a pass 2": (replace(SHIPPED, other_firm=2.0), SHIPPED_MORE_S),
    "lead of a pass 4": (replace(SHIPPED, other_firm=4.0), SHIPPED_MORE_S),
    "a pass 2 behind the best": (replace(SHIPPED, firm=2.0), SHIPPED_MORE_S),
    "voice around a pass allowed": (SHIPPED, 99.0),
    "voice around a pass 0.2 s": (SHIPPED, 0.2),
}


@dataclass(frozen=True, slots=True)
class Read:
    """One trial as the wide ear took it: the last readings and rivals, and the voice outside its words."""

    trial: trials.Trial
    readings: tuple[Reading, ...]
    rivals: tuple[Reading, ...] | None
    around_s: float
    weighed: Weighed | None


_hearer: systems.EarHearer
_asked: list[tuple[Sequence[Reading], Sequence[Reading] | None, Weighed | None]] = []


def start(sequence: Path) -> None:
    """Each process loads its own ear, with the gate written down."""
    global _hearer
    gate = audio.ear.rule

    def written(readings: Sequence[Reading], listening: Listening, margins: Margins,
                rivals: Sequence[Reading] | None = None, weighed: Weighed | None = None) -> object:  # fmt: skip
        _asked.append((readings, rivals, weighed))
        return gate(readings, listening, margins, rivals, weighed)

    audio.ear.rule = written  # type: ignore[assignment]
    check = load(sequence, lambda word: True)
    _hearer = systems.EarHearer(find(), check, shipped_commands(check.language), WIDE)


def read(trial: trials.Trial) -> Read:
    """One trial."""
    _asked.clear()
    samples, _ = trials.sound_of(trial)
    whole = range(0, len(samples) - FRAME_SAMPLES + 1, FRAME_SAMPLES)
    heard = _hearer.hear((samples[at : at + FRAME_SAMPLES] for at in whole), trial.step)
    numbers = heard.evidence.numbers if isinstance(heard, Heard) else {}
    around_s = max(numbers.get("voice_before_s", 0.0), numbers.get("voice_after_s", 0.0))
    readings, rivals, weighed = _asked[-1] if _asked else ((), None, None)
    return Read(trial, tuple(readings), tuple(rivals) if rivals else None, around_s, weighed)


def meaning(each: Read, listening: Listening, margins: Margins, more_s: float) -> str:
    """What these margins make of it; "" when it is asked again."""
    if not each.readings:
        return ""
    match = rule(each.readings, listening, margins, each.rivals, each.weighed).match
    if match is None or (match.meaning == "pass" and each.around_s > more_s):
        return ""
    return match.meaning


def table(reads: Sequence[Read], listening: Callable[[str], Listening]) -> Iterator[str]:
    """One line for each point."""
    yield "| rule | passes right | faults, commands right | false passes: bad reports | nonsense | other wrong | cost |"
    yield "|---|--:|--:|--:|--:|--:|--:|"
    for name, (margins, more_s) in POINTS.items():
        found = [(each.trial, meaning(each, listening(each.trial.step), margins, more_s)) for each in reads]
        wrong = [(trial.cls, got) for trial, got in found if got and got != trial.expected]
        passes = [got == trial.expected for trial, got in found if trial.cls == "pass"]
        others = [got == trial.expected for trial, got in found if trial.cls in ("fault", "command")]
        again = sum(not got for trial, got in found if trial.is_right)
        nonsense = sum(got == "pass" for cls, got in wrong if cls == NONSENSE)
        bad = sum(got in ("pass", "reading") for cls, got in wrong if cls != NONSENSE)
        rest = len(wrong) - bad - nonsense
        cost = COSTS["pass"] * bad + COSTS["nonsense"] * nonsense + COSTS["other"] * rest + COSTS["again"] * again
        yield f"| {name} | {share(passes)} | {share(others)} | {bad} | {nonsense} | {rest} | {cost:,} |"


def share(values: Sequence[bool]) -> str:
    """How many of how many, in per cent."""
    return f"{100 * sum(values) / max(1, len(values)):.1f} %"


@click.command(help=__doc__)
@click.option("--quick", type=int, default=30, show_default=True, help="Trials of every class and condition.")
@click.option("--seed", type=int, default=1, show_default=True)
@click.option("--sequence", type=click.Path(path_type=Path), default=ROOT / "grammars/en/checks/rental.toml")
@click.option("--processes", type=int, default=2, show_default=True)
def main(quick: int, seed: int, sequence: Path, processes: int) -> None:
    check: Check = load(sequence, lambda word: True)
    every = trials.build(check, shipped_commands(check.language), "tuning", seed)
    wanted = [trial for trial in every if trial.cls in CLASSES and trial.snr_db in (None, 12.0, 6.0)]
    chosen = trials.sample(wanted, quick)
    trials.prepare(chosen)
    with Pool(processes, start, (sequence,)) as pool:
        reads = list(pool.imap(read, sorted(chosen, key=lambda trial: (trial.step, trial.text)), chunksize=8))
    recogniser = Recogniser(find())
    expected = Expected(check, shipped_commands(check.language), recogniser.knows, kept=len(check.steps))
    print(f"{len(reads)} tuning trials, clean, 12 and 6 dB, seed {seed}\n")
    print("\n".join(table(reads, expected.for_step)))
    print("\nFalse passes that are no nonsense, as shipped:")
    for each in reads:
        got = meaning(each, expected.for_step(each.trial.step), *POINTS["as shipped"])
        if got == "pass" and each.trial.cls not in ("pass", NONSENSE):
            print(f"  {each.trial.cls}, {each.trial.voice}, {each.trial.condition}: {each.trial.text}")


if __name__ == "__main__":
    main()
