"""Copies of the record: whole while it is written, read back, restored by one call; nothing is ever overwritten."""

from __future__ import annotations

import hashlib
import itertools
import os
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from assistant.errors import StoreBusy, StoreDamaged, StoreError, StoreFull
from assistant.record import Log, Reader, backup
from assistant.record.backup import back_up, restore

DIGEST = "d" * 64


def noon() -> datetime:
    return datetime(2026, 5, 4, 12, 0, tzinfo=UTC)


def events(path: Path) -> list[tuple[int, str, str]]:
    with Reader(path) as reader:
        return [(entry.seq, entry.kind, entry.hash) for entry in reader.entries()]


def test_a_copy_is_the_record_and_says_so(kept: Log, store: Path, tmp_path: Path) -> None:
    """By sha256sum and by the sqlite3 library alone, not only by our own reader."""
    made = back_up(store, tmp_path / "stick", noon)
    assert made.path == tmp_path / "stick/box-1-20260504T120000Z.db"
    assert events(made.path) == events(store)
    assert made.sha256 == hashlib.sha256(made.path.read_bytes()).hexdigest()
    sums = subprocess.run(
        ["sha256sum", "--check", made.path.name + ".sha256"], cwd=made.path.parent, capture_output=True, check=False
    )
    assert sums.returncode == 0
    with closing(sqlite3.connect(f"file:{made.path}?mode=ro&immutable=1", uri=True)) as conn:
        assert conn.execute("SELECT count(*) FROM event").fetchone() == (made.events,)
        assert conn.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert sorted(path.name for path in made.path.parent.iterdir()) == [
        made.path.name, made.path.name + ".head", made.path.name + ".sha256"
    ]  # fmt: skip


def test_a_second_copy_gets_its_own_name(kept: Log, store: Path, tmp_path: Path) -> None:
    names = [back_up(store, tmp_path, noon).path.name for _ in range(3)]
    assert names == [f"box-1-20260504T120000Z{end}.db" for end in ("", "-2", "-3")]


WRITER = """
import sys, time
from datetime import UTC, datetime
from pathlib import Path
from assistant.record import Log
with Log(Path(sys.argv[1]), device="box-1", wall=lambda: datetime.now(UTC), monotonic=time.monotonic) as log:
    for number in range(100_000):
        log.append_all("w", [("answered", {"n": number, "text": "x" * 2000})], "d")
        print(number, flush=True)
"""


def test_copies_while_another_process_writes(kept: Log, store: Path, tmp_path: Path) -> None:
    """Every copy holds, is a first part of the record, and holds whatever was acknowledged before it began."""
    kept.close()
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(store)], stdout=subprocess.PIPE, text=True, env=environment
    )
    acknowledged = itertools.count()
    latest = [-1]
    assert writer.stdout is not None

    def follow() -> None:
        for line in writer.stdout or ():
            latest[0] = int(line)
            next(acknowledged)

    first = writer.stdout.readline()
    assert first.strip() == "0"
    reading = threading.Thread(target=follow)
    reading.start()
    try:
        copies = []
        for number in range(8):
            before = latest[0]
            copies.append((before, back_up(store, tmp_path / str(number), noon)))
    finally:
        writer.kill()
        writer.wait()
        reading.join()
        writer.stdout.close()
    whole = events(store)
    for before, made in copies:
        assert events(made.path) == whole[: made.events]
        assert made.events >= 13 + before + 1
    assert copies[-1][1].events > copies[0][1].events  # it was written meanwhile


def test_restored_in_place_of_a_lost_record(
    kept: Log, store: Path, tmp_path: Path, open_log: Callable[..., Log]
) -> None:
    before = events(store)
    made = back_up(store, tmp_path / "stick", noon)
    kept.close()
    for path in store.parent.iterdir():
        path.unlink()
    report, old = restore(made.path, store, noon)
    assert (report.ok, report.count, old) == (True, 13, None)
    log = open_log(after_s=500)
    log.append_all("b", [("continued", {})], DIGEST)
    assert events(store)[:13] == before
    assert log.verify().ok


def test_the_store_in_its_way_is_set_aside(
    kept: Log, store: Path, tmp_path: Path, open_log: Callable[..., Log]
) -> None:
    made = back_up(store, tmp_path / "stick", noon)
    kept.append_all("b", [("noted", {"what": "after the copy"})], DIGEST)
    with pytest.raises(StoreBusy):
        restore(made.path, store, noon)
    kept.close()
    longer = events(store)
    _, old = restore(made.path, store, noon)
    assert old is not None
    assert (len(events(old)), len(longer), len(events(store))) == (14, 14, 13)
    with Reader(store) as reader:
        assert reader.verify().ok
    assert open_log(after_s=600).append_all("c", [("continued", {})], DIGEST)[0].seq == 14


@pytest.mark.parametrize("place", ["middle", "header", "cut"])
def test_a_broken_copy_is_not_restored(kept: Log, store: Path, tmp_path: Path, place: str) -> None:
    made = back_up(store, tmp_path / "stick", noon)
    kept.close()
    data = bytearray(made.path.read_bytes())
    if place == "cut":
        data = data[: len(data) // 2]
    else:
        at = data.index(b'"heard":"inflator sticks"') if place == "middle" else 40
        data[at + 9] ^= 1
    made.path.write_bytes(data)
    before = store.read_bytes()
    with pytest.raises(StoreError):
        restore(made.path, store, noon)
    assert store.read_bytes() == before


def test_a_copy_of_a_broken_record_is_kept_and_said(kept: Log, store: Path, tmp_path: Path) -> None:
    kept.close()
    data = bytearray(store.read_bytes())
    data[data.index(b'"heard":"inflator sticks"') + 9] ^= 1
    store.write_bytes(data)
    with pytest.raises(StoreDamaged, match="event 4 does not match its own hash"):
        back_up(store, tmp_path / "stick", noon)
    kept_names = sorted(path.name for path in (tmp_path / "stick").iterdir())
    assert kept_names == ["box-1-20260504T120000Z.db.damaged", "box-1-20260504T120000Z.db.damaged.head"]


def test_a_medium_that_loses_bytes_is_noticed(
    kept: Log, store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = backup._copy_pages

    def copy_badly(source: Path, part: Path) -> None:
        whole(source, part)
        data = bytearray(part.read_bytes())
        data[data.index(b'"heard":"inflator sticks"') + 9] ^= 1
        part.write_bytes(data)

    monkeypatch.setattr(backup, "_copy_pages", copy_badly)
    with pytest.raises(StoreDamaged, match="does not hold"):
        back_up(store, tmp_path / "stick", noon)
    assert not list((tmp_path / "stick").glob("*.db"))


def test_no_place_says_what_to_do_and_leaves_nothing(kept: Log, store: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StoreError) as refused:
        back_up(store, tmp_path / "file", noon)
    assert refused.value.mend
    full = Path("/dev/full")
    if full.exists():
        with pytest.raises((StoreFull, StoreError)):
            back_up(store, full, noon)
    assert events(store)[-1][0] == 13
