"""The ledger against the log's own views, which count independently; followed in one go or event by event."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from assistant.record import Ledger, Log, Reader
from assistant.record.day_rows import checks_where, faults_where
from assistant.record.season_rows import faults_by_kind

ZONE = ZoneInfo("Europe/Athens")
DIGEST = "d" * 64
START = ("check_started", {"check": "rental", "diver": "Ann", "items": {"jacket": "7", "regulator": "12"}})
ASKED = ("asked", {"what": "step", "step": "inflator", "item": "jacket", "because": ""})
AGAIN = ("asked", {"what": "step", "step": "inflator", "item": "jacket", "because": "doubt"})
PASS = ("answered", {"step": "inflator", "outcome": "passed", "heard": "inflator works and shuts off"})
STICKS = ("answered", {"step": "inflator", "outcome": "fault", "code": "sticks", "heard": "inflator sticks"})
APART = ("set_apart", {"item": "jacket", "number": "7", "step": "inflator", "code": "sticks"})
SWAP = ("replaced", {"item": "jacket", "old": "7", "new": "9"})
NO_SWAP = ("withdrawn", {"what": "replaced", "step": "", "item": "jacket"})
NO_ANSWER = ("withdrawn", {"what": "answered", "step": "inflator", "item": ""})
NO_FAULT = ("withdrawn", {"what": "answered", "step": "inflator", "item": "jacket"})
READY = ("verdict_given", {"verdict": "ready", "reasons": []})
HOLD = ("verdict_given", {"verdict": "hold", "reasons": [{"kind": "fault", "step": "inflator", "code": "sticks"}]})
STOP = ("stopped", {})

Event = tuple[str, Mapping[str, object]]
ROWS: list[tuple[str, list[Event]]] = [
    ("good", [START, ASKED, PASS, READY]),
    ("fault and swap", [START, ASKED, STICKS, APART, SWAP, ASKED, PASS, READY]),
    ("fault taken back", [START, ASKED, STICKS, APART, NO_FAULT, ASKED, PASS, READY]),
    ("answer taken back", [START, ASKED, PASS, NO_ANSWER, ASKED, STICKS, APART, HOLD]),
    ("swap taken back", [START, ASKED, STICKS, APART, SWAP, NO_SWAP, HOLD]),
    ("verdict taken back", [START, ASKED, PASS, READY, NO_ANSWER, ASKED, STICKS, APART, HOLD]),
    ("verdict taken back and left", [START, ASKED, PASS, READY, NO_ANSWER, ASKED]),
    ("stopped", [START, ASKED, STOP]),
    ("stop taken back", [START, ASKED, STOP, ("withdrawn", {"what": "stopped"}), ASKED]),
    ("stopped after a verdict", [START, ASKED, PASS, READY, STOP]),
    ("asked again", [START, ASKED, ("doubted", {"step": "inflator"}), AGAIN, PASS, READY]),
    ("odd facts", [START, ("answered", {}), ("asked", {"step": 7}), ("set_apart", {}), ("boat_sank", {}), HOLD]),
]


@pytest.fixture(params=["in one go", "event by event"])
def followed(
    request: pytest.FixtureRequest, open_log: Callable[..., Log], store: Path
) -> Callable[[list[Event]], Ledger]:
    def follow(events: list[Event]) -> Ledger:
        log = open_log()
        ledger = Ledger(store, ZONE)
        for kind, facts in events:
            log.append_all("a", [(kind, facts)], DIGEST)
            if request.param == "event by event":
                ledger.follow()
        ledger.follow()
        request.addfinalizer(ledger.close)
        return ledger

    return follow


@pytest.mark.parametrize("events", [row[1] for row in ROWS], ids=[row[0] for row in ROWS])
def test_the_ledger_agrees_with_the_views(
    followed: Callable[[list[Event]], Ledger], events: list[Event], store: Path
) -> None:
    ledger = followed(events)
    with Reader(store) as reader:
        check = reader.checks()[0]
        line = checks_where(ledger, "true", ())[0]
        assert (line.session, line.who, line.verdict or None, line.answers) == (
            check.check, check.diver, check.verdict, check.answers,
        )  # fmt: skip
        assert line.stopped == (check.stopped == "yes")
        standing = [row for row in reader.faults() if not row.withdrawn]
        lines = [each for each in faults_where(ledger, "true", ()) if not each.withdrawn]
        assert [(e.seq, e.step, e.code, e.item, e.number) for e in reversed(lines)] == [
            (row.event, row.step, row.code, row.item, row.number) for row in standing
        ]
        swaps = [row for row in reader.swaps() if not row.withdrawn]
        assert line.swaps == len(swaps)
    assert line.faults == len(lines) == sum(kind.total for kind in faults_by_kind(ledger, ["2026-05"]))
