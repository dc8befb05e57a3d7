"""READY or HOLD from hand-made records: each reason, their order, and what withdrawals undo."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from assistant.check.steps import Check
from assistant.check.turns import Record
from assistant.check.verdict import RANKS, Reason, judge

BEGUN: tuple[str, dict[str, str]] = ("check_started", {})
HOSES = ("answered", {"step": "hoses", "outcome": "passed"})
INFLATOR = ("answered", {"step": "inflator", "outcome": "passed"})
DUMP = ("answered", {"step": "dump", "outcome": "passed"})
NO_DUMP = ("answered", {"step": "dump", "outcome": "absent"})
NO_HOSES = ("answered", {"step": "hoses", "outcome": "absent"})
STICKS = ("answered", {"step": "inflator", "outcome": "fault", "code": "sticks"})
STIFF = ("answered", {"step": "dump", "outcome": "fault", "code": "stiff"})
APART = ("set_apart", {"item": "jacket", "number": "1", "step": "inflator", "code": "sticks"})
SWAPPED = ("replaced", {"item": "jacket", "old": "1", "new": "2"})
NO_SPARE = ("no_spare", {"item": "jacket"})
STOPPED = ("stopped", {"step": "", "item": ""})


def back(what: str, step: str = "", item: str = "") -> tuple[str, dict[str, str]]:
    return ("withdrawn", {"what": what, "step": step, "item": item})


GOOD = (BEGUN, HOSES, INFLATOR, DUMP)
OPEN_INFLATOR = Reason("open_critical", "inflator", "jacket")
OPEN_DUMP = Reason("open", "dump", "jacket")
UNCHECKED = (Reason("unchecked", "inflator", "jacket"), Reason("unchecked", "dump", "jacket"))
STUCK = Reason("fault_critical", "inflator", "jacket", "sticks")
ROWS: dict[str, tuple[tuple[Any, ...], tuple[Reason, ...]]] = {
    "all passed": (GOOD, ()),
    "absent where it may": ((BEGUN, HOSES, INFLATOR, NO_DUMP), ()),
    "absent where it may not": (
        (BEGUN, NO_HOSES, INFLATOR, DUMP), (Reason("fault_critical", "hoses", "set"),)),
    "not begun": (GOOD[1:], (Reason("not_started"),)),
    "nothing": ((BEGUN,), (Reason("open_critical", "hoses", "set"), OPEN_INFLATOR, OPEN_DUMP)),
    "one open": (GOOD[:3], (OPEN_DUMP,)),
    "worst first": (
        (BEGUN, STICKS, STIFF, STOPPED),
        (STUCK, Reason("open_critical", "hoses", "set"), Reason("fault", "dump", "jacket", "stiff"),
         Reason("stopped"))),
    "set apart": (
        (BEGUN, HOSES, STICKS, APART, DUMP), (STUCK, Reason("no_spare", item="jacket"))),
    "set apart, though every step is passed": ((*GOOD, APART), (Reason("no_spare", item="jacket"),)),
    "no spare": (
        (BEGUN, HOSES, STICKS, APART, NO_SPARE, DUMP), (STUCK, Reason("no_spare", item="jacket"))),
    "swapped, unchecked": ((BEGUN, HOSES, DUMP, STICKS, APART, SWAPPED), UNCHECKED),
    "swapped, half checked": ((BEGUN, HOSES, DUMP, STICKS, APART, SWAPPED, INFLATOR), UNCHECKED[1:]),
    "swapped, checked": ((BEGUN, HOSES, DUMP, STICKS, APART, SWAPPED, INFLATOR, DUMP), ()),
    "stopped": ((*GOOD, STOPPED), (Reason("stopped"),)),
    "stop taken back": ((*GOOD, STOPPED, back("stopped")), ()),
    "a pass taken back": ((*GOOD, back("answered", "dump")), (OPEN_DUMP,)),
    "a pass taken back, with the one before": ((*GOOD, DUMP, back("answered", "dump")), (OPEN_DUMP,)),
    "a fault taken back with what it set apart": (
        (BEGUN, HOSES, STICKS, APART, back("answered", "inflator", "jacket"), INFLATOR, DUMP), ()),
    "a swap taken back": (
        (BEGUN, HOSES, DUMP, STICKS, APART, SWAPPED, back("replaced", item="jacket")),
        (STUCK, Reason("no_spare", item="jacket"))),
    "a missing spare taken back, then swapped": (
        (BEGUN, HOSES, STICKS, APART, NO_SPARE, back("no_spare", item="jacket"), SWAPPED, INFLATOR, DUMP), ()),
    "a fault after a pass": ((*GOOD, STIFF), (Reason("fault", "dump", "jacket", "stiff"),)),
    "a pass after a fault": ((BEGUN, HOSES, INFLATOR, STIFF, DUMP), ()),
}  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_reasons(row: str, kits: Mapping[str, Check]) -> None:
    records, reasons = ROWS[row]
    verdict = judge(kits["swaps"], [(Record(kind, facts), 0.0) for kind, facts in records], 0.0)
    assert (verdict.ready, verdict.reasons) == (not reasons, reasons)


@pytest.mark.parametrize(
    ("at_s", "now_s", "ready"),
    [(0.0, 0.0, True), (0.0, 1000.0, True), (0.0, 1000.1, False), (60.0, 0.0, True), (60.1, 0.0, False)],
    ids=["now", "just valid", "too old", "a clock a minute off", "from the future"],
)
def test_age(at_s: float, now_s: float, ready: bool, kits: Mapping[str, Check]) -> None:
    verdict = judge(kits["swaps"], [(Record(kind, facts), at_s) for kind, facts in GOOD], now_s)
    assert verdict.ready == ready
    assert {reason.kind for reason in verdict.reasons} == (set() if ready else {"expired"})


def test_every_reason_has_a_reply(replies: Mapping[str, str]) -> None:
    assert [rank for rank in RANKS if f"reason_{rank}" not in replies] == []


@pytest.mark.parametrize(("judged", "ready"), [({}, False), ({"judged": "bad"}, False), ({"judged": "good"}, True)],
                         ids=["unjudged", "bad", "good"])  # fmt: skip
def test_where_a_number_is_needed_only_a_good_one_passes(
    judged: dict[str, str], ready: bool, kits: Mapping[str, Check]
) -> None:
    records = [BEGUN, ("answered", {"step": "pressure", "outcome": "passed", **judged})]
    assert judge(kits["readings"], [(Record(kind, dict(facts)), 0.0) for kind, facts in records], 0.0).ready == ready
