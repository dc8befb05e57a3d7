"""kill -9 at every named point of a group's morning; prints what became of all that had been spoken of.

    PYTHONPATH=. python tests/faults/kill_group.py --every 12     (in the tests)
    PYTHONPATH=. python tests/faults/kill_group.py                (the whole: every point)

A child process leads three divers, typed: one check is broken off for another, a jacket sticks and is swapped, two
divers exchange theirs, the third stays ashore. It kills itself with SIGKILL at one point; a second process goes on
from the store. Pass rule: every event that the store held when something was spoken is there, answers and the group's
doings come once each and in the order of a morning that nobody killed, everybody wears the same in the end, the chain
holds, and the boat is ready.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
import time
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

from kill_check import KillingLog, Plain, Reached, Watcher, in_child

from assistant.app import Parts
from assistant.boat import Boat
from assistant.boat_roster import Outing
from assistant.check.turns import Expects, Fact
from assistant.ears import KeyboardEars
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.files import grammar_file
from assistant.language.group import with_group
from assistant.language.replies import shipped_replies
from assistant.language.sequence import load
from assistant.record import Entry, Log, Reader, day_entries

DAY = "day-1"
CHECK = load(Path(__file__).parents[1] / "commands/short.toml", lambda word: True)
AFTER = load(grammar_file("checks/return.toml"), lambda word: True)
EXPECTED = Plain(CHECK, with_group(shipped_commands(), CHECK, [], lambda word: True), lambda word: False, kept=20)
GOOD = {"hoses": "hoses gone over and okay", "inflator": "inflator adds gas and shuts off",
        "fins": "fins okay and straps okay"}  # fmt: skip
MOST_TURNS = 60  # the morning takes 18
ONCE = ("answered", "set_apart", "replaced", "verdict_given", "kit_exchanged", "diver_taken_off")
FACTS = ("place", "step", "outcome", "item", "number", "new", "verdict", "one", "other")


def plan(log: Log) -> None:
    """Three divers and a spare jacket, where the record has no plan yet."""
    if not log.last_seq():
        kits = enumerate((("12", "7"), ("14", "8"), ("15", "9")), 1)
        divers = [("diver_planned", {"trip": 1, "place": at, "diver": str(at), "water_l": None,
                                     "items": {"regulator": regulator, "jacket": jacket, "fins": None}})
                  for at, (regulator, jacket) in kits]  # fmt: skip
        trip = {"trip": 1, "name": "Reef", "depth_m": None, "minutes": None}
        spare = {"trip": 1, "item": "jacket", "number": "11"}
        log.append_all(DAY, [("day_planned", {"date": "2026-05-04", "trips": 1, "divers": 3}),
                             ("trip_planned", trip), *divers, ("spare_planned", spare)], CHECK.digest)  # fmt: skip


class Guide(KeyboardEars):
    """Types what the record does not hold yet; what was done is not said again."""

    def __init__(self, log: Log, reached: Reached) -> None:
        super().__init__(lambda prompt: self._line)
        self._log, self._reached, self._line, self._turns = log, reached, "", 0

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        self._turns += 1
        if self._turns > MOST_TURNS:
            raise SystemExit(f"the guide asks in circles, at {expects}")
        self._line = "" if expects.kind == "nothing" else self._say(expects, list(day_entries(self._log, DAY)))
        fact = super().hear(expects, expected)
        if expects.kind != "nothing":
            self._reached("before decide")
        return fact

    def _say(self, expects: Expects, kept: list[Entry]) -> str:
        kinds = Counter(entry.kind for entry in kept)
        called = [entry.facts["place"] for entry in kept if entry.kind == "diver_called"]
        if expects.kind == "group":
            return self._between(kept, kinds, "diver one" if 1 in called else "diver two")
        if expects.kind != "step":
            return {"replacement": "swapped number eleven", "confirm": "yes that's right"}[expects.kind]
        if called[-1] == 2 and kinds["answered"] == 1 and 1 not in called:
            return "diver one"
        if called[-1] == 1 and expects.step_id == "fins" and not kinds["kit_exchanged"]:
            return "swap the jacket with diver two"
        return "inflator sticks" if expects.step_id == "inflator" and not kinds["set_apart"] else GOOD[expects.step_id]

    def _between(self, kept: list[Entry], kinds: Counter[str], current: str) -> str:
        if not kinds["diver_taken_off"]:
            return "take diver three off the trip" if kinds["kit_exchanged"] else current
        if kinds["verdict_given"] < 2:
            return "next diver"
        return "leave the group" if kept[-1].kind == "boat_judged" else "is the boat ready"


class Mouth:
    """Speaks into a pipe: how many events the record must hold once these words are heard."""

    def __init__(self, log: Log, reached: Reached, pipe: int) -> None:
        self._log, self._reached, self._pipe = log, reached, pipe

    def say(self, text: str) -> None:
        self._reached("before speech")
        os.write(self._pipe, f"{self._log.last_seq()}\n".encode())
        self._reached("during speech")


def lead(store: Path, reached: Reached, pipe: int) -> str:
    """Lead the group until the guide leaves, or to the kill."""
    log = KillingLog(store, device="victim", wall=lambda: datetime.now(UTC), monotonic=time.monotonic)
    with log:
        plan(log)
        log.reached = reached  # type: ignore[method-assign]
        parts = Parts(log, Guide(log, reached), Mouth(log, reached, pipe), Watcher(), EXPECTED, shipped_replies("en"))
        outing = Outing(DAY, 1, CHECK, AFTER)
        return "ready" if Boat(outing, parts, lambda: f"check-{log.last_seq()}").run() else "hold"


def doings(store: Path) -> list[tuple[object, ...]]:
    """Answers and the group's doings in order, each with whose check it is in."""
    with Reader(store) as reader:
        kept = list(day_entries(reader, DAY))
    of = {entry.facts["check"]: entry.facts["place"] for entry in kept if entry.kind == "diver_called"}
    return [(entry.kind, of.get(entry.session), *(entry.facts.get(name) for name in FACTS))
            for entry in kept if entry.kind in ONCE]  # fmt: skip


def try_point(folder: Path, place: int, whole: list[tuple[object, ...]]) -> Counter[str]:
    """Kill there, look at the store, go on, and look again."""
    store, counts = folder / f"{place}.db", Counter({"kills": 1})
    status, acknowledged, passed = in_child(store, place, lead)
    counts[f"killed {passed[-1]}"] += 1
    counts["not killed"] += not os.WIFSIGNALED(status)
    counts["acknowledged"] += acknowledged
    with Reader(store) as reader:
        counts["lost"] += reader.last_seq() < acknowledged
        before = list(reader.entries())
    kept = doings(store)
    counts["doubled"] += kept != whole[: len(kept)]
    status, _, _ = in_child(store, None, lead)
    counts["not ready"] += status != 0
    counts["wrong record"] += doings(store) != whole
    with Reader(store) as reader:
        counts["changed"] += list(reader.entries())[: len(before)] != before
        counts["unverified"] += not reader.verify().ok
        counts["resumed"] += any(entry.kind == "continued" for entry in reader.entries())
    return counts


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--every", type=int, default=1, help="try only every so many-th point")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        status, _, passed = in_child(folder / "whole.db", None, lead)
        if status:
            raise SystemExit("the morning that nobody kills does not end with the boat ready")
        whole = doings(folder / "whole.db")
        counts: Counter[str] = Counter({"points": len(passed), "doings": len(whole)})
        for place in range(0, len(passed), options.every):
            counts += try_point(folder, place, whole)
    wrong = ("not killed", "lost", "doubled", "not ready", "wrong record", "changed", "unverified")
    found = {**counts, **{each: counts[each] for each in wrong}}
    print(json.dumps(found))
    return int(any(found[each] for each in wrong))


if __name__ == "__main__":
    sys.exit(main())
