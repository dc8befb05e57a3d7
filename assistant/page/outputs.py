"""What can be taken out: CSV for spreadsheets, JSON, the whole record as JSON lines, due dates as iCalendar.

In CSV a cell that a spreadsheet would take for a formula gets an apostrophe before it. Files are streamed, so
a long record needs no memory here.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator
from dataclasses import asdict
from datetime import date, timedelta
from typing import Any

from icalendar import Calendar, Event
from starlette.responses import Response, StreamingResponse

from assistant.errors import BadInput
from assistant.page import due
from assistant.page.pages import asked_day, due_lines
from assistant.page.visit import Visit
from assistant.record import Ledger, Reader, export_lines
from assistant.record.day_rows import read_day

# OWASP's list of first characters that make a formula ("CSV Injection"), and their full-width forms
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
NAME = "(SELECT text FROM log.personal p WHERE p.digest = {}) AS {}"
TABLES: dict[str, str] = {
    "checks": f"""SELECT c.started, c.session AS "check", {NAME.format("c.who", "diver")},
        coalesce(c.verdict, 'not finished') AS verdict, c.answers, c.faults, c.swaps, c.doubts,
        round(c.lasted_s / 60, 1) AS minutes, c.device, c.clock
        FROM checks c WHERE c.day BETWEEN ? AND ? ORDER BY c.seq""",
    "faults": """SELECT f.day, c.started AS check_started, f.item, f.number, f.step, f.code, f.said,
        iif(f.apart, 'yes', '') AS set_apart, iif(f.withdrawn, 'yes', '') AS withdrawn, f.seq AS event
        FROM faults f JOIN checks c ON c.seq = f.check_seq WHERE f.day BETWEEN ? AND ? ORDER BY f.seq""",
    "repairs": f"""SELECT d.at, d.job, d.kind, d.item, d.number, {NAME.format("d.who", "who")},
        d.facts ->> 'found' AS found, d.facts ->> 'done' AS done, d.facts ->> 'parts' AS parts,
        d.facts ->> 'outcome' AS outcome, coalesce(d.facts ->> 'note', d.facts ->> 'why') AS note, d.seq AS event
        FROM doings d WHERE d.job IS NOT NULL AND d.day BETWEEN ? AND ? ORDER BY d.seq""",
    "days": f"""SELECT d.about_day AS day, d.at, d.kind, {NAME.format("d.who", "who")},
        d.about_check AS "check", d.facts ->> 'note' AS note, d.seq AS event
        FROM doings d WHERE d.about_day BETWEEN ? AND ? ORDER BY d.seq""",
}
ROWS_AT_ONCE = 500


def defused(value: object) -> object:
    """A cell that no spreadsheet takes for a formula."""
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA) else value


def rows_of(ledger: Ledger, table: str, since: str, until: str) -> Iterator[list[tuple[Any, ...]]]:
    """The rows of one table between two days, some at a time."""
    at = 0
    while found := ledger.rows(f"{TABLES[table]} LIMIT {ROWS_AT_ONCE} OFFSET {at}", (since, until)):
        yield found
        at += len(found)


def as_csv(visit: Visit) -> Response:
    """One table as CSV in UTF-8, with the mark by which spreadsheets know it."""
    table, since, until = _asked(visit)

    def lines() -> Iterator[str]:
        yield "\ufeff" + _csv([columns(visit, table)])
        with visit.shop.reading() as ledger:
            for rows in rows_of(ledger, table, since, until):
                yield _csv([[defused(value) for value in row] for row in rows])

    return _file(lines, "text/csv; charset=utf-8", f"kitcall-{table}-{since}-{until}.csv")


def _csv(rows: list[list[Any]]) -> str:
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue()


def columns(visit: Visit, table: str) -> list[str]:
    """The names of a table's columns."""
    with visit.shop.reading() as ledger:
        return ledger.columns(TABLES[table])


def as_json(visit: Visit) -> Response:
    """One table as a JSON list of objects."""
    table, since, until = _asked(visit)
    names = columns(visit, table)

    def lines() -> Iterator[str]:
        before = "["
        with visit.shop.reading() as ledger:
            for rows in rows_of(ledger, table, since, until):
                for row in rows:
                    yield before + json.dumps(dict(zip(names, row, strict=True)), ensure_ascii=False)
                    before = ",\n"
        yield "[]" if before == "[" else "]\n"

    return _file(lines, "application/json", f"kitcall-{table}-{since}-{until}.json")


def day_json(visit: Visit) -> Response:
    """One day with all that is on its page."""
    of = asked_day(visit)
    with visit.shop.reading() as ledger:
        text = json.dumps(asdict(read_day(ledger, of)), ensure_ascii=False, indent=1)
    return _file(lambda: iter([text]), "application/json", f"kitcall-day-{of}.json")


def record_lines(visit: Visit) -> Response:
    """The whole record in its published form."""

    def lines() -> Iterator[str]:
        with Reader(visit.shop.store) as reader:
            for line in export_lines(reader):
                yield line + "\n"

    return _file(lines, "application/jsonl; charset=utf-8", "kitcall-record.jsonl")


def calendar(visit: Visit) -> Response:
    """Everything that has a last good day, as one whole-day entry each, on that day."""
    made = Calendar()
    made.add("prodid", "-//kitcall//shop//EN")
    made.add("version", "2.0")
    made.add("x-wr-calname", "Rental kit: due dates")
    with visit.shop.reading() as ledger:
        for line in due_lines(visit, ledger):
            if line.last_good is not None:
                made.add_component(_entry(visit, line, line.last_good))
    return _file(lambda: iter([made.to_ical().decode("utf-8")]), "text/calendar; charset=utf-8", "kitcall-due.ics")


def _entry(visit: Visit, line: due.DueLine, last_good: date) -> Event:
    entry = Event()
    name, what = visit.shop.names.item(line.item), line.what
    entry.add("uid", f"{what}-{line.item}-{line.number}@kitcall")
    entry.add("dtstamp", visit.shop.now())
    entry.add("dtstart", last_good)
    entry.add("dtend", last_good + timedelta(days=1))
    entry.add("summary", f"{name} {line.number}: {what} due")
    entry.add("description", line.reason)
    entry.add("transp", "TRANSPARENT")
    return entry


def _asked(visit: Visit) -> tuple[str, str, str]:
    table = str(visit.request.path_params["table"])
    if table not in TABLES:
        raise BadInput(f"There is no table {table}.", f"Choose one of {', '.join(TABLES)}.")
    since, until = (visit.query(name) for name in ("since", "until"))
    for day in (since, until):
        try:
            _ = date.fromisoformat(day) if day else None
        except ValueError as error:
            raise BadInput(f"{day!r} is no day.", "Give it as 2026-03-17.") from error
    return table, since or "0001-01-01", until or visit.shop.today.isoformat()


def _file(lines: Callable[[], Iterator[str]], kind: str, name: str) -> Response:
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return StreamingResponse(lines(), media_type=kind, headers=headers)
