"""The log: the one writer of the store. What `append_all` returned is on the disk.

One answer, one transaction; after a failure nothing of it is there. The log may
be used by the thread that opened it only. Clock and random bytes are passed in.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from assistant.errors import BadInput, StoreDamaged
from assistant.record import folder, schema
from assistant.record.chain import FIELDS, GENESIS, Link, canonical, hash_of
from assistant.record.lock import Lock
from assistant.record.personal import SALT_BYTES, Clip, Words, take_apart
from assistant.record.read import COLUMNS, Entry, Reader, entry_of
from assistant.record.receipts import Receipt, Receipts
from assistant.record.trouble import MEND_DAMAGED, telling

REMOVAL = "removed"  # the session under which removals are recorded
ADOPTED_AT_ONCE = 5000
ADOPTING_KIB = 64 * 1024  # page cache while a season comes in: its indexes are written in no order
INSERT = f"INSERT INTO event ({COLUMNS}) VALUES ({', '.join('?' * (len(FIELDS) + 1))})"


@dataclass(frozen=True, slots=True)
class Part:
    """What one session gets of a transaction: (kind, facts) records, and the digest of its sequence file."""

    session: str
    records: Sequence[tuple[str, Mapping[str, Any]]]
    sequence_digest: str = ""


class Log(Reader):
    """The record at `path`, for writing and reading; made when it is not there.

    `device` names this box. `wall` gives an aware UTC datetime, `monotonic` seconds
    from any fixed moment, `random_bytes` that many unguessable bytes.
    Raises StoreBusy (another writer; it is named), StoreNewer, StoreDamaged, StoreFull
    or StoreError; each says in `mend` what the guide should do.
    """

    def __init__(
        self,
        path: Path,
        *,
        device: str,
        wall: Callable[[], datetime],
        monotonic: Callable[[], float],
        random_bytes: Callable[[int], bytes] = secrets.token_bytes,
    ) -> None:
        self.path = Path(path)
        self.device, self._wall, self._monotonic = device, wall, monotonic
        self._random_bytes = random_bytes
        self.boot = random_bytes(8).hex()
        with telling(self.path):
            folder.make(self.path.parent)
            self._lock = Lock(self.path)
        try:
            self._db = schema.open_writing(self.path)
            self._receipts = Receipts(self.path)
            self._refuse_broken_end()
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Ends writing and gives the lock back. May be called twice."""
        for part in ("_receipts", "_db"):
            if hasattr(self, part):
                getattr(self, part).close()
        self._lock.release()

    @property
    def receipt_trouble(self) -> str:
        """Why the head receipt beside the store cannot be written; empty when it can. No answer is at risk."""
        return self._receipts.trouble

    def append_all(
        self,
        session: str,
        records: Iterable[tuple[str, Mapping[str, Any]]],
        sequence_digest: str,
        clips: Sequence[Clip] = (),
    ) -> list[Entry]:
        """Adds these (kind, facts) records, and voice notes that they name, as one transaction.

        Facts are JSON values; a `Personal` among them is kept apart. When this returns,
        the entries are synced to the disk; when it raises, nothing was added.
        Raises StoreFull (free space, then the same log goes on), StoreBusy, StoreDamaged,
        StoreError, or BadInput for facts that JSON cannot hold.
        """
        return self.append_together([Part(session, tuple(records), sequence_digest)], clips)

    def append_together(self, parts: Iterable[Part], clips: Sequence[Clip] = ()) -> list[Entry]:
        """Adds the records of several sessions as one transaction; else as `append_all`."""
        drafts = [(part, *self._drafted(part)) for part in parts if part.records]
        if not drafts:
            return []
        words = [word for *_, taken in drafts for word in taken]
        links: list[Link] = []
        with telling(self.path), self._transaction():
            for part, facts, _ in drafts:
                new = self._linked(part.session, facts, part.sequence_digest)
                self._insert(new)
                links += new
            self._keep_apart(words, clips)
        # committed: nothing from here on may fail
        self._receipts.note(Receipt(links[-1].seq, links[-1].hash))
        by_digest = {word.digest: word.text for word in words}
        return [entry_of(link, by_digest) for link in links]

    def adopt(self, links: Iterable[Link], apart: Callable[[], tuple[list[Words], list[Clip]]]) -> int:
        """Adds events of an export exactly as they were, and then the words and clips that `apart` gives.

        Those that are here already must be the same; the rest must continue this chain. One transaction: all or
        nothing. Returns how many events were added. Raises BadInput for a link that does not fit, else as `append_all`.
        """
        self._db.execute(f"PRAGMA cache_size = {-ADOPTING_KIB}")
        with telling(self.path), self._transaction():
            first = self._last()
            before, held, added = first, list[Link](), 0
            for link in links:
                if first is not None and link.seq <= first.seq:
                    self._refuse_other(link)
                    continue
                refuse_unlinked(link, before)
                held.append(link)
                before, added = link, added + 1
                if len(held) == ADOPTED_AT_ONCE:
                    self._insert(held)
                    held.clear()
            self._insert(held)
            self._keep_apart(*apart())
        if before is not None and added:
            self._receipts.note(Receipt(before.seq, before.hash))
        return added

    def _refuse_other(self, link: Link) -> None:
        row = self._db.execute("SELECT hash FROM event WHERE seq = ?", (link.seq,)).fetchone()
        if row is None or row[0] != link.hash:
            mend = "Import it into a record of its own: name another file with --store."
            raise BadInput(f"Event {link.seq} of the file is not the one in {self.path}.", mend)

    def _drafted(self, part: Part) -> tuple[list[tuple[str, str]], list[Words]]:
        taken = [(kind, *self._taken_apart(kind, facts)) for kind, facts in part.records]
        return [(kind, text) for kind, text, _ in taken], [word for *_, words in taken for word in words]

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        # one left open by a failed rollback would turn this commit into a mere savepoint's release
        self._db.rollback()
        with self._db.atomic():
            yield

    def prove(self) -> None:
        """Commits, synced, a row put in and taken out: the disk takes writes, no event comes of it.

        SQLite writes no page for an UPDATE that changes nothing, so it has to be a row. Raises as append_all.
        """
        with telling(self.path), self._transaction():
            self._db.execute("INSERT INTO migration VALUES (-1, 'proof')")
            self._db.execute("DELETE FROM migration WHERE version = -1")

    def _taken_apart(self, kind: str, facts: Mapping[str, object]) -> tuple[str, list[Words]]:
        apart, words = take_apart(facts, lambda: self._random_bytes(SALT_BYTES))
        try:
            text = canonical(apart)
            text.encode("utf-8")
        except (TypeError, ValueError) as error:
            raise BadInput(f"The facts of {kind} cannot be recorded: {error}.", "Give plain JSON values.") from error
        return text, words

    def _linked(self, session: str, drafts: list[tuple[str, str]], sequence_digest: str) -> list[Link]:
        last = self._last()
        seq, before = (last.seq, last.hash) if last else (0, GENESIS)
        own = "SELECT coalesce(max(session_seq), 0) FROM event WHERE session = ?"
        session_seq = self._db.execute(own, (session,)).fetchone()[0]
        monotonic_us = round(self._monotonic() * 1e6)
        wall_utc = self._wall().astimezone(UTC).isoformat(timespec="microseconds")
        links: list[Link] = []
        for place, (kind, facts) in enumerate(drafts, start=1):
            bare = Link(
                seq + place,
                session,
                session_seq + place,
                self.device,
                kind,
                facts,
                monotonic_us,
                wall_utc,
                self.boot,
                sequence_digest,
                before,
            )
            before = hash_of(bare)
            links.append(bare._replace(hash=before))
        return links

    def _insert(self, links: list[Link]) -> None:
        self._db.conn.executemany(INSERT, links)

    def _keep_apart(self, words: list[Words], clips: Sequence[Clip]) -> None:
        for word in words:
            self._db.execute(
                "INSERT INTO personal VALUES (?, ?, ?) ON CONFLICT (digest) DO NOTHING",
                (word.digest, word.salt, word.text),
            )
        for clip in clips:
            row = (clip.digest, clip.wav, clip.rate_hz, clip.seconds)
            self._db.execute("INSERT INTO clip VALUES (?, ?, ?, ?) ON CONFLICT (digest) DO NOTHING", row)

    def _last(self) -> Link | None:
        row = self._db.execute(f"SELECT {COLUMNS} FROM event ORDER BY seq DESC LIMIT 1").fetchone()
        return None if row is None else Link(*row)

    def _refuse_broken_end(self) -> None:
        with telling(self.path):
            last = self._last()
        if last is not None and hash_of(last) != last.hash:
            raise StoreDamaged(f"The last event of the record {self.path} was changed.", MEND_DAMAGED)

    def remove_words(self, text: str) -> int:
        """Removes these personal words wherever they stand (a diver's name). Returns how many places.

        The events stay and the chain still holds; that something was removed becomes an event.
        """
        return self._remove("personal", "text", text)

    def clips_of(self, name: str) -> list[str]:
        """The digests of the voice notes left in the checks of that diver, as the name stands now."""
        sql = """SELECT n.facts ->> 'clip' FROM event s JOIN event n ON n.session = s.session AND n.kind = 'noted'
            WHERE s.kind = 'check_started' AND json_extract(s.facts, '$.diver.personal') IN
            (SELECT digest FROM personal WHERE text = ?) ORDER BY n.seq"""
        with telling(self.path):
            return [str(digest) for (digest,) in self._db.execute(sql, (name,)) if digest]

    def remove_clip(self, digest: str) -> int:
        """Removes the voice note of that digest. Returns 1, or 0 when there was none."""
        return self._remove("clip", "digest", digest)

    def _remove(self, table: str, column: str, value: str) -> int:
        with telling(self.path), self._transaction():
            found = self._db.execute(f"SELECT digest FROM {table} WHERE {column} = ?", (value,)).fetchall()
            digests = sorted(str(digest) for (digest,) in found)
            if not digests:
                return 0
            self._db.execute(f"DELETE FROM {table} WHERE {column} = ?", (value,))
            links = self._linked(REMOVAL, [("removed", canonical({"what": table, "digests": digests}))], "")
            self._insert(links)
        self._receipts.note(Receipt(links[-1].seq, links[-1].hash))
        with telling(self.path):
            # the words would otherwise lie on in the write-ahead log
            self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        return len(digests)


def refuse_unlinked(link: Link, before: Link | None) -> None:
    """BadInput where an event does not match its own hash or does not follow from the one before."""
    seq, head = (before.seq, before.hash) if before else (0, GENESIS)
    mend = "Export the record again, and import that file whole. Nothing was added."
    if link.seq != seq + 1 or link.prev_hash != head:
        raise BadInput(f"Event {link.seq} of the file does not follow from event {seq}.", mend)
    if hash_of(link) != link.hash:
        raise BadInput(f"Event {link.seq} of the file was changed: it does not match its own hash.", mend)
