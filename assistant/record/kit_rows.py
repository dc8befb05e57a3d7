"""Kit as the shop reads it: one item's whole life, jobs, what is due, search. Reads the ledger only."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.record.day_rows import (
    MOST,
    CheckLine,
    Doing,
    FaultLine,
    checks_where,
    doings_where,
    faults_where,
)
from assistant.record.ledger import Ledger
from assistant.record.ledger_tables import OPEN_STATES

LIFE_ROWS = 60


@dataclass(frozen=True, slots=True)
class ItemLine:
    """One numbered item: since and until when the record saw it, checks it was worn in, READY ones, faults."""

    item: str
    number: str
    first_day: str
    last_day: str
    checks: int
    uses: int
    faults: int
    state: str


@dataclass(frozen=True, slots=True)
class Job:
    """The repair of one item. `state` is apart, worked, failed, passed, back or undone."""

    seq: int
    item: str
    number: str
    day: str
    step: str | None
    code: str | None
    why: str | None
    state: str
    last_seq: int
    session: str | None


@dataclass(frozen=True, slots=True)
class Dated:
    """The last date noted of one kind for an item, and its READY checks since."""

    item: str
    number: str
    what: str
    on: str
    uses: int


@dataclass(frozen=True, slots=True)
class Life:
    """Everything known of one item, newest first where it is long."""

    line: ItemLine
    dated: list[Dated]
    jobs: list[Job]
    doings: list[Doing]
    faults: list[FaultLine]
    checks: list[CheckLine]
    more: bool


def read_items(ledger: Ledger, item: str = "") -> list[ItemLine]:
    """Numbered items by kind and number; with `item` only those of that kind."""
    return _items(ledger, "number <> '' AND (? = '' OR item = ?)", [item, item])


def _items(ledger: Ledger, where: str, values: list[object]) -> list[ItemLine]:
    sql = f"""SELECT *, coalesce((SELECT state FROM jobs j WHERE j.item = i.item AND j.number = i.number
            AND j.state IN {OPEN_STATES} ORDER BY j.seq DESC LIMIT 1), '') FROM items i
        WHERE {where} ORDER BY item, CAST(number AS INTEGER), number LIMIT 2000"""
    return [ItemLine(*row) for row in ledger.rows(sql, values)]


def item_kinds(ledger: Ledger) -> list[str]:
    """Kinds of items that the record saw."""
    return [str(item) for (item,) in ledger.rows("SELECT DISTINCT item FROM items WHERE number <> '' ORDER BY item")]


def read_life(ledger: Ledger, item: str, number: str, before: int = 0) -> Life | None:
    """One item's life; None when the record never saw it. `before` pages back through its checks."""
    lines = _items(ledger, "item = ? AND number = ?", [item, number])
    if not lines:
        return None
    key = (item, number)
    found = checks_where(
        ledger, "c.seq IN (SELECT seq FROM worn WHERE item = ? AND number = ? AND seq < ? ORDER BY seq DESC LIMIT ?)",
        (*key, before or 1 << 62, LIFE_ROWS), "c.seq DESC",
    )  # fmt: skip
    return Life(
        lines[0], [each for each in read_dated(ledger) if (each.item, each.number) == key],
        _jobs(ledger, "j.item = ? AND j.number = ?", list(key), "DESC", LIFE_ROWS),
        doings_where(ledger, "item = ? AND number = ?", key, LIFE_ROWS, "DESC"),
        faults_where(ledger, "f.item = ? AND f.number = ?", key, LIFE_ROWS), found, len(found) == LIFE_ROWS,
    )  # fmt: skip


def read_dated(ledger: Ledger) -> list[Dated]:
    """The dates noted for all items."""
    sql = """SELECT d.item, d.number, d.what, d."on", i.uses - d.uses_then
        FROM dated d JOIN items i USING (item, number)
        ORDER BY d.item, CAST(d.number AS INTEGER), d.number, d.what"""
    return [Dated(*row) for row in ledger.rows(sql)]


def open_jobs(ledger: Ledger) -> list[Job]:
    """What is set apart now, oldest first."""
    return _jobs(ledger, f"j.state IN {OPEN_STATES}", [])


def count_open_jobs(ledger: Ledger) -> int:
    """How many items are set apart now."""
    return int(ledger.rows(f"SELECT count(*) FROM jobs WHERE state IN {OPEN_STATES}")[0][0])


def closed_jobs(ledger: Ledger) -> list[Job]:
    """What went back to rental last."""
    return _jobs(ledger, "j.state = 'back'", [], "DESC", 50)


def read_job(ledger: Ledger, seq: int) -> tuple[Job, list[Doing]] | None:
    """A job and what was done; None when there is no such job."""
    found = _jobs(ledger, "j.seq = ?", [seq])
    return (found[0], doings_where(ledger, "job = ?", (seq,))) if found else None


def open_job_of(ledger: Ledger, item: str, number: str) -> Job | None:
    """The job that runs for that item."""
    found = _jobs(ledger, f"j.item = ? AND j.number = ? AND j.state IN {OPEN_STATES}", [item, number])
    return found[0] if found else None


def _jobs(
    ledger: Ledger, where: str, values: list[object], order: str = "ASC", limit: int = MOST
) -> list[Job]:
    sql = f"""SELECT j.seq, j.item, j.number, j.day, j.step, j.code, j.why, j.state, j.last_seq, c.session
        FROM jobs j LEFT JOIN checks c ON c.seq = j.check_seq WHERE {where} ORDER BY j.seq {order} LIMIT {limit:d}"""
    return [Job(*row) for row in ledger.rows(sql, values)]


@dataclass(frozen=True, slots=True)
class Sought:
    """What is looked for; an empty field does not matter. Days are inclusive."""

    item: str = ""
    number: str = ""
    diver: str = ""
    fault: str = ""
    since: str = ""
    until: str = ""


def find_checks(ledger: Ledger, sought: Sought, before: int = 0) -> list[CheckLine]:
    """Checks that fit all that is sought, newest first, LIFE_ROWS at most and those before `before`."""
    step, _, code = sought.fault.partition(":")
    kind = "item = ?" if sought.item else "item IN (SELECT DISTINCT item FROM items)"  # so that the index serves both
    worn = f"c.seq IN (SELECT seq FROM worn WHERE {kind} AND number = ?)"
    named = "c.who IN (SELECT digest FROM log.personal WHERE text = ? COLLATE NOCASE)"
    conditions: list[tuple[bool, str, list[object]]] = [
        (True, "c.seq < ?", [before or 1 << 62]),
        (bool(sought.since), "+c.day >= ?", [sought.since]),
        (bool(sought.until), "+c.day <= ?", [sought.until]),
        (bool(sought.diver), named, [sought.diver]),
        (bool(sought.number), worn, [*filter(None, [sought.item]), sought.number]),
        (bool(sought.fault), "c.seq IN (SELECT check_seq FROM faults WHERE step = ? AND code = ? AND withdrawn = 0)",
         [step, code]),
    ]  # fmt: skip
    wanted = [(sql, given) for want, sql, given in conditions if want]
    values = [value for _, given in wanted for value in given]
    return checks_where(ledger, " AND ".join(sql for sql, _ in wanted), values, "c.seq DESC", LIFE_ROWS)


def fault_kinds(ledger: Ledger) -> list[tuple[str, str, int]]:
    """Every kind of fault there was: step, code, how often; the commonest first."""
    sql = "SELECT step, code, sum(faults) FROM fault_counts GROUP BY 1, 2 HAVING sum(faults) > 0 ORDER BY 3 DESC, 1, 2"
    return [(str(step), str(code), int(count)) for step, code, count in ledger.rows(sql)]
