"""The views for people: as rows for the command line, and in a plain SQLite shell."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.record import REMOVED, AnswerRow, CheckRow, FaultRow, Log, Personal, Reader, SwapRow

DIGEST = "d" * 64
NOON = "2026-05-04 12:00:"


def test_checks(kept: Log) -> None:
    started, verdict = NOON + "00", NOON + "12"
    worn, reasons = "jacket 7, mask unmarked", "no_spare skirt (mask); open fins x"
    row = CheckRow("a", started, verdict, "rental", "Ines", worn, "hold", reasons, 4, 1, None, "box-1")
    assert kept.checks() == [row]


def test_answers(kept: Log) -> None:
    sticks = ("fault", "sticks", "inflator sticks", "voice", None, None, "jacket", "7", None)
    stops = ("passed", None, "it stops")
    full = ("passed", None, "two hundred bar", "voice", 200, "bar", None, None, None)
    assert kept.answers() == [
        AnswerRow(4, "a", NOON + "03", "inflator", *sticks),
        AnswerRow(7, "a", NOON + "06", "inflator", *stops, "voice", None, None, "jacket", "9", "yes"),
        AnswerRow(9, "a", NOON + "08", "inflator", *stops, "typed", None, None, "jacket", "9", None),
        AnswerRow(10, "a", NOON + "09", "pressure", *full),
    ]


def test_faults(kept: Log) -> None:
    sticks = ("sticks", "sticks", "inflator sticks", "jacket", "7", "jacket 7", None)
    assert kept.faults() == [FaultRow(4, "a", NOON + "03", "inflator", *sticks)]


def test_swaps(kept: Log) -> None:
    assert kept.swaps() == [
        SwapRow(6, "a", NOON + "05", "jacket", "replaced", "7", "9", None),
        SwapRow(11, "a", NOON + "10", "mask", "no spare", None, None, None),
    ]


def test_rows_of_one_check_only(kept: Log) -> None:
    kept.append_all("b", [("answered", {"step": "seal", "outcome": "fault", "code": "torn"})], DIGEST)
    assert [row.event for row in kept.answers("b")] == [14]
    assert [row.event for row in kept.faults("b")] == [14]
    assert [row.event for row in kept.faults()] == [4, 14]
    assert kept.swaps("b") == []


ODD: list[tuple[str, str, dict[str, object]]] = [
    ("no facts", "answered", {}),
    ("items are a list", "answered", {"items": ["jacket"]}),
    ("items are nothing", "answered", {"items": None}),
    ("step is a mapping", "answered", {"step": {"id": "x"}, "outcome": ["fault"]}),
    ("reasons are a word", "verdict_given", {"reasons": "all"}),
    ("reasons within reasons", "verdict_given", {"reasons": [["a"], {"x": 1}, None]}),
    ("diver is odd", "check_started", {"diver": {"personal": None}}),
    ("diver is a list", "check_started", {"diver": ["x"]}),
    ("replaced without item", "replaced", {}),
    ("unknown kind", "boat_sank", {"step": "x"}),
    ("work of an odd job", "withdrawn", {"item": {"x": 1}, "what": ["answered"]}),
    ("carried is a word", "day_signed", {"carried": "all", "who": {"personal": None}}),
]


@pytest.mark.parametrize(("kind", "facts"), [row[1:] for row in ODD], ids=[row[0] for row in ODD])
def test_odd_facts_break_no_view(kept: Log, kind: str, facts: dict[str, object]) -> None:
    kept.append_all("b", [("check_started", {}), (kind, facts)], DIGEST)
    assert "b" in [row.check for row in kept.checks()]
    assert kept.answers()[0].event == 4
    assert kept.faults()[0].event == 4
    assert kept.swaps()[0].event == 6
    assert len(rows(kept, "repairs")) == 1


WITHDRAWN: list[tuple[str, list[str], list[str | None]]] = [
    ("none", ["answered x", "answered y"], [None, None]),
    ("the last", ["answered x", "withdrawn x"], ["yes"]),
    ("another step", ["answered x", "answered y", "withdrawn x"], ["yes", None]),
    ("the later of two", ["answered x", "answered x", "withdrawn x"], [None, "yes"]),
    ("another act of the step", ["answered x", "withdrawn x left_open"], [None]),
    ("then answered anew", ["answered x", "withdrawn x", "answered x"], ["yes", None]),
]


@pytest.mark.parametrize(("events", "expected"), [row[1:] for row in WITHDRAWN], ids=[row[0] for row in WITHDRAWN])
def test_withdrawn_answers_are_marked(
    open_log: Callable[..., Log], events: list[str], expected: list[str | None]
) -> None:
    log = open_log()
    for kind, step, *what in (event.split() for event in events):
        facts = {"step": step, "outcome": "fault", "code": "c", "what": what[0] if what else "answered"}
        log.append_all("a", [(kind, facts)], DIGEST)
    assert [row.withdrawn for row in log.answers()] == expected
    assert [row.withdrawn for row in log.faults()] == expected


SWAPPED: list[tuple[str, list[dict[str, object]], list[str | None], str]] = [
    ("swapped", [{"new": "8"}], [None], "8"),
    ("swapped twice", [{"new": "8"}, {"new": "9"}], [None, None], "9"),
    ("swapped for an unmarked one", [{"new": None}], [None], "unmarked"),
    ("taken back", [{"new": "8"}, {}], ["yes"], "7"),
    ("the later taken back", [{"new": "8"}, {"new": "9"}, {}], [None, "yes"], "8"),
]


@pytest.mark.parametrize(("acts", "withdrawn", "worn"), [s[1:] for s in SWAPPED], ids=[s[0] for s in SWAPPED])
def test_an_answer_names_the_item_then_worn(
    open_log: Callable[..., Log], acts: list[dict[str, object]], withdrawn: list[str | None], worn: str
) -> None:
    log = open_log()
    log.append_all("a", [("check_started", {"items": {"jacket": "7"}})], DIGEST)
    for act in acts:
        kind, what = ("replaced", {}) if act else ("withdrawn", {"what": "replaced", "step": ""})
        log.append_all("a", [(kind, {"item": "jacket", **act, **what})], DIGEST)
    log.append_all("a", [("asked", {"step": "dump", "item": "jacket"}), ("answered", {"step": "dump"})], DIGEST)
    assert [row.withdrawn for row in log.swaps()] == withdrawn
    assert [(row.item, row.number) for row in log.answers()] == [("jacket", worn)]


ENDINGS: list[tuple[str, list[str], tuple[str | None, str | None]]] = [
    ("given", ["verdict_given"], ("ready", None)),
    ("a note after it", ["verdict_given", "noted"], ("ready", None)),
    ("taken back", ["verdict_given", "withdrawn", "asked"], (None, None)),
    ("taken back and given again", ["verdict_given", "withdrawn", "asked", "verdict_given"], ("ready", None)),
    ("stopped", ["stopped"], (None, "yes")),
    ("stop taken back", ["stopped", "withdrawn", "asked"], (None, None)),
    ("stopped after the verdict was taken back", ["verdict_given", "withdrawn", "stopped"], (None, "yes")),
    ("going on", ["asked"], (None, None)),
]


@pytest.mark.parametrize(("kinds", "expected"), [row[1:] for row in ENDINGS], ids=[row[0] for row in ENDINGS])
def test_only_a_verdict_that_stands_is_shown(
    open_log: Callable[..., Log], kinds: list[str], expected: tuple[str | None, str | None]
) -> None:
    log = open_log()
    for kind in ["check_started", *kinds]:
        log.append_all("a", [(kind, {"verdict": "ready"} if kind == "verdict_given" else {})], DIGEST)
    row = log.checks()[0]
    assert (row.verdict, row.stopped) == expected
    assert (row.verdict_utc is None) == (row.verdict is None)
    assert log.sessions()[0].finished == (expected != (None, None))


def shop_evening(log: Log) -> None:
    """Jacket 7, event 5, is repaired and goes back; the check's point is carried over, and the day is signed off."""
    who, job = {"who": Personal("Martha")}, {"job": 5, "item": "jacket", "number": "7"}
    day = {"day": "2026-05-04", **who}
    records: list[tuple[str, dict[str, object]]] = [
        ("work_noted", {**job, "found": "Sand.", "done": "Cleaned.", "parts": "", **who}),
        ("bench_checked", {**job, "outcome": "passed", "note": "", **who}),
        ("returned_to_rental", {**job, **who}),
        ("set_apart", {"item": "mask", "number": None, "why": "Strap.", **who}),
        ("point_carried", {"check": "a", "note": "Tomorrow.", **day}),
        ("day_signed", {"checks": 1, "carried": ["a"], **day}),
    ]
    for record in records:
        log.append_all("shop", [record], "")


def trip_morning(log: Log) -> None:
    """Two boats of a day: one judged on hold, then ready; of the other nobody asked."""
    dive: dict[str, object] = {"depth_m": 18.0, "minutes": 35.0}
    kit: dict[str, object] = {"items": {}, "water_l": 12.0}
    hold: dict[str, object] = {"trip": 1, "verdict": "hold", "gas": None}
    records: list[tuple[str, dict[str, object]]] = [
        ("day_planned", {"date": "2026-05-04", "file_digest": "f" * 64, "trips": 2, "divers": 3}),
        ("trip_planned", {"trip": 1, "name": "North reef", **dive}),
        ("diver_planned", {"trip": 1, "place": 1, "diver": Personal("Martha"), **kit}),
        ("diver_planned", {"trip": 1, "place": 2, "diver": Personal("4"), **kit}),
        ("trip_planned", {"trip": 2, "name": "Sand bay", "depth_m": None, "minutes": None}),
        ("diver_planned", {"trip": 2, "place": 1, "diver": Personal("5"), **kit}),
        ("boat_judged", hold),
        ("boat_judged", {**hold, "verdict": "ready", "gas": {"place": 2, "minutes": 39.6, "short": []}}),
    ]
    log.append_all("day-1", records, "")


def rows(log: Log, view: str) -> list[tuple[object, ...]]:
    """All that a view shows, without the times."""
    log._db.conn.row_factory = sqlite3.Row
    found = [dict(row) for row in log._db.execute(f"SELECT * FROM {view}")]
    return [tuple(value for name, value in row.items() if name[-4:] != "_utc" and value is not None) for row in found]


def test_repairs(kept: Log) -> None:
    shop_evening(kept)
    assert rows(kept, "repairs") == [
        (5, 5, "jacket", "7", "set apart", "inflator: sticks", "a"),
        (14, 5, "jacket", "7", "worked on", "Sand.", "Cleaned.", "Martha"),
        (15, 5, "jacket", "7", "bench check", "passed", "Martha"),
        (16, 5, "jacket", "7", "back in rental", "Martha"),
        (17, 17, "mask", "unmarked", "set apart", "Strap.", "Martha"),
    ]


def test_sign_offs(kept: Log) -> None:
    shop_evening(kept)
    assert rows(kept, "sign_offs") == [
        (18, "2026-05-04", "point carried over", "a", "Tomorrow.", "Martha"),
        (19, "2026-05-04", "day signed off", 1, 1, "Martha"),
    ]


def test_trips(kept: Log) -> None:
    trip_morning(kept)
    assert rows(kept, "trips") == [
        (15, "2026-05-04", "North reef", 18.0, 35.0, "Martha, 4", "ready", 40.0),
        (18, "2026-05-04", "Sand bay", "5"),
    ]
    kept.remove_words("Martha")
    assert rows(kept, "trips")[0][5] == f"{REMOVED}, 4"


def test_a_removed_name_is_gone_from_both(kept: Log) -> None:
    shop_evening(kept)
    kept.remove_words("Martha")
    assert {row[-1] for view in ("repairs", "sign_offs") for row in rows(kept, view)[1:]} == {REMOVED}


APART: list[tuple[str, list[str], list[str | None]]] = [
    ("stands", ["set_apart jacket"], [None]),
    ("taken back", ["set_apart jacket", "withdrawn jacket"], ["yes"]),
    ("the later of two", ["set_apart jacket", "set_apart jacket", "withdrawn jacket"], [None, "yes"]),
    ("another item", ["set_apart jacket", "withdrawn mask"], [None]),
]


@pytest.mark.parametrize(("events", "expected"), [row[1:] for row in APART], ids=[row[0] for row in APART])
def test_what_was_set_apart_by_mistake_is_marked(
    open_log: Callable[..., Log], events: list[str], expected: list[str | None]
) -> None:
    log = open_log()
    for kind, item in (event.split() for event in events):
        log.append_all("a", [(kind, {"item": item, "number": "7", "step": "s", "code": "c"})], DIGEST)
    assert [withdrawn for (withdrawn,) in log._db.execute("SELECT withdrawn FROM repairs")] == expected


SHELL = {
    "checks": "check started_utc verdict_utc title diver items_at_start verdict reasons answers faults stopped device",
    "answers": "event check answered_utc step outcome fault said given_by reading unit item number withdrawn",
    "faults": "event check found_utc step fault code said item number set_apart withdrawn",
    "swaps": "event check swapped_utc item what old_number new_number withdrawn",
    "repairs": "event done_utc job item number what why found done parts outcome note who check withdrawn",
    "sign_offs": "event done_utc day what check note checks carried_over who",
    "trips": "event day trip depth_m minutes divers boat judged_utc gas_minutes",
}


@pytest.mark.skipif(not shutil.which("sqlite3"), reason="needs the sqlite3 shell")
@pytest.mark.parametrize("view", list(SHELL))
def test_a_plain_shell_reads_well(kept: Log, store: Path, view: str) -> None:
    shop_evening(kept)
    trip_morning(kept)
    kept.close()
    shell = ["sqlite3", "-readonly", "-csv", "-header", str(store), f"SELECT * FROM {view}"]
    lines = subprocess.run(shell, check=True, capture_output=True, text=True).stdout.splitlines()
    assert lines[0].replace(",", " ") == SHELL[view]
    assert len(lines) > 1
    assert not any("{" in line for line in lines)


def test_a_view_is_read_only(kept: Log) -> None:
    with pytest.raises(Exception, match="cannot modify answers because it is a view"):
        kept._db.execute("DELETE FROM answers")


def test_a_reader_sees_the_same_rows(kept: Log, store: Path) -> None:
    with Reader(store) as reader:
        assert reader.checks() == kept.checks()
