"""The books under posting: checks under way, counts not yet written, and what several kinds of event change.

Knows the ledger's tables; which event changes what stands in posting_checks.py and posting_shop.py.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, MutableMapping
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Any

from sqlite_utils import Database

from assistant.record.chain import Link
from assistant.record.ledger_tables import OPEN_STATES

Facts = Mapping[str, Any]


@dataclass
class Open:
    """A check under way: its row's number and day, what each step was asked of, and counts not yet written."""

    seq: int
    day: str
    boot: str
    monotonic_us: int
    judged: bool
    started_utc: str
    asked: dict[str, str] = field(default_factory=dict)
    counts: Counter[str] = field(default_factory=Counter)
    last_seq: int = 0


class Books:
    """The ledger `db`, whose store is attached as `log`, in the shop's time zone."""

    def __init__(self, db: Database, zone: tzinfo) -> None:
        self._db, self._zone = db, zone
        self._open: dict[str, Open] = {}
        self._months: defaultdict[tuple[str, str], float] = defaultdict(float)
        self._steps: Counter[tuple[str, str, str]] = Counter()
        self._faults: Counter[tuple[str, str, str, str, int]] = Counter()

    def flush(self) -> None:
        """Writes the counts; nothing is held back after it."""
        for check in self._open.values():
            counted = {name: count for name, count in check.counts.items() if count}
            names = "".join(f", {name} = {name} + {count:d}" for name, count in counted.items())
            self._db.execute(
                f"UPDATE checks SET last_seq = max(last_seq, ?){names} WHERE seq = ?", (check.last_seq, check.seq)
            )
            check.counts.clear()
        add(self._db, "month_counts", 2, self._months)
        add(self._db, "step_counts", 3, self._steps)
        add(self._db, "fault_counts", 5, self._faults)

    def _check(self, link: Link) -> Open | None:
        found = self._open.get(link.session)
        if found is None:
            row = self._db.execute(
                """SELECT c.seq, c.day, c.boot, c.monotonic_us, c.verdict IS NOT NULL, e.wall_utc FROM checks c
                JOIN log.event e ON e.seq = c.seq WHERE c.session = ?""",
                (link.session,),
            ).fetchone()
            if row is None:
                return None
            found = self._open[link.session] = Open(*row)
        return found

    def _do(
        self, link: Link, facts: Facts, job: object = None, about_day: object = None, about_check: object = None
    ) -> None:
        local, number = self._local(link), number_of(facts.get("number")) if "number" in facts else None
        self._db.execute(
            "INSERT INTO doings VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                link.seq,
                link.kind,
                f"{local:%Y-%m-%d}",
                f"{local:%Y-%m-%d %H:%M:%S}",
                job,
                text_of(facts.get("item")),
                number,
                about_day,
                about_check,
                who_of(facts.get("who")),
                link.facts,
            ),
        )

    def _wear(self, check_seq: int, item: str, number: str, since: int, day: str) -> None:
        self._db.execute("INSERT OR IGNORE INTO worn VALUES (?, ?, ?, ?, NULL)", (check_seq, item, number, since))
        self._seen(item, number, day, checks=1)

    def _seen(self, item: str, number: str, day: str, checks: int = 0) -> None:
        self._db.execute(
            """INSERT INTO items (item, number, first_day, last_day, checks) VALUES (?, ?, ?, ?, ?)
            ON CONFLICT DO UPDATE SET last_day = max(last_day, excluded.last_day),
            first_day = min(first_day, excluded.first_day), checks = checks + excluded.checks""",
            (item, number, day, day, checks),
        )

    def _worn(self, check_seq: int, item: str) -> str:
        row = self._db.execute(
            "SELECT number FROM worn WHERE seq = ? AND item = ? AND until IS NULL", (check_seq, item)
        ).fetchone()
        return str(row[0]) if row else ""

    def _job_of(self, item: str, number: str) -> int | None:
        row = self._db.execute(
            f"SELECT seq FROM jobs WHERE item = ? AND number = ? AND state IN {OPEN_STATES} ORDER BY seq LIMIT 1",
            (item, number),
        ).fetchone()
        return int(row[0]) if row else None

    def _last_of(self, link: Link, kind: str, name: str, value: str) -> int:
        row = self._db.execute(
            f"SELECT max(seq) FROM log.event WHERE kind = ? AND session = ? AND seq < ? AND facts ->> '{name}' = ?",
            (kind, link.session, link.seq, value),
        ).fetchone()
        return int(row[0] or 0)

    def _age_months(self, item: str, number: str, day: str) -> int | None:
        """Months since the item was bought, where that was noted, else since the record first saw it."""
        if not number:
            return None
        row = self._db.execute(
            """SELECT coalesce((SELECT "on" FROM dated d WHERE d.item = i.item AND d.number = i.number
            AND what = 'bought'), first_day) FROM items i WHERE item = ? AND number = ?""",
            (item, number),
        ).fetchone()
        return None if row is None else max(0, months_of(day) - months_of(row[0]))

    def _local(self, link: Link) -> datetime:
        return datetime.fromisoformat(link.wall_utc).astimezone(self._zone)


def add(db: Database, table: str, keys: int, counted: MutableMapping[Any, Any]) -> None:
    marks = ", ".join("?" * (keys + 1))
    name = "faults" if table == "fault_counts" else "count"
    for key, count in counted.items():
        if count:
            db.execute(
                f"INSERT INTO {table} VALUES ({marks}) ON CONFLICT DO UPDATE SET {name} = {name} + excluded.{name}",
                (*key, count),
            )
    counted.clear()


def text_of(value: object) -> str | None:
    return value if isinstance(value, str) else None if value is None else str(value)


def number_of(value: object) -> str:
    """An item's number as the ledger holds it; empty for an unmarked item."""
    return "" if value is None else str(value)


def who_of(value: object) -> str | None:
    """The digest of a person's name."""
    return str(value["personal"]) if isinstance(value, dict) and value.get("personal") else None


def months_of(day: str) -> int:
    return int(day[:4]) * 12 + int(day[5:7])


def seconds_between(one: str, other: str) -> float:
    return (datetime.fromisoformat(other) - datetime.fromisoformat(one)).total_seconds()
