"""SQLite's errors, told as ours: what is wrong and what the guide should do.

Result codes: SQLite's documentation, "Result and Error Codes" (tests/record/test_trouble.py).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from errno import EDQUOT, EIO, ENOSPC
from pathlib import Path

from assistant.errors import StoreBusy, StoreDamaged, StoreError, StoreFull

# our SQL never changes: an error in it, or text that is no UTF-8 (no code), means that the tables are not ours
DAMAGED = {0, sqlite3.SQLITE_ERROR, sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
UNREADABLE = {
    sqlite3.SQLITE_IOERR_READ,
    sqlite3.SQLITE_IOERR_SHORT_READ,
    sqlite3.SQLITE_IOERR_CORRUPTFS,
}
CUT_SHORT = {sqlite3.SQLITE_READONLY_ROLLBACK, sqlite3.SQLITE_READONLY_RECOVERY}
MEND_DAMAGED = "See what is left: kitcall log verify. Then keep it apart and begin a new one: kitcall log set-aside."
MEND_FULL = "Free some space or change the card, then say the last answer again: it was not recorded."


def told(error: sqlite3.Error | OSError, path: Path) -> StoreError:
    """The StoreError that says this about the store at `path`."""
    if isinstance(error, OSError):
        return _told_by_system(error, path)
    code = getattr(error, "sqlite_errorcode", 0) or 0
    primary = code & 0xFF
    if primary in DAMAGED or code in UNREADABLE:
        return StoreDamaged(f"The record {path} cannot be read: {error}.", MEND_DAMAGED)
    if primary == sqlite3.SQLITE_FULL:
        return StoreFull(f"No space is left for the record {path}.", MEND_FULL)
    if primary == sqlite3.SQLITE_IOERR:
        return StoreFull(f"The disk refused to write the record {path}: {error}.", MEND_FULL)
    if primary in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return StoreBusy(f"Another program is writing to {path}.", "Close it, then say the last answer again.")
    if code in CUT_SHORT:
        mend = "Start a check once: that puts it right. Then read again."
        return StoreError(f"The record {path} was left in the middle of a change.", mend)
    if primary in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return StoreError(f"The record {path} cannot be opened for writing: {error}.", _MEND_PLACE)
    return StoreError(
        f"The record {path} refused: {error}.", "Say the last answer again; if it stays, restart kitcall."
    )


_MEND_PLACE = "Check that its folder exists, is on a writable disk, and belongs to the user who runs kitcall."


def _told_by_system(error: OSError, path: Path) -> StoreError:
    if error.errno in (ENOSPC, EDQUOT, EIO):
        return StoreFull(f"No space is left (or the disk fails) beside the record {path}: {error}.", MEND_FULL)
    return StoreError(f"The place of the record {path} cannot be used: {error}.", _MEND_PLACE)


@contextmanager
def telling(path: Path) -> Iterator[None]:
    """Runs the block; SQLite's and the system's errors come out as StoreError."""
    try:
        yield
    except (sqlite3.Error, OSError) as error:
        raise told(error, path) from error
    except UnicodeDecodeError as error:  # SQLite's message quotes a damaged name, and Python cannot read the message
        raise StoreDamaged(f"The record {path} cannot be read: it holds broken text.", MEND_DAMAGED) from error
