"""The store's tables: migrations as data, each applied with its own record in one transaction.

A migration that has shipped never changes. A store written by a newer kitcall is
refused before anything is touched; so is a file that is no kitcall record.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils import Database

from assistant.errors import StoreDamaged, StoreError, StoreNewer
from assistant.record.shop_views import VIEWS_2, VIEWS_4
from assistant.record.trouble import CUT_SHORT, MEND_DAMAGED, telling
from assistant.record.views import VIEWS_1

APPLICATION_ID = 0x6B697463  # "kitc" in the file's header, offset 68
BUSY_S = 2.0


@dataclass(frozen=True, slots=True)
class Migration:
    """One step of the schema; `version` becomes the store's user_version."""

    version: int
    name: str
    statements: tuple[str, ...]


MIGRATIONS = (
    Migration(
        1,
        "the log, what is kept apart, and the views for people",
        (
            "CREATE TABLE migration (version INTEGER PRIMARY KEY, name TEXT NOT NULL) STRICT",
            """CREATE TABLE event (
    seq INTEGER PRIMARY KEY,
    session TEXT NOT NULL,
    session_seq INTEGER NOT NULL,
    device TEXT NOT NULL,
    kind TEXT NOT NULL,
    facts TEXT NOT NULL,
    monotonic_us INTEGER NOT NULL,
    wall_utc TEXT NOT NULL,
    boot TEXT NOT NULL,
    sequence_digest TEXT NOT NULL,
    prev_hash TEXT NOT NULL,
    hash TEXT NOT NULL,
    UNIQUE (session, session_seq)
) STRICT""",
            "CREATE INDEX event_kind ON event (kind, session)",
            "CREATE TABLE personal (digest TEXT PRIMARY KEY, salt BLOB NOT NULL, text TEXT NOT NULL) STRICT",
            """CREATE TABLE clip (
    digest TEXT PRIMARY KEY,
    wav BLOB NOT NULL,
    rate_hz INTEGER NOT NULL,
    seconds REAL NOT NULL
) STRICT""",
            """CREATE TRIGGER event_never_changes BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'the log is append-only: a correction is a new event'); END""",
            """CREATE TRIGGER event_never_goes BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'the log is append-only: a correction is a new event'); END""",
            *VIEWS_1,
        ),
    ),
    Migration(2, "the shop's work as views for people", VIEWS_2),
    Migration(3, "a name found by index", ("CREATE INDEX personal_text ON personal (text COLLATE NOCASE)",)),
    Migration(4, "the trips as a view for people", VIEWS_4),
)
NEWEST = MIGRATIONS[-1].version


def connect(path: Path, *, write: bool) -> Database:
    """A connection to the store. Reading never changes the file; it works while another process writes."""
    mode = "rwc" if write else "ro"
    # no implicit transactions: sqlite-utils' atomic() begins and ends each one
    conn = sqlite3.connect(f"{path.absolute().as_uri()}?mode={mode}", uri=True, timeout=BUSY_S, isolation_level=None)
    try:
        return Database(conn, execute_plugins=False)
    except BaseException:
        conn.close()
        raise


def harden(db: Database, path: Path) -> None:
    """WAL and FULL for this connection, read back. Raises StoreError where the disk cannot do it."""
    wanted = {"journal_mode": "wal", "synchronous": 2, "secure_delete": 1, "cell_size_check": 1}
    for name, value in wanted.items():
        db.execute(f"PRAGMA {name}={value}").fetchall()
        got = pragma(db, name)
        if got != value:
            mend = "Keep the record on a local disk (ext4 or the like), not on a network share."
            raise StoreError(f"{path} cannot be kept safely: {name} is {got}, not {value}.", mend)


def pragma(db: Database, name: str) -> object:
    return db.execute(f"PRAGMA {name}").fetchone()[0]


def examine(db: Database, path: Path) -> int:
    """The store's schema version; 0 for an empty file. Reads only.

    Raises StoreNewer, StoreDamaged, or StoreError for a file that is no kitcall record.
    """
    version = int(str(pragma(db, "user_version")))
    tables = set(db.table_names())
    if not tables and version == 0:
        return 0
    known = {"event", "migration"} <= tables
    if not known and pragma(db, "application_id") != APPLICATION_ID:
        raise StoreError(f"{path} is not a kitcall record.", "Name another file, or move this one away.")
    applied = db.execute("SELECT max(version) FROM migration").fetchone()[0] if known else None
    if applied != version or pragma(db, "application_id") != APPLICATION_ID:
        raise StoreDamaged(f"The head of the record {path} is damaged.", MEND_DAMAGED)
    if version > NEWEST:
        mend = "Update kitcall, or name another record; this one was left as it is."
        raise StoreNewer(f"{path} was written by a newer kitcall (form {version}; this one knows {NEWEST}).", mend)
    return version


def migrate(db: Database, version: int) -> None:
    """Applies what is missing after `version`; each migration wholly or not at all."""
    for migration in MIGRATIONS:
        if migration.version > version:
            apply(db, migration)


def apply(db: Database, migration: Migration) -> None:
    with db.atomic():
        for statement in migration.statements:
            db.execute(statement)
        db.execute("INSERT INTO migration VALUES (?, ?)", (migration.version, migration.name))
        db.execute(f"PRAGMA application_id={APPLICATION_ID}")
        db.execute(f"PRAGMA user_version={migration.version}")


def statements(db: Database) -> dict[str, str]:
    """The SQL of every table, index, trigger and view that the store has, by name."""
    rows = db.execute("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL")
    return {str(name): str(sql) for name, sql in rows}


def expected_statements(version: int) -> dict[str, str]:
    """The same for a store that kitcall would write new, at that version."""
    with Database(memory=True, execute_plugins=False) as db:
        for migration in MIGRATIONS[:version]:
            apply(db, migration)
        return statements(db)


def open_reading(path: Path) -> Database:
    """A read-only connection to a store of a version that we know. Raises as `examine`, or StoreError."""
    if not path.is_file():
        raise StoreError(f"There is no record at {path}.", "Run a check first, or name the file.")
    with telling(path):
        db = connect(path, write=False)
        try:
            if examine(db, path) == 0:
                raise StoreError(f"The record {path} is empty.", "Run a check first, or name another file.")
        except BaseException:
            db.close()
            raise
        return db


def open_writing(path: Path) -> Database:
    """A hardened connection to the store, made or migrated where needed. Raises StoreError and its kin."""
    with telling(path):
        version = _examined(path)
        db = connect(path, write=True)
        try:
            harden(db, path)
            migrate(db, version)
        except BaseException:
            db.close()
            raise
        return db


def _examined(path: Path) -> int:
    if not path.exists() or path.stat().st_size == 0:
        return 0
    try:
        with closing(connect(path, write=False)) as db:
            return examine(db, path)
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode not in CUT_SHORT:
            raise
    # power went while the store was first made: only a writer can undo what was begun
    with closing(connect(path, write=True)) as db:
        return examine(db, path)
