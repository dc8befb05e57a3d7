"""kill -9 at every named point of every turn of a check; prints what became of every answer that was spoken of.

    python tests/faults/kill_check.py --every 12      (in the tests)
    python tests/faults/kill_check.py                 (the whole: every point of every turn)

A child process leads a typed check with a fault and a swap, and kills itself with SIGKILL at one point of one
turn: before the decision, before the commit, between commit and apply, before, in and after speech. A second
process resumes from the store and finishes. Pass rule: every answer acknowledged aloud is there once, none is
doubled, the chain holds, and the verdict is the one of a check that was never killed.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from assistant.app import Conversation, Parts
from assistant.check.turns import Expects, Fact, Record, Start
from assistant.ears import KeyboardEars
from assistant.events import Listening
from assistant.judges import Judges
from assistant.language import listening
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.files import grammar_file
from assistant.language.replies import shipped_replies
from assistant.language.sequence import load
from assistant.record import Entry, Log, Reader
from assistant.sums.settings import load as load_settings

POINTS = ("before decide", "before commit", "after commit", "before speech", "during speech", "after speech")
CHECK = load(grammar_file("checks/rental.toml"), lambda word: True)


class Plain(Expected):
    """Without decoys and soundalikes, which typed words do not need and which take seconds a step to build."""

    def _build(self, kind: str, step_id: str) -> Listening:
        if kind != "step":
            return super()._build(kind, step_id)
        return listening.for_step(self.check, self.check.step(step_id), self._commands)


EXPECTED = Plain(CHECK, shipped_commands(), lambda word: False, kept=99)  # all, or each child would build anew
WEARS: Mapping[str, Any] = {"regulator": "12", "jacket": "7"}
GOOD = {step.id: step.examples[0].replace(",", "") for step in CHECK.steps}
JUDGES = Judges(load_settings(Path(__file__).parents[1] / "hurried.toml"), lambda now_s: date(2026, 11, 25))
Reached = Callable[[str], None]
Lead = Callable[[Path, Reached, int], str]


class Diver(KeyboardEars):
    """Types a good kit's answers, but the first time the inflator sticks; the jacket is swapped for number nine."""

    def __init__(self, log: Log, reached: Reached) -> None:
        super().__init__(lambda prompt: self._line)
        self._log, self._reached, self._line = log, reached, ""

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        has_swapped = any(entry.kind == "replaced" for entry in self._log.entries("s"))
        self._line = "" if expects.kind == "nothing" else self._answer(expects, has_swapped)
        fact = super().hear(expects, expected)
        if expects.kind != "nothing":
            self._reached("before decide")
        return fact

    def _answer(self, expects: Expects, has_swapped: bool) -> str:
        if expects.step_id == "inflator" and not has_swapped and expects.kind == "step":
            return "inflator sticks"
        words = {"start": "start the check", "replacement": "swapped number nine", "confirm": "yes that's right"}
        return words.get(expects.kind) or GOOD[expects.step_id]


def build_all() -> None:
    """Whatever a check of a good kit listens for."""
    for kind in ("start", "replacement", "number", "confirm", "waiting", "nothing"):
        EXPECTED.at(Expects(kind))
    for step in CHECK.steps:
        EXPECTED.for_step(step.id)


class KillingLog(Log):
    """The real record with the two points around its commit."""

    reached: Reached = staticmethod(lambda point: None)

    def append_together(self, *args: Any, **names: Any) -> list[Entry]:
        self.reached("before commit")
        entries = super().append_together(*args, **names)
        self.reached("after commit")
        return entries


class Mouth:
    """Speaks into a pipe: how many answers the record must hold once these words are heard."""

    def __init__(self, session: Callable[[], Conversation], reached: Reached, pipe: int) -> None:
        self._session, self._reached, self._pipe = session, reached, pipe

    def say(self, text: str) -> None:
        self._reached("before speech")
        answers = [r for r, _ in self._session().session.entries if r.kind == "answered"]
        os.write(self._pipe, f"{len(answers)}\n".encode())
        self._reached("during speech")
        self._reached("after speech")


class Watcher:
    """Nobody watches."""

    def said(self, text: str) -> None: ...
    def heard(self, fact: Fact) -> None: ...
    def recorded(self, records: Sequence[Record]) -> None: ...


def lead(store: Path, reached: Reached, pipe: int) -> str:
    """Lead the check to its verdict, or to the kill."""
    log = KillingLog(store, device="victim", wall=lambda: datetime.now(UTC), monotonic=time.monotonic)
    log.reached = reached  # type: ignore[method-assign]
    held: list[Conversation] = []
    with log:
        mouth = Mouth(lambda: held[0], reached, pipe)
        parts = Parts(log, Diver(log, reached), mouth, Watcher(), EXPECTED, shipped_replies("en"), judges=JUDGES)
        held.append(Conversation(CHECK, "s", Start(WEARS, "4", "typed"), parts))
        return "ready" if held[0].run().ready else "hold"


def in_child(store: Path, kill_at: int | None, led: Lead = lead) -> tuple[int, int, list[str]]:
    """(exit status, last count acknowledged, points passed) of a child that is killed at that point, if at any."""
    reading, writing = os.pipe()
    passed_on, passing = os.pipe()
    pid = os.fork()
    if pid == 0:
        count = 0

        def reached(point: str) -> None:
            nonlocal count
            os.write(passing, f"{point}\n".encode())
            if count == kill_at:
                os.kill(os.getpid(), signal.SIGKILL)
            count += 1

        try:
            os._exit(0 if led(store, reached, writing) == "ready" else 1)
        except BaseException as error:  # noqa: BLE001 - the child must never return into the parent's code
            os.write(2, f"the child broke: {error!r}\n".encode())
            os._exit(3)
    os.close(writing)
    os.close(passing)
    with os.fdopen(passed_on) as points, os.fdopen(reading) as spoken:
        passed, heard = points.read().splitlines(), spoken.read().split()
    return os.waitpid(pid, 0)[1], int(heard[-1]) if heard else 0, passed


def answers(store: Path) -> list[tuple[object, ...]]:
    with Reader(store) as reader:
        return [(e.facts["step"], e.facts["outcome"]) for e in reader.entries("s") if e.kind == "answered"]


def try_point(folder: Path, place: int, whole: list[tuple[object, ...]]) -> Counter[str]:
    """Kill there, look at the store, resume, and look again."""
    store, counts = folder / f"{place}.db", Counter({"kills": 1})
    status, acknowledged, passed = in_child(store, place)
    counts[f"killed {passed[-1]}"] += 1
    counts["not killed"] += not os.WIFSIGNALED(status)
    kept = answers(store)
    counts["acknowledged"] += acknowledged
    counts["lost"] += len(kept) < acknowledged
    counts["doubled"] += kept != whole[: len(kept)]
    status, _, _ = in_child(store, None)
    counts["wrong verdict"] += status != 0
    counts["wrong record"] += answers(store) != whole
    with Reader(store) as reader:
        counts["unverified"] += not reader.verify().ok
        counts["resumed"] += any(entry.kind == "continued" for entry in reader.entries("s"))
    return counts


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--every", type=int, default=1, help="try only every so many-th point")
    options = parser.parse_args()
    build_all()  # once here, not in every child
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        status, _, passed = in_child(folder / "whole.db", None)
        if status:
            raise SystemExit("the check that nobody kills does not end in READY")
        whole = answers(folder / "whole.db")
        counts: Counter[str] = Counter({"points": len(passed), "answers": len(whole)})
        for place in range(0, len(passed), options.every):
            counts += try_point(folder, place, whole)
    wrong = ("not killed", "lost", "doubled", "wrong verdict", "wrong record", "unverified")
    found = {**counts, **{each: counts[each] for each in wrong}}
    print(json.dumps(found))
    return int(any(found[each] for each in wrong))


if __name__ == "__main__":
    sys.exit(main())
