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
from assistant.events import Care, Heard, Listening
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.sequence import load
from audio.frames import FRAME_SAMPLES
from audio.gate import FINAL, FIRM, SURE, Margins, rule
from audio.model import find
from audio.opinion import Weighed
from audio.recognise import Reading, Recogniser
from audio.turn import Settings

# a wrong pass; one by nonsense a sound or two away, which nobody reports; either read back; another wrong answer;
# asking again; asking for a yes
COSTS = {"pass": 1000, "nonsense": 20, "read back": 20, "nonsense read back": 2, "other": 10, "again": 1, "yes": 0.5}
NONSENSE = "near_else"
OPEN = Margins(9.0, 9.0, 0.5, 0.0, 2.0, 99.0, 99.0, 999.0, 999.0)
WIDE = Settings(final=OPEN, firm=OPEN, sure=OPEN, more_s=99.0, clipped=1.0, above_noise_db=-99.0)
CLASSES = ("pass", "fault", "command", "negation", "near_bad", "near_else", "question", "hedge")
MORE_S = Settings().more_s
Point = tuple[Margins, Margins, float]  # what is read back at least, what is taken at once, voice around a pass
NO_OPINION = {"other_opinion": 999.0, "written": 999.0}
POINTS: dict[str, Point] = {
    "as shipped": (FIRM, SURE, MORE_S),
    "nothing read back, and all of it taken": (FIRM, FIRM, MORE_S),
    "nothing read back, and none of it taken": (SURE, SURE, MORE_S),
    "before there was reading back": (FINAL, FINAL, MORE_S),
    "no second recogniser": (replace(FINAL, **NO_OPINION), replace(FINAL, **NO_OPINION), MORE_S),
    "second recogniser alone": (
        replace(FIRM, rival=99.0, rival_faulty=99.0), replace(SURE, rival=99.0, rival_faulty=99.0), MORE_S,
    ),
    "sure: as until now": (FIRM, replace(FINAL, rival_faulty=-2.0, other_opinion=1.0, written=5.0), MORE_S),
    "sure: a soundalike 1 ahead for it": (FIRM, replace(SURE, other_opinion=-1.0), MORE_S),
    "sure: a soundalike 1 behind for it": (FIRM, replace(SURE, other_opinion=1.0), MORE_S),
    "sure: its own words 1 ahead": (FIRM, replace(SURE, written=1.0), MORE_S),
    "sure: its own words 5 ahead": (FIRM, replace(SURE, written=5.0), MORE_S),
    "sure: its own words 8 ahead": (FIRM, replace(SURE, written=8.0), MORE_S),
    "sure: behind the best reading": (FIRM, replace(SURE, firm=FINAL.firm), MORE_S),
    "sure: nonsense rival 0": (FIRM, replace(SURE, rival=0.0), MORE_S),
    "sure: nonsense rival 3": (FIRM, replace(SURE, rival=3.0), MORE_S),
    "sure: rival of bad kit 1": (FIRM, replace(SURE, rival_faulty=-1.0), MORE_S),
    "sure: rival of bad kit 3": (FIRM, replace(SURE, rival_faulty=-3.0), MORE_S),
    "read back: lead of a pass 2": (replace(FIRM, other_firm=2.0), SURE, MORE_S),
    "read back: lead of a pass 5": (replace(FIRM, other_firm=5.0), SURE, MORE_S),
    "read back: a soundalike 2 behind for it": (replace(FIRM, other_opinion=2.0), SURE, MORE_S),
    "read back: a soundalike 10 behind for it": (replace(FIRM, other_opinion=10.0), SURE, MORE_S),
    "read back: its own words 12 ahead": (replace(FIRM, written=12.0), SURE, MORE_S),
    "read back: nonsense rival 3": (replace(FIRM, rival=3.0), SURE, MORE_S),
    "read back: nonsense rival 6": (replace(FIRM, rival=6.0), SURE, MORE_S),
    "read back: rival of bad kit 0": (replace(FIRM, rival_faulty=0.0), SURE, MORE_S),
    "voice around a pass allowed": (FIRM, SURE, 99.0),
}  # fmt: skip


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


def meaning(each: Read, listening: Listening, point: Point) -> tuple[str, bool]:
    """What these margins make of it, and whether that is read back; "" when it is asked again."""
    firm, sure, more_s = point
    if not each.readings:
        return "", False
    match = rule(each.readings, listening, firm, each.rivals, each.weighed).match
    if match is None or (match.meaning == "pass" and each.around_s > more_s):
        return "", False
    is_sure = rule(each.readings, listening, sure, each.rivals, each.weighed).match is not None
    return match.meaning, match.care is Care.FIRM and not is_sure


def table(reads: Sequence[Read], listening: Callable[[str], Listening]) -> Iterator[str]:
    """One line for each point; of false passes those taken at once + those read back."""
    head = ("rule", "passes right at once", "after a yes", "faults, commands right", "bad reports", "nonsense",
            "other wrong", "cost")  # fmt: skip
    yield f"| {' | '.join(head)} |"
    yield f"|---|{'--:|' * (len(head) - 1)}"
    for name, point in POINTS.items():
        found = [(each.trial, *meaning(each, listening(each.trial.step), point)) for each in reads]
        wrong = [(trial.cls, got, back) for trial, got, back in found if got and got != trial.expected]
        passes = [(got == trial.expected, back) for trial, got, back in found if trial.cls == "pass"]
        others = [got == trial.expected for trial, got, _ in found if trial.cls in ("fault", "command")]
        again = sum(not got for trial, got, _ in found if trial.is_right)
        yes = sum(right and back for right, back in passes)
        nonsense = [sum(got == "pass" and cls == NONSENSE and back == is_back for cls, got, back in wrong)
                    for is_back in (False, True)]  # fmt: skip
        bad = [sum(got in ("pass", "reading") and cls != NONSENSE and back == is_back for cls, got, back in wrong)
               for is_back in (False, True)]  # fmt: skip
        rest = len(wrong) - sum(bad) - sum(nonsense)
        counts = {"pass": bad[0], "read back": bad[1], "nonsense": nonsense[0], "nonsense read back": nonsense[1],
                  "other": rest, "again": again, "yes": yes}  # fmt: skip
        cost = sum(COSTS[what] * count for what, count in counts.items())
        once = share([right and not back for right, back in passes])
        yield (
            f"| {name} | {once} | {share([right for right, _ in passes])} | {share(others)}"
            f" | {bad[0]} + {bad[1]} | {nonsense[0]} + {nonsense[1]} | {rest} | {cost:,.0f} |"
        )


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
        got, back = meaning(each, expected.for_step(each.trial.step), POINTS["as shipped"])
        if got == "pass" and each.trial.cls not in ("pass", NONSENSE):
            how = "read back" if back else "at once"
            print(f"  {how}, {each.trial.cls}, {each.trial.voice}, {each.trial.condition}: {each.trial.text}")


if __name__ == "__main__":
    main()
