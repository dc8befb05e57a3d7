"""A planned day in the record: several sessions in one transaction, read back in order; what is off the rail."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from assistant.errors import BadInput
from assistant.record import Log, Part, day_entries, off_the_rail, planned_days

DAY = ("day_planned", {"date": "2026-05-04", "file_digest": "f" * 64, "trips": 1, "divers": 1})
CALLED = ("diver_called", {"trip": 1, "place": 1, "check": "c1", "after_dive": False})


def apart(item: str, number: str | None) -> tuple[str, dict[str, Any]]:
    return "set_apart", {"item": item, "number": number, "step": "hoses", "code": "hose_cut"}


def back(item: str) -> tuple[str, dict[str, Any]]:
    return "withdrawn", {"what": "answered", "step": "hoses", "item": item}


RETURNED = ("returned_to_rental", {"item": "jacket", "number": "7", "who": "Lise"})


@pytest.mark.parametrize(
    ("sessions", "expected"),
    [
        ([("a", [apart("jacket", "7")])], {("jacket", "7")}),
        ([("a", [apart("jacket", None)])], set()),
        ([("a", [apart("jacket", "7"), back("jacket")])], set()),
        ([("a", [apart("jacket", "7"), back("")])], {("jacket", "7")}),
        ([("a", [apart("jacket", "7")]), ("b", [back("jacket")])], {("jacket", "7")}),
        ([("a", [apart("jacket", "7")]), ("shop", [RETURNED])], set()),
        ([("a", [apart("jacket", "7")]), ("shop", [RETURNED]), ("b", [apart("jacket", "7")])], {("jacket", "7")}),
        ([("a", [apart("jacket", "7"), apart("jacket", "9"), back("jacket")])], {("jacket", "7")}),
        ([("a", [apart("jacket", None), back("jacket"), apart("mask", "7")]), ("s", [RETURNED])], {("mask", "7")}),
    ],
    ids=["apart", "unmarked", "taken back", "an answer taken back", "taken back elsewhere", "returned", "again",
         "only the last", "another item"],
)  # fmt: skip
def test_off_the_rail(open_log: Callable[..., Log], sessions: list[tuple[str, Any]], expected: set[Any]) -> None:
    log = open_log()
    for session, records in sessions:
        log.append_all(session, records, "")
    assert off_the_rail(log) == expected


def test_a_day_is_read_with_its_checks_in_order(open_log: Callable[..., Log]) -> None:
    log = open_log()
    log.append_all("day-1", [DAY], "")
    log.append_all("other", [("check_started", {})], "")
    log.append_together([Part("day-1", [CALLED]), Part("c1", [("check_started", {"diver": "Ines"})], "d" * 64)])
    log.append_all("day-1", [("diver_taken_off", {"trip": 1, "place": 1})], "")
    assert [(e.session, e.session_seq, e.kind) for e in day_entries(log, "day-1")] == [
        ("day-1", 1, "day_planned"), ("day-1", 2, "diver_called"), ("c1", 1, "check_started"),
        ("day-1", 3, "diver_taken_off"),
    ]  # fmt: skip
    assert [(e.sequence_digest, e.facts.get("diver")) for e in log.entries("c1")] == [("d" * 64, "Ines")]
    assert [(row.session, row.date, row.divers) for row in planned_days(log)] == [("day-1", "2026-05-04", 1)]
    assert log.verify().ok


def test_several_sessions_are_kept_wholly_or_not_at_all(open_log: Callable[..., Log]) -> None:
    log = open_log()
    log.append_all("day-1", [DAY], "")
    with pytest.raises(BadInput):
        log.append_together([Part("day-1", [CALLED]), Part("c1", [("check_started", {"pressure": float("nan")})])])
    assert [entry.kind for entry in log.entries()] == ["day_planned"]
    assert log.append_together([Part("day-1", [])]) == []
