"""The wall clock set back, ahead, to 1970 and to 2038, and stepped in the middle of a whole check.

    PYTHONPATH=. python tests/faults/clock_check.py --runs 12 --seed 1       (in the tests)
    PYTHONPATH=. python tests/faults/clock_check.py --runs 200 --seed 5      (the whole)

A typed check of a good kit, with a fault and a swap, while the clock steps once or at every answer. Pass rule: every
answer is there once and in order, the chain verifies, the monotonic times never fall, and READY appears only where
every step that the kit needs was passed; a step ahead may make answers too old, and then the check ends in HOLD
or asks again, never in a READY that was not said.
"""

from __future__ import annotations

import argparse
import itertools
import json
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

from kill_check import CHECK, EXPECTED, JUDGES, WEARS, Diver, Watcher

from assistant.app import Conversation, Parts
from assistant.check.turns import Record, Start
from assistant.language.replies import shipped_replies
from assistant.mouth import ShownMouth
from assistant.record import Log

JUMPS = {
    "back an hour": timedelta(hours=-1), "ahead an hour": timedelta(hours=1), "ahead a day": timedelta(days=1),
    "back ten years": timedelta(days=-3652), "to 1970": datetime(1970, 1, 1, tzinfo=UTC),
    "to the end of 2038": datetime(2038, 1, 19, 3, 14, 5, tzinfo=UTC), "to 9999": datetime(9999, 12, 31, tzinfo=UTC),
}  # fmt: skip
MOST_TURNS = 400
WRONG = ("lost", "doubled", "out of order", "unverified", "false ready", "broke", "unfinished")


class Wandering:
    """A wall clock that steps at given readings, two seconds a reading else; it may step back again."""

    def __init__(self, jumps: dict[int, str]) -> None:
        self._jumps, self._readings = jumps, 0
        self._now = datetime(2026, 5, 4, 8, tzinfo=UTC)

    def __call__(self) -> datetime:
        self._readings += 1
        jump = JUMPS.get(self._jumps.get(self._readings, ""))
        try:
            self._now = jump if isinstance(jump, datetime) else self._now + (jump or timedelta(seconds=2))
        except OverflowError:
            self._now = datetime(9999, 12, 31, tzinfo=UTC)
        return self._now


class Keeping(Watcher):
    """Keeps every answer that was acknowledged: it is told of a record only once that is committed."""

    def __init__(self) -> None:
        self.answers: list[tuple[object, object]] = []

    def recorded(self, records: Sequence[Record]) -> None:
        self.answers += [(each.facts["step"], each.facts["outcome"]) for each in records if each.kind == "answered"]


def patience() -> Callable[[str], None]:
    """Raises when a check asks without an end."""
    turns = itertools.count()

    def reached(point: str) -> None:
        assert next(turns) < MOST_TURNS, "it asks without an end"

    return reached


def run_one(store: Path, jumps: dict[int, str], counts: Counter[str]) -> None:
    """One whole check under that clock, and what became of it."""
    wall = Wandering(jumps)
    counts["runs"] += 1
    with Log(store, device="victim", wall=wall, monotonic=time.monotonic) as log:
        parts = Parts(log, Diver(log, patience()), ShownMouth(), kept := Keeping(), EXPECTED, shipped_replies("en"),
                      wall_s=lambda: wall().timestamp(), judges=JUDGES)  # fmt: skip
        try:
            verdict = Conversation(CHECK, "s", Start(WEARS, "4", "typed"), parts).run()
        except Exception as error:  # noqa: BLE001  whatever breaks is what is looked for
            print(f"broke with {jumps}: {error!r}", file=sys.stderr)
            counts["broke"] += 1
            return
        judge(log, verdict.ready, kept, counts)
    counts["ready" if verdict.ready else "hold"] += 1


def judge(log: Log, ready: bool, kept: Keeping, counts: Counter[str]) -> None:
    entries = list(log.entries("s"))
    answers = [entry for entry in entries if entry.kind == "answered"]
    passed = {entry.facts["step"] for entry in answers if entry.facts["outcome"] == "passed"}
    counts["answers"] += len(answers)
    counts["unverified"] += not log.verify().ok
    counts["out of order"] += sum(one.monotonic_s > other.monotonic_s for one, other in pairwise(entries))
    counts["out of order"] += sum(one.seq + 1 != other.seq for one, other in pairwise(entries))
    stored = [(entry.facts["step"], entry.facts["outcome"]) for entry in answers]
    counts["lost"] += len(kept.answers) > len(stored)
    counts["doubled"] += stored != kept.answers
    counts["unfinished"] += entries[-1].kind != "verdict_given"
    counts["false ready"] += ready and passed != {step.id for step in CHECK.steps}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    dice, counts = random.Random(options.seed), Counter[str]()
    for run in range(options.runs):
        name = list(JUMPS)[run % len(JUMPS)]
        once = {dice.randint(1, 90): name}
        often = {reading: dice.choice(list(JUMPS)) for reading in range(1, 200, dice.randint(2, 9))}
        with tempfile.TemporaryDirectory() as folder:
            run_one(Path(folder) / "record.db", often if run >= len(JUMPS) and run % 3 == 0 else once, counts)
    print(json.dumps({**counts, **{each: counts[each] for each in WRONG}}))
    return int(any(counts[each] for each in WRONG))


if __name__ == "__main__":
    sys.exit(main())
