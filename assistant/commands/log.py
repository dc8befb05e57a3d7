"""kitcall log: the record, shown and verified. Reads beside a running check."""

from __future__ import annotations

import re
import sys
from dataclasses import asdict
from typing import Any

import click
from rich.table import Table

from assistant.commands.check import open_log
from assistant.commands.options import console, json_option, print_json, refusing, store_option
from assistant.errors import BadInput
from assistant.places import store_path
from assistant.record import Reader, open_or_set_aside

TIME = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}")


@click.group()
def log() -> None:
    """Show the record, verify it, or set a damaged one aside."""


@log.command()
@click.option("--check", "session", metavar="ID", help="One check's answers; without it, a line for each check.")
@store_option
@json_option
@refusing
def show(session: str | None, store: str | None, as_json: bool) -> None:
    """Show the checks, or one check's answers, faults and swaps."""
    with Reader(store_path(store)) as reader:
        rows: dict[str, list[Any]] = {"checks": reader.checks()} if session is None else found(reader, session)
    if as_json:
        print_json({name: [asdict(row) for row in each] for name, each in rows.items()})
        return
    for name, each in rows.items():
        print_table(name, [brief(asdict(row)) for row in each])


def found(reader: Reader, session: str) -> dict[str, list[Any]]:
    """One check's answers, faults and swaps; BadInput when the record has no such check."""
    if session not in {row.session for row in reader.sessions()}:
        raise BadInput(f"the record has no check {session}", "Run: kitcall log show. It lists them.")
    return {
        "answers": reader.answers(session),
        "faults": reader.faults(session),
        "swaps": reader.swaps(session),
    }


@log.command(short_help="Verify that every event is there, as it was written.")
@store_option
@json_option
@refusing
def verify(store: str | None, as_json: bool) -> None:
    """Verify the chain of hashes: every event is there, in order, as it was written."""
    with Reader(store_path(store)) as reader:
        report = reader.verify()
    if as_json:
        print_json({"ok": report.ok, "count": report.count, "damages": [asdict(each) for each in report.damages]})
    elif report.ok:
        click.echo(f"The record holds: {report.count} events, each as it was written.")
    else:
        for damage in report.damages:
            click.echo(f"event {damage.seq}: {damage.what}")
    sys.exit(0 if report.ok else 1)


@log.command(name="set-aside", short_help="Keep a damaged record apart, and begin a new one.")
@store_option
@refusing
def set_aside(store: str | None) -> None:
    """Keep a damaged record apart under a name with the time, never deleted, and begin a new one. One that holds stays
    where it is."""
    path = store_path(store)
    if not path.exists():
        raise BadInput(f"there is no record {path}", "Name one: --store FILE.")
    opening = open_or_set_aside(path, lambda path: open_log(str(path)))
    opening.log.close()
    if opening.set_aside is None:
        click.echo("The record holds; it stays where it is.")
        return
    click.echo(f"{opening.set_aside}: kept as it was: {opening.damage}")
    click.echo(f"{path}: a new one, begun.")


def print_table(title: str, rows: list[dict[str, object]]) -> None:
    """Rows as a table; says so when there are none."""
    if not rows:
        click.echo(f"{title}: none")
        return
    columns = [name for name in rows[0] if any(row[name] not in (None, "", False) for row in rows)]
    table = Table(*(name.replace("_", " ") for name in columns), title=title, title_justify="left")
    for row in rows:
        table.add_row(*(shown(row[name]) for name in columns))
    screen = console()
    screen.width = max(screen.width, 20 * len(columns))
    screen.print(table)


def brief(row: dict[str, object]) -> dict[str, object]:
    """A row for the screen: long reasons are cut, and what a check wore is shown with --check."""
    kept = {
        name: value for name, value in row.items() if name not in ("items_at_start", "title", "device", "verdict_utc")
    }
    reasons = str(kept.get("reasons") or "")
    return {**kept, "reasons": reasons[:60] + " …"} if len(reasons) > 60 else kept


def shown(value: object) -> str:
    """A value as a cell: times to the second, nothing for nothing."""
    text = "" if value is None else str(value)
    return text[:19].replace("T", " ") if TIME.match(text) else text
