"""kitcall log: the record, shown and verified. Reads beside a running check."""

from __future__ import annotations

import sys
from dataclasses import asdict

import click
from rich.table import Table

from assistant.commands.options import console, json_option, print_json, refusing, store_option
from assistant.places import store_path
from assistant.record import Reader


@click.group()
def log() -> None:
    """Show the record, or verify it."""


@log.command()
@click.option("--check", "session", metavar="ID", help="One check's answers; without it, a line for each check.")
@store_option
@json_option
@refusing
def show(session: str | None, store: str | None, as_json: bool) -> None:
    """Show the checks, or one check's answers, faults and swaps."""
    with Reader(store_path(store)) as reader:
        if session is None:
            rows = {"checks": reader.checks()}
        else:
            rows = {
                "answers": reader.answers(session),
                "faults": reader.faults(session),
                "swaps": reader.swaps(session),
            }
    if as_json:
        print_json({name: [asdict(row) for row in found] for name, found in rows.items()})
        return
    for name, found in rows.items():
        print_table(name, [asdict(row) for row in found])


@log.command()
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


def print_table(title: str, rows: list[dict[str, object]]) -> None:
    """Rows as a table; says so when there are none."""
    if not rows:
        click.echo(f"{title}: none")
        return
    table = Table(title=title, title_justify="left")
    for column in rows[0]:
        table.add_column(column.replace("_", " "))
    for row in rows:
        table.add_row(*("" if value is None else str(value) for value in row.values()))
    console().print(table)
