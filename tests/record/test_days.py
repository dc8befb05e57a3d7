"""A planned day in the record: several sessions in one transaction, read back in order; what is off the rail."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from assistant.errors import BadInput
from assistant.record import Log, Part, day_entries, planned_days, rail_entries

DAY = ("day_planned", {"date": "2026-05-04", "file_digest": "f" * 64, "trips": 1, "divers": 1})
CALLED = ("diver_called", {"trip": 1, "place": 1, "check": "c1", "after_dive": False})


def apart(item: str, number: str | None) -> tuple[str, dict[str, Any]]:
    return "set_apart", {"item": item, "number": number, "step": "hoses", "code": "hose_cut"}


def back(item: str) -> tuple[str, dict[str, Any]]:
    return "withdrawn", {"what": "answered", "step": "hoses", "item": item}


RETURNED = ("returned_to_rental", {"item": "jacket", "number": "7", "who": "Lise"})


def test_the_rail_is_read_from_the_whole_record(open_log: Callable[..., Log]) -> None:
    log = open_log()
    log.append_all("old", [apart("jacket", "7"), back("jacket")], "")
    log.append_all("day-1", [DAY], "")
    log.append_all("shop", [RETURNED], "")
    whole = [("old", "set_apart"), ("old", "withdrawn"), ("shop", "returned_to_rental")]
    assert [(e.session, e.kind) for e in rail_entries(log)] == whole
    assert [(e.session, e.kind) for e in rail_entries(log, "day-1")] == whole[:2]
    assert [(e.session, e.kind) for e in day_entries(log, "day-1")] == [("day-1", "day_planned"), whole[2]]


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
