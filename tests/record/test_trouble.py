"""SQLite's result codes told as ours. Codes: SQLite documentation, "Result and Error Codes"."""

from __future__ import annotations

import sqlite3
from errno import EACCES, EIO, ENOSPC
from pathlib import Path

import pytest

from assistant.errors import StoreBusy, StoreDamaged, StoreError, StoreFull
from assistant.record.trouble import telling, told

CODES = [
    ("SQLITE_FULL", 13, StoreFull),
    ("SQLITE_IOERR", 10, StoreFull),
    ("SQLITE_IOERR_FSYNC", 1034, StoreFull),
    ("SQLITE_IOERR_WRITE", 778, StoreFull),
    ("SQLITE_IOERR_READ", 266, StoreDamaged),
    ("SQLITE_IOERR_SHORT_READ", 522, StoreDamaged),
    ("SQLITE_CORRUPT", 11, StoreDamaged),
    ("SQLITE_CORRUPT_INDEX", 779, StoreDamaged),
    ("SQLITE_NOTADB", 26, StoreDamaged),
    ("SQLITE_ERROR", 1, StoreDamaged),
    ("no code at all", 0, StoreDamaged),
    ("SQLITE_BUSY", 5, StoreBusy),
    ("SQLITE_BUSY_SNAPSHOT", 517, StoreBusy),
    ("SQLITE_LOCKED", 6, StoreBusy),
    ("SQLITE_READONLY", 8, StoreError),
    ("SQLITE_READONLY_ROLLBACK", 776, StoreError),
    ("SQLITE_CANTOPEN", 14, StoreError),
    ("SQLITE_CONSTRAINT", 19, StoreError),
]


@pytest.mark.parametrize(("code", "kind"), [row[1:] for row in CODES], ids=[row[0] for row in CODES])
def test_a_code_becomes_one_error_with_a_mend(code: int, kind: type[StoreError]) -> None:
    error = sqlite3.OperationalError("something")
    error.sqlite_errorcode = code
    found = told(error, Path("record.db"))
    assert type(found) is kind
    assert "record.db" in str(found)
    assert found.mend


SYSTEM = [("no space", ENOSPC, StoreFull), ("bad disk", EIO, StoreFull), ("not allowed", EACCES, StoreError)]


@pytest.mark.parametrize(("number", "kind"), [row[1:] for row in SYSTEM], ids=[row[0] for row in SYSTEM])
def test_the_systems_errors_too(number: int, kind: type[StoreError]) -> None:
    with pytest.raises(kind) as caught, telling(Path("record.db")):
        raise OSError(number, "x")
    assert type(caught.value) is kind
    assert caught.value.mend
