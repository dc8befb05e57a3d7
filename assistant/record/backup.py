"""Copies of the record: made while it is being written, read back from the medium, and restored by one call.

A copy is one SQLite file and its receipts, named after the device and the time. It counts only once what lies on the
medium was read back, byte for byte, and its chain holds. Nothing is ever overwritten: a copy gets a new name, and a
store that a copy replaces is set aside first.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from assistant.errors import StoreDamaged
from assistant.record import folder, receipts, schema
from assistant.record.aside import set_aside
from assistant.record.chain import Report
from assistant.record.lock import Lock
from assistant.record.read import Reader
from assistant.record.trouble import telling

PAGES = 200  # copied at a time, so that the writer waits for milliseconds
PART = ".part"
MEND_COPY = "Try another stick; the record itself is as it was."


@dataclass(frozen=True, slots=True)
class Backup:
    """A copy that was read back: where it lies, how many events it holds, their head hash, and the file's SHA-256."""

    path: Path
    events: int
    head: str
    sha256: str


def back_up(store: Path, into: Path, wall: Callable[[], datetime]) -> Backup:
    """Copy the store at `store` into the folder `into`; it may be written meanwhile, by this or another process.

    Raises StoreFull (the stick is full), StoreDamaged (the copy does not hold: it is kept, its name ends in
    .damaged, and the trouble is the store's own or the stick's), StoreError (no such folder, or read-only).
    Checked by tests/record/test_backup.py.
    """
    name = f"{_device(store)}-{wall().astimezone(UTC):%Y%m%dT%H%M%SZ}.db"
    target, part = _free(into / name), into / f"{name}{PART}"
    with telling(into):
        folder.make(into)
        noted = receipts.place(store).read_bytes() if receipts.place(store).exists() else b""  # before: none is ahead
        try:
            _copy_pages(store, part)
            (into / f"{part.name}.head").write_bytes(noted)
            digest = _read_back(part)
        except BaseException:
            _drop(part)
            raise
    return _judged(part, target, digest)


def restore(backup: Path, store: Path, wall: Callable[[], datetime]) -> tuple[Report, Path | None]:
    """Put the copy at `backup` in the place of the store; what was there is set aside, never deleted.

    Returns the copy's report and where the old store lies now. Raises StoreDamaged (the copy does not hold; nothing
    was changed), StoreBusy (a kitcall is running: end it first), StoreError.
    """
    _refuse_changed(backup)
    report = _report(backup)
    if not report.ok:
        raise StoreDamaged(f"The copy {backup} does not hold: {report.damages[0].what}.", "Restore another copy.")
    with telling(store):
        folder.make(store.parent)
        lock = Lock(store)
        try:
            part = store.with_name(store.name + PART)
            _take_copy(backup, part)
            old = set_aside(store, wall()) if store.exists() else None
            # the store first: receipts that a power cut leaves without it would say "cut off" of the next one
            os.replace(part, store)
            os.replace(receipts.place(part), receipts.place(store))
            folder.sync(store.parent)
        finally:
            lock.release()
    return report, old


def _copy_pages(store: Path, part: Path) -> None:
    """SQLite's own online backup, https://www.sqlite.org/backup.html; then one file, without a log beside it."""
    _drop(part)
    with closing(schema.open_reading(store)) as source, closing(sqlite3.connect(part, isolation_level=None)) as target:
        target.execute("PRAGMA synchronous=FULL")
        source.conn.backup(target, pages=PAGES, sleep=0.01)
        target.execute("PRAGMA journal_mode=DELETE").fetchall()
    folder.sync(part)


def _read_back(part: Path) -> str:
    """The file's SHA-256 as the medium has it: what the system kept in memory is dropped first, where it can be."""
    digest = hashlib.sha256()
    with part.open("rb") as file:
        os.fsync(file.fileno())
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        while piece := file.read(1 << 20):
            digest.update(piece)
    return digest.hexdigest()


def _judged(part: Path, target: Path, digest: str) -> Backup:
    report = _report(part)
    if report.damages:
        target = target.with_name(target.name + ".damaged")
    with telling(target):
        os.replace(receipts.place(part), receipts.place(target))
        os.replace(part, target)
        folder.sync(target.parent)
    if report.damages:
        said = f"The copy does not hold: {report.damages[0].what}. It is kept as {target}."
        raise StoreDamaged(said, "Run: kitcall log verify. It tells whether the record or the stick is broken.")
    with telling(target):
        target.with_name(target.name + ".sha256").write_text(f"{digest}  {target.name}\n", encoding="ascii")
        folder.sync(target.with_name(target.name + ".sha256"))
        folder.sync(target.parent)
    return Backup(target, report.count, report.head, digest)


def _refuse_changed(backup: Path) -> None:
    sums = backup.with_name(backup.name + ".sha256")
    if not sums.exists():
        return
    with telling(backup):
        noted = sums.read_text(encoding="ascii", errors="replace").split(" ")[0]
        if _read_back(backup) != noted:
            raise StoreDamaged(f"The copy {backup} is not the file that was written.", "Restore another copy.")


def _report(path: Path) -> Report:
    with Reader(path) as reader:
        return reader.verify()


def _take_copy(backup: Path, part: Path) -> None:
    _drop(part)
    shutil.copyfile(backup, part)
    beside = receipts.place(backup)
    receipts.place(part).write_bytes(beside.read_bytes() if beside.exists() else b"")
    for path in (part, receipts.place(part)):
        folder.sync(path)
    if not _report(part).ok:
        raise StoreDamaged(f"The copy {backup} could not be copied whole.", MEND_COPY)


def _drop(part: Path) -> None:
    for end in ("", ".head", "-journal"):
        with suppress(FileNotFoundError):
            part.with_name(part.name + end).unlink()


def _device(store: Path) -> str:
    """The writer's name as the last event has it, fit for a file name on any stick."""
    with telling(store), closing(schema.open_reading(store)) as db:
        last = db.execute("SELECT device FROM event ORDER BY seq DESC LIMIT 1").fetchone()
    return re.sub(r"[^A-Za-z0-9]+", "-", last[0] if last else "").strip("-")[:40] or "kitcall"


def _free(path: Path) -> Path:
    stem, number = path.stem, 1
    while path.exists():
        number += 1
        path = path.with_name(f"{stem}-{number}{path.suffix}")
    return path
