"""What append_all promises: one transaction, durable, in order, or nothing at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from assistant.errors import BadInput, StoreDamaged, StoreError
from assistant.record import Log, Reader, SessionRow
from assistant.record.schema import NEWEST

DIGEST = "d" * 64


def test_an_entry_has_all_its_fields(open_log: Callable[..., Log]) -> None:
    log = open_log()
    first, second = log.append_all("a", [("asked", {"step": "hoses"}), ("asked", {"step": "seal"})], DIGEST)
    third = log.append_all("b", [("asked", {"step": "hoses"})], DIGEST)[0]
    rows = [
        (e.seq, e.session, e.session_seq, e.device, e.kind, e.facts, e.monotonic_s, e.wall_utc, e.boot)
        for e in (first, second, third)
    ]
    early, late = "2026-05-04T12:00:00.000000+00:00", "2026-05-04T12:00:01.000000+00:00"
    boot = "0000000000000001"
    assert rows == [
        (1, "a", 1, "box-1", "asked", {"step": "hoses"}, 100.0, early, boot),
        (2, "a", 2, "box-1", "asked", {"step": "seal"}, 100.0, early, boot),
        (3, "b", 1, "box-1", "asked", {"step": "hoses"}, 101.0, late, boot),
    ]
    assert [e.prev_hash for e in (first, second, third)] == ["0" * 64, first.hash, second.hash]
    assert {e.sequence_digest for e in (first, second, third)} == {DIGEST}


def test_what_was_returned_is_what_is_read(kept: Log, open_log: Callable[..., Log], store: Path) -> None:
    returned = kept.append_all("a", [("asked", {"step": "mask", "diver": "Ines"})], DIGEST)
    kept.close()
    with Reader(store) as reader:
        assert list(reader.entries(after=13)) == returned
    assert list(open_log().entries(after=13)) == returned


def test_the_chain_goes_on_after_reopening(kept: Log, open_log: Callable[..., Log]) -> None:
    kept.close()
    again = open_log()
    entry = again.append_all("a", [("continued", {})], DIGEST)[0]
    assert (entry.seq, entry.session_seq) == (14, 14)
    assert again.verify().ok


def test_no_records_no_event(open_log: Callable[..., Log]) -> None:
    log = open_log()
    assert log.append_all("a", [], DIGEST) == []
    assert list(log.entries()) == []


def test_entries_of_one_session_and_after(open_log: Callable[..., Log]) -> None:
    log = open_log()
    for session in ("a", "b", "a", "b"):
        log.append_all(session, [("asked", {"of": session})], DIGEST)
    assert [e.seq for e in log.entries()] == [1, 2, 3, 4]
    assert [e.seq for e in log.entries("b")] == [2, 4]
    assert [e.seq for e in log.entries("b", after=2)] == [4]
    assert [e.seq for e in log.entries("never")] == []


def test_reading_goes_over_pages_and_while_writing(open_log: Callable[..., Log]) -> None:
    log = open_log()
    log.append_all("a", [("asked", {"n": n}) for n in range(1201)], DIGEST)
    seen = []
    for entry in log.entries():
        seen.append(entry.seq)
        if entry.seq == 1:
            log.append_all("a", [("asked", {"n": 1201})], DIGEST)
    assert seen == list(range(1, 1203))


UNRECORDABLE: list[tuple[str, dict[str, object]]] = [
    ("not a number", {"value": float("nan")}),
    ("infinite", {"value": float("inf")}),
    ("bytes", {"clip": b"RIFF"}),
    ("half a letter", {"text": "\ud800"}),
    ("mixed keys", {"items": {1: "a", "b": "c"}}),
]


@pytest.mark.parametrize("facts", [row[1] for row in UNRECORDABLE], ids=[row[0] for row in UNRECORDABLE])
def test_unrecordable_facts_are_refused_with_the_whole_answer(
    open_log: Callable[..., Log], facts: dict[str, object]
) -> None:
    log = open_log()
    with pytest.raises(BadInput, match="cannot be recorded"):
        log.append_all("a", [("asked", {}), ("answered", facts)], DIGEST)
    assert list(log.entries()) == []
    assert log.append_all("a", [("asked", {})], DIGEST)[0].seq == 1


class Stumbling:
    """A clock that fails in the middle of a transaction."""

    def __init__(self) -> None:
        self.fails = False

    def wall(self) -> datetime:
        if self.fails:
            raise RuntimeError("clock")
        return datetime(2026, 5, 4, 14, tzinfo=timezone(timedelta(hours=2)))


def test_a_failure_inside_leaves_nothing_and_the_log_goes_on(store: Path) -> None:
    clock = Stumbling()
    with Log(store, device="box", wall=clock.wall, monotonic=lambda: 0.5) as log:
        log.append_all("a", [("asked", {})], DIGEST)
        clock.fails = True
        with pytest.raises(RuntimeError, match="clock"):
            log.append_all("a", [("answered", {"diver": "Ines"})], DIGEST)
        clock.fails = False
        assert [e.kind for e in log.entries()] == ["asked"]
        entry = log.append_all("a", [("answered", {})], DIGEST)[0]
        assert (entry.seq, entry.wall_utc) == (2, "2026-05-04T12:00:00.000000+00:00")
        assert log.verify().ok


def test_a_transaction_left_open_does_not_swallow_the_next_answer(open_log: Callable[..., Log], store: Path) -> None:
    """sqlite-utils nests: inside an open transaction its commit would only release a savepoint."""
    log = open_log()
    log._db.execute("BEGIN")
    log._db.execute("INSERT INTO migration VALUES (99, 'stray')")
    log.append_all("a", [("asked", {})], DIGEST)
    assert not log._db.conn.in_transaction
    with closing(sqlite3.connect(store)) as other:
        assert other.execute("SELECT count(*) FROM event").fetchone() == (1,)
        assert other.execute("SELECT max(version) FROM migration").fetchone() == (NEWEST,)


CHANGES = [
    ("edit", "UPDATE event SET kind = 'x'"),
    ("removal", "DELETE FROM event"),
    ("replacement", "REPLACE INTO event SELECT * FROM event WHERE seq = 1"),
]


@pytest.mark.parametrize("statement", [row[1] for row in CHANGES], ids=[row[0] for row in CHANGES])
def test_the_store_itself_refuses_changes(kept: Log, statement: str) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        kept._db.execute(statement)
    assert kept.verify().ok


STORIES: list[tuple[str, list[tuple[str, str]], list[SessionRow], str | None]] = [
    ("empty", [], [], None),
    ("in the middle", [("a", "check_started"), ("a", "asked")], [SessionRow("a", 1, 2, 2, False)], "a"),
    ("stopped", [("a", "check_started"), ("a", "stopped")], [SessionRow("a", 1, 2, 2, True)], None),
    ("verdict", [("a", "check_started"), ("a", "verdict_given")], [SessionRow("a", 1, 2, 2, True)], None),
    (
        "a note after the verdict",
        [("a", "check_started"), ("a", "verdict_given"), ("a", "noted")],
        [SessionRow("a", 1, 3, 3, True)],
        None,
    ),
    (
        "answered again after the verdict",
        [("a", "check_started"), ("a", "verdict_given"), ("a", "asked")],
        [SessionRow("a", 1, 3, 3, False)],
        "a",
    ),
    (
        "the last check counts",
        [("a", "check_started"), ("b", "check_started"), ("b", "stopped")],
        [SessionRow("a", 1, 1, 1, False), SessionRow("b", 2, 3, 2, True)],
        None,
    ),
    ("no check at all", [("shop", "noted")], [SessionRow("shop", 1, 1, 1, False)], None),
]


@pytest.mark.parametrize(("events", "rows", "unfinished"), [s[1:] for s in STORIES], ids=[s[0] for s in STORIES])
def test_sessions_and_the_one_to_resume(
    open_log: Callable[..., Log], events: list[tuple[str, str]], rows: list[SessionRow], unfinished: str | None
) -> None:
    log = open_log()
    for session, kind in events:
        log.append_all(session, [(kind, {})], DIGEST)
    assert log.sessions() == rows
    assert log.unfinished() == unfinished


def test_a_changed_last_event_is_not_built_upon(
    kept: Log, open_log: Callable[..., Log], behind_its_back: Callable[..., None]
) -> None:
    kept.close()
    behind_its_back("UPDATE event SET facts = '{}' WHERE seq = 13")
    with pytest.raises(StoreDamaged, match="last event"):
        open_log()


def test_reading_what_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="There is no record") as caught:
        Reader(tmp_path / "no.db")
    assert caught.value.mend
    assert not (tmp_path / "no.db").exists()


def test_an_empty_log_verifies(open_log: Callable[..., Log]) -> None:
    report = open_log().verify()
    assert (report.ok, report.count, report.head) == (True, 0, "0" * 64)


def test_prove_writes_and_changes_nothing(open_log: Callable[..., Log], store: Path) -> None:
    """A synced write beside the log: its file grows, its events do not."""
    log = open_log()
    log.append_all("a", [("asked", {})], DIGEST)
    wal = store.with_name(store.name + "-wal")
    before = (wal.stat().st_size, [entry.hash for entry in log.entries()])
    log.prove()
    after = (wal.stat().st_size, [entry.hash for entry in log.entries()])
    assert (after[0] > before[0], after[1]) == (True, before[1])
    assert log.verify().ok
