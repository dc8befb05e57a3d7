"""Any edit of the store is found and named: every field of an event, whole events, words, clips, guards."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from assistant.record import Clip, Damage, Log, Reader
from assistant.record.chain import FIELDS

DIGEST = "d" * 64

NEW_VALUES = {
    "session": "'b'",
    "session_seq": "99",
    "device": "'box-2'",
    "kind": "'asked '",
    "facts": "replace(facts, 'fault', 'passed')",
    "monotonic_us": "monotonic_us + 1",
    "wall_utc": "'2026-05-04T12:00:03.000001+00:00'",
    "boot": "'0000000000000002'",
    "sequence_digest": "upper(sequence_digest)",
    "prev_hash": "replace(prev_hash, 'a', 'b')",
    "hash": "upper(hash)",
}


def test_every_field_has_a_row_here() -> None:
    # seq is moved, not edited, in the rows further down
    assert set(NEW_VALUES) == {*FIELDS, "hash"} - {"seq"}


@pytest.mark.parametrize("field", sorted(NEW_VALUES))
def test_an_edited_field_names_its_event(
    kept: Log, store: Path, behind_its_back: Callable[..., None], field: str
) -> None:
    kept.close()
    behind_its_back(f"UPDATE event SET {field} = {NEW_VALUES[field]} WHERE seq = 4")
    with Reader(store) as reader:
        report = reader.verify()
    assert report.first == Damage(4, "event 4 does not match its own hash: it was changed")


OTHER_TABLES = "the store's tables, views or guards are not those that kitcall makes"
STRIKES = [
    ("one removed", ("DELETE FROM event WHERE seq = 5",), Damage(5, "event 5 is missing")),
    ("first removed", ("DELETE FROM event WHERE seq = 1",), Damage(1, "event 1 is missing")),
    (
        "last removed",
        ("DELETE FROM event WHERE seq = 13",),
        Damage(13, "the end was cut off: 13 events were recorded, 1 are gone"),
    ),
    (
        "all removed",
        ("DELETE FROM event",),
        Damage(1, "the end was cut off: 13 events were recorded, 13 are gone"),
    ),
    ("moved to the end", ("UPDATE event SET seq = 14 WHERE seq = 5",), Damage(5, "event 5 is missing")),
    (
        "two exchanged",
        (
            "UPDATE event SET seq = 99 WHERE seq = 5",
            "UPDATE event SET seq = 5 WHERE seq = 6",
            "UPDATE event SET seq = 6 WHERE seq = 99",
        ),
        Damage(5, "event 5 does not match its own hash: it was changed"),
    ),
    (
        "one put in",
        (
            "INSERT INTO event SELECT 14, session, 14, device, kind, facts, 0, wall_utc, boot, '', hash, hash"
            " FROM event WHERE seq = 13",
        ),
        Damage(14, "event 14 does not match its own hash: it was changed"),
    ),
    ("a view gone", ("DROP VIEW faults",), Damage(None, OTHER_TABLES)),
    (
        "a migration renamed",
        ("UPDATE migration SET name = 'x'",),
        Damage(None, "the list of migrations is not the one that kitcall writes"),
    ),
]


@pytest.mark.parametrize(("statements", "first"), [row[1:] for row in STRIKES], ids=[row[0] for row in STRIKES])
def test_a_struck_store_is_named(
    kept: Log, store: Path, behind_its_back: Callable[..., None], statements: tuple[str, ...], first: Damage
) -> None:
    kept.close()
    behind_its_back(*statements)
    with Reader(store) as reader:
        assert reader.verify().first == first


def test_a_guard_taken_off_is_named(kept: Log, store: Path) -> None:
    kept.close()
    with closing(sqlite3.connect(store)) as conn:
        conn.execute("DROP TRIGGER event_never_changes")
    with Reader(store) as reader:
        assert [damage.seq for damage in reader.verify().damages] == [None]


def test_a_rewritten_end_is_named_by_the_receipt(kept: Log, open_log: Callable[..., Log], store: Path) -> None:
    """The last events removed and others appended by kitcall itself: the chain alone holds."""
    kept.close()
    with closing(sqlite3.connect(store)) as conn:
        guard = conn.execute("SELECT sql FROM sqlite_schema WHERE name = 'event_never_goes'").fetchone()[0]
        conn.execute("DROP TRIGGER event_never_goes")
        conn.execute("DELETE FROM event WHERE seq > 11")
        conn.execute(guard)
        conn.commit()
    again = open_log()
    again.append_all("a", [("verdict_given", {"verdict": "READY"}), ("noted", {})], DIGEST)
    assert again.verify().damages == (Damage(13, "event 13 is not the one that was recorded under this number"),)


def test_changed_words_and_clips_are_named(kept: Log, store: Path, behind_its_back: Callable[..., None]) -> None:
    clip = Clip(b"RIFFvoice", 16000, 1.5)
    kept.append_all("a", [("noted", {"clip": clip.digest})], DIGEST, clips=[clip])
    kept.close()
    behind_its_back("UPDATE personal SET text = 'Otto'", "UPDATE clip SET wav = x'00'")
    with Reader(store) as reader:
        digest = reader._db.execute("SELECT digest FROM personal").fetchone()[0]
        assert reader.verify().damages == (
            Damage(None, f"the personal words {digest} were changed"),
            Damage(None, f"the voice note {clip.digest} was changed"),
        )
