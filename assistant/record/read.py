"""Reading the record: events, checks, and whether it all holds. Never writes.

Works beside a writer of another process. Reads in pages, so that a season's
record costs no memory and holds up no writer.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self, TypeVar

from sqlite_utils import Database

from assistant.errors import StoreDamaged
from assistant.record import receipts, schema, soundness
from assistant.record.chain import FIELDS, Link, Report
from assistant.record.personal import Clip, Words, digests_in, put_together
from assistant.record.trouble import MEND_DAMAGED, telling
from assistant.record.views import AnswerRow, CheckRow, FaultRow, SwapRow

PAGE_ROWS = 500
COLUMNS = ", ".join((*FIELDS, "hash"))
ENDS = "('stopped', 'verdict_given')"
Row = TypeVar("Row", CheckRow, AnswerRow, FaultRow, SwapRow)
GOES_ON = "('check_started', 'asked', 'answered', 'withdrawn', 'continued')"


@dataclass(frozen=True, slots=True)
class Entry:
    """One event as read: `facts` with personal words filled in, `link` exactly as stored and hashed.

    `monotonic_s` counts from an unknown moment and compares only within one `boot`.
    """

    seq: int
    session: str
    session_seq: int
    device: str
    kind: str
    facts: Mapping[str, object]
    monotonic_s: float
    wall_utc: str
    boot: str
    sequence_digest: str
    prev_hash: str
    hash: str
    link: Link

    @property
    def wall_s(self) -> float:
        """The wall clock as seconds since 1970 UTC, to the microsecond."""
        return datetime.fromisoformat(self.wall_utc).timestamp()


@dataclass(frozen=True, slots=True)
class SessionRow:
    """One session of the log: its first and last event, and whether it came to an end."""

    session: str
    first_seq: int
    last_seq: int
    events: int
    finished: bool


class Reader:
    """The record at `path`, for reading. Close it, or use it in a `with` block.

    Raises StoreNewer, StoreDamaged or StoreError when it cannot be read.
    """

    def __init__(self, path: Path) -> None:
        self.path = Path(path)
        self._db = schema.open_reading(self.path)

    def close(self) -> None:
        self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def entries(self, session: str | None = None, after: int = 0) -> Iterator[Entry]:
        """The events in order: of one session or all, those whose seq is greater than `after`."""
        where, values = ("true", ()) if session is None else ("session = ?", (session,))
        return self.select(where, values, after)

    def select(self, where: str, values: Sequence[str], after: int = 0) -> Iterator[Entry]:
        """The events of which that SQL condition is true, in order; for this room only."""
        while page := self._page(where, values, after):
            words = words_for(self._db, page)
            for link in page:
                yield entry_of(link, words)
            after = page[-1].seq

    def _page(self, where: str, values: Sequence[str], after: int) -> list[Link]:
        with telling(self.path):
            rows = self._db.execute(
                f"SELECT {COLUMNS} FROM event WHERE seq > ? AND {where} ORDER BY seq LIMIT {PAGE_ROWS}",
                (after, *values),
            ).fetchall()
        return [Link(*row) for row in rows]

    def last_seq(self) -> int:
        """The number of the last event; 0 for an empty record."""
        with telling(self.path):
            return int(self._db.execute("SELECT coalesce(max(seq), 0) FROM event").fetchone()[0])

    def sessions(self) -> list[SessionRow]:
        """Every session, in the order in which they began."""
        with telling(self.path):
            rows = self._db.execute(
                f"""SELECT session, min(seq), max(seq), count(*),
                    coalesce(max(CASE WHEN kind IN {ENDS} THEN seq END), 0)
                  > coalesce(max(CASE WHEN kind IN {GOES_ON} THEN seq END), 0)
                FROM event GROUP BY session ORDER BY min(seq)"""
            ).fetchall()
        return [SessionRow(name, first, last, events, bool(over)) for name, first, last, events, over in rows]

    def last_wall(self) -> datetime | None:
        """The wall clock of the last event, aware UTC; None when there is no event."""
        with telling(self.path):
            row = self._db.execute("SELECT wall_utc FROM event ORDER BY seq DESC LIMIT 1").fetchone()
        return None if row is None else datetime.fromisoformat(str(row[0]))

    def unfinished(self) -> str | None:
        """The session to resume: the last check that was begun, if it has not come to an end."""
        checks = "SELECT session FROM event WHERE kind = 'check_started' ORDER BY seq DESC LIMIT 1"
        with telling(self.path):
            row = self._db.execute(checks).fetchone()
            if row is None:
                return None
            last = f"""SELECT kind FROM event WHERE session = ? AND (kind IN {ENDS} OR kind IN {GOES_ON})
                ORDER BY session_seq DESC LIMIT 1"""
            kind = self._db.execute(last, row).fetchone()[0]
        return None if kind in ("stopped", "verdict_given") else str(row[0])

    def clip(self, digest: str) -> Clip | None:
        """The voice note of that digest; None when it was removed."""
        with telling(self.path):
            row = self._db.execute("SELECT wav, rate_hz, seconds FROM clip WHERE digest = ?", (digest,)).fetchone()
        return None if row is None else Clip(*row)

    def all_words(self) -> Iterator[Words]:
        """Every personal word that is there, for the export."""
        with telling(self.path):
            for digest, salt, text in self._db.execute("SELECT digest, salt, text FROM personal ORDER BY digest"):
                yield Words(digest, salt, text)

    def all_clips(self) -> Iterator[Clip]:
        """Every voice note that is there, for the export."""
        with telling(self.path):
            for row in self._db.execute("SELECT wav, rate_hz, seconds FROM clip ORDER BY digest"):
                yield Clip(*row)

    def checks(self) -> list[CheckRow]:
        return self._rows("checks", CheckRow)

    def answers(self, check: str | None = None) -> list[AnswerRow]:
        return self._rows("answers", AnswerRow, check)

    def faults(self, check: str | None = None) -> list[FaultRow]:
        return self._rows("faults", FaultRow, check)

    def swaps(self, check: str | None = None) -> list[SwapRow]:
        return self._rows("swaps", SwapRow, check)

    def _rows(self, view: str, row_type: type[Row], check: str | None = None) -> list[Row]:
        names = ", ".join(f'"{field.name}"' for field in dataclasses.fields(row_type))
        where, values = ("", ()) if check is None else (' WHERE "check" = ?', (check,))
        with telling(self.path):
            rows = self._db.execute(f"SELECT {names} FROM {view}{where}", values).fetchall()
        return [row_type(*row) for row in rows]

    def verify(self) -> Report:
        """Whether nothing was changed, lost, put in or cut off; names the first event that does not hold."""
        noted, unreadable = receipts.read(self.path)
        return soundness.verify(self._db, noted, unreadable)


def entry_of(link: Link, words: Mapping[str, str]) -> Entry:
    """The event for people. Raises StoreDamaged when its facts are no JSON object."""
    facts = facts_of(link)
    return Entry(
        link.seq,
        link.session,
        link.session_seq,
        link.device,
        link.kind,
        {name: put_together(value, words) for name, value in facts.items()},
        link.monotonic_us / 1e6,
        link.wall_utc,
        link.boot,
        link.sequence_digest,
        link.prev_hash,
        link.hash,
        link,
    )


def facts_of(link: Link) -> dict[str, object]:
    try:
        facts = json.loads(link.facts)
    except (TypeError, ValueError) as error:
        raise StoreDamaged(f"Event {link.seq} of the record cannot be read.", MEND_DAMAGED) from error
    if not isinstance(facts, dict):
        raise StoreDamaged(f"Event {link.seq} of the record holds no facts.", MEND_DAMAGED)
    return facts


def words_for(db: Database, links: list[Link]) -> dict[str, str]:
    """The personal words that these events name and that are still there, by digest."""
    named = sorted({digest for link in links if '"personal"' in link.facts for digest in digests_in(facts_of(link))})
    marks = ", ".join("?" * len(named))
    found = db.execute(f"SELECT digest, text FROM personal WHERE digest IN ({marks})", named) if named else ()
    return {str(digest): str(text) for digest, text in found}
