"""The ledger: what the shop's page reads, kept beside the store as `<store>.ledger` and drawn from the log alone.

It may be deleted at any time; it is then written again. The store is attached read-only and never changed
from here. `follow` verifies each new event's hash and its link to the event before it, then posts it
(posting.py); so the page knows how far the chain holds without hashing the record anew for every request.
Names of people are not copied: rows hold their digests, and the words are looked up in the store.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import datetime, tzinfo
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlite_utils import Database

from assistant.errors import StoreError
from assistant.record import schema
from assistant.record.chain import GENESIS, Link, hash_of
from assistant.record.ledger_tables import TABLES
from assistant.record.posting import Posting
from assistant.record.read import COLUMNS
from assistant.record.trouble import telling

FORM = "1"  # of the tables in posting.py; a ledger of another form is written again
BATCH_EVENTS = 20_000
PART_EVENTS = 5_000  # at most so many are posted while somebody waits for a page
Progress = Callable[[int, int], None]


class Ledger:
    """The ledger of the store at `path`, in the shop's time zone. Close it, or use it in a `with` block.

    Raises StoreError and its kin when the store cannot be read or the ledger not be written beside it.
    """

    def __init__(self, path: Path, zone: tzinfo) -> None:
        self.path, self.zone = Path(path), zone
        schema.open_reading(self.path).close()  # refuses what is no record of ours
        place = self.path.with_name(self.path.name + ".ledger")
        with telling(place):
            self._db = _connect(place)
            try:
                self._db.execute("ATTACH ? AS log", (f"{self.path.absolute().as_uri()}?mode=ro",))
                self._begin_where_new()
            except BaseException:
                self._db.close()
                raise

    def close(self) -> None:
        """Ends reading."""
        self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def rows(self, sql: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        """The rows of a query over the ledger's tables and the store (as `log.`); for this room only."""
        with telling(self.path):
            return self._db.execute(sql, list(values)).fetchall()

    def columns(self, sql: str) -> list[str]:
        """The names of a query's columns."""
        with telling(self.path):
            return [str(each[0]) for each in self._db.execute(f"{sql} LIMIT 0", ("", "")).description]

    def note(self, name: str) -> str:
        """One of the ledger's own notes: seq, hash, damage, zone, form, at_utc; empty where there is none."""
        found = self.rows("SELECT value FROM note WHERE name = ?", (name,))
        return str(found[0][0]) if found else ""

    @property
    def seq(self) -> int:
        """The last event that was verified and posted."""
        return int(self.note("seq") or 0)

    def behind(self) -> int:
        """How many events of the log are not posted yet."""
        last = self.rows("SELECT coalesce(max(seq), 0) FROM log.event")[0][0]
        return max(0, int(last) - self.seq)

    def follow(self, at_most: int = 0, progress: Progress = lambda done, of: None) -> int:
        """Verifies and posts what is new (at most so many events; 0: all). Returns how many are still to come."""
        if not self._same_log():
            self._begin()
        left = self.behind()
        todo, done = min(left, at_most) if at_most else left, 0
        while done < todo:
            posted = self._post(min(BATCH_EVENTS, todo - done))
            done += posted
            progress(done, todo)
            if not posted:
                break
        return left - done

    def _post(self, count: int) -> int:
        with telling(self.path), self._db.atomic():
            seq, head = self.seq, self.note("hash") or GENESIS
            query = f"SELECT {COLUMNS} FROM log.event WHERE seq > ? ORDER BY seq LIMIT ?"
            links = [Link(*row) for row in self._db.execute(query, (seq, count))]
            posting = Posting(self._db, self.zone, self._last_time())
            damage = self.note("damage")
            for link in links:
                damage = damage or _wrong(link, seq, head)
                seq, head = link.seq, link.hash
                posting.post(link)
            posting.flush()
            self._write_notes(seq, head, damage, posting)
        return len(links)

    def _write_notes(self, seq: int, head: str, damage: str, posting: Posting) -> None:
        last = posting.before
        time = "" if last is None else f"{last.boot} {last.monotonic_us} {last.wall_utc}"
        notes = {"seq": str(seq), "hash": head, "damage": damage, "time": time}
        for name, value in notes.items():
            self._db.execute("INSERT OR REPLACE INTO note VALUES (?, ?)", (name, value))

    def _last_time(self) -> tuple[str, int, str] | None:
        boot, monotonic, wall = [*self.note("time").split(), "", "", ""][:3]
        return (boot, int(monotonic), wall) if boot else None

    def _same_log(self) -> bool:
        seq, head = self.seq, self.note("hash")
        found = self.rows("SELECT hash FROM log.event WHERE seq = ?", (seq,))
        return seq == 0 or (bool(found) and found[0][0] == head)

    def _begin_where_new(self) -> None:
        try:
            wanted = self.note("form") == FORM and self.note("zone") == str(self.zone)
        except StoreError:
            wanted = False
        if not wanted:
            self._begin()

    def _begin(self) -> None:
        with telling(self.path), self._db.atomic():
            for (name,) in self._db.execute("SELECT name FROM main.sqlite_schema WHERE type = 'table'").fetchall():
                self._db.execute(f'DROP TABLE "{name}"')
            for statement in TABLES:
                self._db.execute(statement)
            for name, value in (("form", FORM), ("zone", str(self.zone))):
                self._db.execute("INSERT INTO note VALUES (?, ?)", (name, value))

    def words(self, digests: Sequence[str]) -> dict[str, str]:
        """The personal words of these digests that are still in the store."""
        marks = ", ".join("?" * len(digests))
        found = self.rows(f"SELECT digest, text FROM log.personal WHERE digest IN ({marks})", digests)
        return {str(digest): str(text) for digest, text in found}

    def local(self, wall_utc: str) -> datetime:
        """A wall time of the log in the shop's time zone."""
        return datetime.fromisoformat(wall_utc).astimezone(self.zone)


def _connect(place: Path) -> Database:
    uri = f"{place.absolute().as_uri()}?mode=rwc"
    conn = sqlite3.connect(uri, uri=True, timeout=schema.BUSY_S, isolation_level=None)
    try:
        db = Database(conn, execute_plugins=False)
        for setting in ("journal_mode = wal", "synchronous = normal", "secure_delete = on", "cache_size = -32000"):
            db.execute(f"PRAGMA {setting}").fetchall()
        return db
    except sqlite3.DatabaseError:
        conn.close()
        _drop(place)  # no ledger at all: it is drawn from the log again
        raise


def _drop(place: Path) -> None:
    for end in ("", "-wal", "-shm"):
        with suppress(FileNotFoundError):
            place.with_name(place.name + end).unlink()


def _wrong(link: Link, seq: int, head: str) -> str:
    if link.seq != seq + 1:
        return f"event {seq + 1} is missing"
    if hash_of(link) != link.hash:
        return f"event {link.seq} does not match its own hash: it was changed"
    return "" if link.prev_hash == head else f"event {link.seq} does not follow from event {seq}"
