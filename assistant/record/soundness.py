"""Whether a whole store holds: chain, receipts, words and clips, tables, and the file itself.

Reads one snapshot, so it may run beside a writer. Bytes that hold nothing (free
pages, gaps in pages) are not looked at: a flip there changes nothing anybody reads.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import suppress

from sqlite_utils import Database

from assistant.record import receipts, schema
from assistant.record.chain import FIELDS, GENESIS, Damage, Link, Report
from assistant.record.chain import verify as verify_chain
from assistant.record.personal import digest_of
from assistant.record.receipts import Receipt

# UnicodeDecodeError: SQLite's message quotes a damaged name, and Python cannot read the message
UNREADABLE = (sqlite3.Error, UnicodeDecodeError)


def verify(db: Database, noted: list[Receipt], unreadable: int) -> Report:
    """The report over everything; `noted` are the receipts, read before this is called."""
    # bytes that are no UTF-8 must come through to the hash, which then names the event
    db.conn.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
    try:
        db.begin()
        return _verify(db, noted, unreadable)
    except UNREADABLE as error:
        return Report(0, GENESIS, (Damage(None, f"the store cannot be read: {error}"),))
    finally:
        db.conn.text_factory = str
        with suppress(*UNREADABLE):  # a damaged file can refuse even this; nothing was written
            db.rollback()


def _verify(db: Database, noted: list[Receipt], unreadable: int) -> Report:
    report, damages = _chain(db), []
    for check in (_words, _clips, _tables, _file):
        try:
            damages += list(check(db))
        except UNREADABLE as error:
            damages.append(Damage(None, f"the store cannot be read: {error}"))
    damages += _ends(db, noted) if not report.damages else []
    notes = [f"{unreadable} of the receipts cannot be read"] if unreadable else []
    notes += [] if noted else ["there are no receipts: a cut-off end would not be seen"]
    return Report(report.count, report.head, (*report.damages, *damages), tuple(notes))


def _chain(db: Database) -> Report:
    links = _Links(db)
    report = verify_chain(links)
    if not links.trouble:
        return report
    seen = Damage(links.last + 1, f"the store cannot be read after event {links.last}: {links.trouble}")
    return Report(report.count, report.head, (*report.damages, seen))


class _Links:
    """The stored events in order; stops where the file cannot be read and says why in `trouble`."""

    def __init__(self, db: Database) -> None:
        self._db, self.last, self.trouble = db, 0, ""

    def __iter__(self) -> Iterator[Link]:
        try:
            for row in self._db.execute(f"SELECT {', '.join(FIELDS)}, hash FROM event ORDER BY seq"):
                link = Link(*row)
                yield link
                self.last = link.seq
        except UNREADABLE as error:
            self.trouble = str(error)


def _ends(db: Database, noted: list[Receipt]) -> list[Damage]:
    def hash_at(seq: int) -> str | None:
        row = db.execute("SELECT hash FROM event WHERE seq = ?", (seq,)).fetchone()
        return None if row is None else str(row[0])

    last = db.execute("SELECT coalesce(max(seq), 0) FROM event").fetchone()[0]
    return list(receipts.compare(noted, int(last), hash_at))


def _words(db: Database) -> Iterator[Damage]:
    for digest, salt, text in db.execute("SELECT digest, salt, text FROM personal"):
        if digest_of(salt, text) != digest:
            yield Damage(None, f"the personal words {digest} were changed")


def _clips(db: Database) -> Iterator[Damage]:
    for digest, wav in db.execute("SELECT digest, wav FROM clip"):
        if hashlib.sha256(wav).hexdigest() != digest:
            yield Damage(None, f"the voice note {digest} was changed")


def _tables(db: Database) -> Iterator[Damage]:
    version = int(str(schema.pragma(db, "user_version")))
    if schema.statements(db) != schema.expected_statements(version):
        yield Damage(None, "the store's tables, views or guards are not those that kitcall makes")
    applied = db.execute("SELECT version, name FROM migration ORDER BY version").fetchall()
    if applied != [(step.version, step.name) for step in schema.MIGRATIONS[:version]]:
        yield Damage(None, "the list of migrations is not the one that kitcall writes")


def _file(db: Database) -> Iterator[Damage]:
    for (line,) in db.execute("PRAGMA integrity_check"):
        if line != "ok":
            yield Damage(None, f"the file is damaged: {line}")
