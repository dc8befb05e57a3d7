"""Opening: what is refused and left untouched, what is set for each connection, how migrations go."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from sqlite_utils import Database

from assistant.errors import StoreDamaged, StoreError, StoreNewer
from assistant.record import Log, Reader, schema
from assistant.record.schema import APPLICATION_ID, Migration, apply, connect, examine, migrate, pragma

DIGEST = "d" * 64


def test_wal_and_full_hold_for_every_opening(open_log: Callable[..., Log]) -> None:
    for _ in range(2):
        log = open_log()
        names = ("journal_mode", "synchronous", "secure_delete", "user_version", "application_id")
        assert [pragma(log._db, name) for name in names] == ["wal", 2, 1, schema.NEWEST, APPLICATION_ID]
        log.close()


def test_a_disk_without_wal_is_refused() -> None:
    # a store in memory cannot be WAL, as a network share cannot
    with closing(Database(memory=True, execute_plugins=False)) as db, pytest.raises(StoreError, match="journal_mode"):
        schema.harden(db, Path("share.db"))


def newer(conn: sqlite3.Connection) -> None:
    conn.execute("INSERT INTO migration VALUES (?, 'from the future')", (schema.NEWEST + 1,))
    conn.execute(f"PRAGMA user_version = {schema.NEWEST + 1}")


def foreign(conn: sqlite3.Connection) -> None:
    for (name,) in conn.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall():
        conn.execute(f"DROP TABLE {name}")
    conn.execute("CREATE TABLE bookmarks (url TEXT)")
    conn.execute("PRAGMA application_id = 0")


REFUSED = [
    ("newer", newer, StoreNewer, "newer kitcall"),
    ("foreign", foreign, StoreError, "is not a kitcall record"),
    ("version up, no migration", lambda c: c.execute("PRAGMA user_version = 7"), StoreDamaged, "head of the record"),
    ("version gone", lambda c: c.execute("PRAGMA user_version = 0"), StoreDamaged, "head of the record"),
    ("mark gone", lambda c: c.execute("PRAGMA application_id = 1"), StoreDamaged, "head of the record"),
]


@pytest.mark.parametrize(("change", "kind", "said"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_a_refused_store_is_left_as_it_was(
    kept: Log,
    open_log: Callable[..., Log],
    store: Path,
    change: Callable[[sqlite3.Connection], None],
    kind: type[StoreError],
    said: str,
) -> None:
    kept.close()
    with closing(sqlite3.connect(store)) as conn:
        change(conn)
        conn.commit()
    before = store.read_bytes()
    openings: list[Callable[[], Reader]] = [open_log, lambda: Reader(store)]
    for opening in openings:
        with pytest.raises(kind, match=said) as caught:
            opening()
        assert type(caught.value) is kind
        assert caught.value.mend
    assert store.read_bytes() == before


def test_no_database_at_all(open_log: Callable[..., Log], store: Path) -> None:
    store.parent.mkdir()
    store.write_text("# my shopping list, long enough to be no header\n" * 40)
    with pytest.raises(StoreDamaged, match="cannot be read"):
        open_log()
    assert store.read_text().startswith("# my shopping")


def test_an_empty_file_becomes_a_store(open_log: Callable[..., Log], store: Path) -> None:
    store.parent.mkdir()
    store.touch()
    with pytest.raises(StoreError, match="is empty"):
        Reader(store)
    assert open_log().append_all("a", [("asked", {})], DIGEST)[0].seq == 1


def test_power_lost_while_the_store_was_first_made(open_log: Callable[..., Log], store: Path, tmp_path: Path) -> None:
    """A journal that must be rolled back lies beside a half-made file: reading cannot, the next start must."""
    store.parent.mkdir()
    with closing(sqlite3.connect(tmp_path / "made.db", isolation_level=None)) as conn:
        conn.execute("PRAGMA cache_size = 1")  # so that pages reach the file before the commit
        conn.execute("BEGIN")
        conn.execute("CREATE TABLE half (made TEXT)")
        conn.executemany("INSERT INTO half VALUES (?)", [("x" * 3000,)] * 50)
        for end in ("", "-journal"):
            copied = (tmp_path / f"made.db{end}").read_bytes()
            store.with_name(store.name + end).write_bytes(copied)
    with pytest.raises(StoreError, match="left in the middle of a change"):
        Reader(store)
    assert open_log().append_all("a", [("asked", {})], DIGEST)[0].seq == 1


NEXT = schema.NEWEST + 1
BREAKING = Migration(NEXT, "half of it fails", ("CREATE TABLE extra (n INTEGER)", "INSERT INTO nowhere VALUES (1)"))
GOOD = Migration(NEXT, "one more table", ("CREATE TABLE extra (n INTEGER)",))


def test_a_migration_is_whole_or_nothing(kept: Log, store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept.close()
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, BREAKING))
    with pytest.raises(StoreError):
        schema.open_writing(store)
    with closing(connect(store, write=False)) as db:
        assert (examine(db, store), "extra" in db.table_names()) == (NEXT - 1, False)


def test_an_older_store_is_brought_up_and_its_chain_holds(
    kept: Log, open_log: Callable[..., Log], store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept.close()
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, GOOD))
    monkeypatch.setattr(schema, "NEWEST", NEXT)
    log = open_log()
    names = [name for _, name in log._db.execute("SELECT version, name FROM migration ORDER BY version")]
    assert names == [step.name for step in schema.MIGRATIONS]
    log.append_all("a", [("continued", {})], DIGEST)
    assert log.verify().ok


def test_migrations_are_numbered_from_one_without_gaps() -> None:
    assert [step.version for step in schema.MIGRATIONS] == list(range(1, schema.NEWEST + 1))


def test_migrate_does_nothing_twice(tmp_path: Path) -> None:
    with closing(connect(tmp_path / "x.db", write=True)) as db:
        for step in schema.MIGRATIONS:
            apply(db, step)
        migrate(db, schema.NEWEST)
        assert db.execute("SELECT count(*) FROM migration").fetchone() == (schema.NEWEST,)


def test_a_store_of_the_first_form_gains_the_shops_views(tmp_path: Path, open_log: Callable[..., Log]) -> None:
    store = tmp_path / "old.db"
    with closing(connect(store, write=True)) as db:
        apply(db, schema.MIGRATIONS[0])
    with Reader(store) as reader:
        assert reader.verify().ok
    log = open_log(store)
    assert log._db.execute("SELECT count(*) FROM repairs").fetchone() == (0,)
    assert log.verify().ok


def test_a_record_on_a_read_only_medium_can_be_read(kept: Log, store: Path) -> None:
    kept.close()
    store.chmod(0o444)
    with Reader(store) as reader:
        assert reader.verify().ok
