"""One bit of the store file flipped at seeded places: refused, or named by verify, or nobody's byte.

"Nobody's byte" is told by content: everything the store holds (each row of each
table, the schema, both header marks) reads exactly as before the flip.
"""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from assistant.errors import StoreError
from assistant.record import Clip, Log, Reader

DIGEST = "d" * 64
SEED, PLACES = 20260504, 50


@pytest.fixture
def whole(kept: Log, store: Path) -> bytes:
    """The bytes of a closed store with a few hundred events, a name and a clip."""
    for n in range(60):
        kept.append_all("b", [("asked", {"n": n, "prompt": "Look along each hose."})] * 4, DIGEST)
    clip = Clip(bytes(range(256)) * 60, 16000, 0.5)
    kept.append_all("b", [("noted", {"clip": clip.digest})], DIGEST, clips=[clip])
    kept.close()
    return store.read_bytes()


def content(path: Path) -> list[object]:
    tables = ("sqlite_schema", "migration", "event", "personal", "clip")
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as conn:
        rows = [conn.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall() for table in tables]
        marks = [conn.execute(f"PRAGMA {name}").fetchall() for name in ("user_version", "application_id")]
    return [*rows, *marks]


def outcome(path: Path, before: list[object]) -> str:
    """What kitcall says about the store: refused, named, unused, or missed."""
    try:
        with Reader(path) as reader:
            report = reader.verify()
    except StoreError as error:
        return "refused" if error.mend else "missed"
    if not report.ok:
        return "named"
    return "unused" if content(path) == before else "missed"


def flipped(whole: bytes, place: int, bit: int) -> bytes:
    return whole[:place] + bytes([whole[place] ^ (1 << bit)]) + whole[place + 1 :]


def test_flips_at_seeded_places(whole: bytes, store: Path) -> None:
    before, dice = content(store), random.Random(SEED)
    outcomes = []
    for _ in range(PLACES):
        place, bit = dice.randrange(len(whole)), dice.randrange(8)
        store.write_bytes(flipped(whole, place, bit))
        outcomes.append((place, bit, outcome(store, before)))
    counts = {kind: sum(row[2] == kind for row in outcomes) for kind in ("refused", "named", "unused", "missed")}
    assert [row for row in outcomes if row[2] == "missed"] == []
    assert counts["named"] >= PLACES // 2, counts  # else the places were not in use and nothing was tested


def test_flips_in_every_byte_of_the_file_header(whole: bytes, store: Path) -> None:
    before = content(store)
    missed = []
    for place in range(100):  # the 100-byte header: SQLite documentation, "Database File Format", 1.3
        store.write_bytes(flipped(whole, place, place % 8))
        if outcome(store, before) == "missed":
            missed.append(place)
    assert missed == []


def test_damaged_names_in_the_schema(whole: bytes, store: Path) -> None:
    """SQLite quotes a damaged name in its message; no UTF-8 any more, that broke Python's reading of the message."""
    before, missed = content(store), []
    for name in (b"event_kind", b"CREATE INDEX", b"indexevent", b"tableevent", b"personal", b"viewanswers"):
        for place in (whole.index(name), whole.index(name) + len(name) - 1):
            store.write_bytes(flipped(whole, place, 7))
            if outcome(store, before) not in ("refused", "named"):
                missed.append(name)
    assert missed == []


def test_a_flip_in_the_write_ahead_log_loses_no_silence(
    open_log: Callable[..., Log], store: Path, tmp_path: Path
) -> None:
    """SQLite drops WAL frames from the first wrong checksum on; the receipts then show what is gone."""
    log = open_log()
    for n in range(20):
        log.append_all("a", [("answered", {"n": n})], DIGEST)
    copy = tmp_path / "copy.db"
    for end in ("", "-wal", ".head"):
        copy.with_name(copy.name + end).write_bytes(store.with_name(store.name + end).read_bytes())
    wal = copy.with_name(copy.name + "-wal")
    data = wal.read_bytes()
    wal.write_bytes(flipped(data, len(data) // 2, 3))
    with Reader(copy) as reader:
        report = reader.verify()
    assert report.first is not None
    assert "the end was cut off: 20 events were recorded" in report.first.what
