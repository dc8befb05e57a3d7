"""kitcall plan-day: a day's plan from a CSV file into the record, whole or not at all."""

from __future__ import annotations

import sys
from datetime import date as Date
from pathlib import Path

import click

from assistant.check.rail import Rail
from assistant.check.turns import Record
from assistant.commands.check import new_session_id, open_log
from assistant.commands.options import load_check, model_option, refusing, sequence_option, store_option
from assistant.day_plan import read_day_plan, report
from assistant.errors import BadInput
from assistant.record import Log, day_entries, planned_days, rail_entries


@click.command("plan-day")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--date", "day", metavar="YYYY-MM-DD", help="The day planned; today when not given.")
@click.option("--only-judge", is_flag=True, help="Judge the file and keep nothing.")
@click.option("--replace", "anew", is_flag=True, help="Replace a plan of that day on which divers were called already.")
@sequence_option
@model_option
@store_option
@refusing
def plan_day(
    file: Path, day: str | None, only_judge: bool, anew: bool, sequence: str | None, model_path: str | None,
    store: str | None,
) -> None:  # fmt: skip
    """Take over a day's plan from a CSV FILE: trips, divers, their kit, spares.

    Columns: trip, diver (1 to 99, a first name, or the word spare), one for each item of the sequence with the
    number on it (regulator, jacket, …); for the group's gas also litres, depth_m and minutes. UTF-8, commas, the
    first line names the columns. Every line is reported; when one is refused, nothing is kept.
    """
    loaded = load_check(sequence, model_path)
    raw = read(file)
    with open_log(store) as log:
        rail = Rail.of((entry.session, Record(entry.kind, entry.facts)) for entry in rail_entries(log))
        plan = read_day_plan(raw, loaded.check, loaded.recogniser.knows, rail.apart)
        for line, text in report(plan):
            click.echo(f"line {line}: {text}")
        if plan.refusals:
            click.echo("Nothing was taken over. Put the refused lines right and give the file again.")
            sys.exit(2)
        if only_judge:
            click.echo("The plan is fit to use; nothing was kept.")
            return
        when = date_of(day)
        refuse_second(log, when, anew)
        log.append_all(f"day-{new_session_id()}", plan.records(loaded.check, when), loaded.check.digest)
    click.echo(f"Taken over for {when}. Lead a trip with: kitcall group")


def read(file: Path) -> bytes:
    """The file's bytes; BadInput when it cannot be read."""
    try:
        return file.read_bytes()
    except OSError as problem:
        raise BadInput(f"{file} cannot be read ({problem.strerror})", "Check its name and place.") from problem


def date_of(day: str | None) -> str:
    """The day as YYYY-MM-DD, today on this machine's clock when none is given."""
    if day is None:
        return Date.today().isoformat()  # noqa: DTZ011 - a day on deck is a day of the local clock
    try:
        return Date.fromisoformat(day).isoformat()
    except ValueError:
        raise BadInput(f"{day} is no date", "Write it as YYYY-MM-DD.") from None


def refuse_second(log: Log, when: str, anew: bool) -> None:
    """A day on which divers were called is replaced only on purpose: their checks do not count for the new plan."""
    earlier = [row.session for row in planned_days(log) if row.date == when]
    if earlier and not anew and any(entry.kind == "diver_called" for entry in day_entries(log, earlier[-1])):
        raise BadInput(
            f"divers were called already on the plan of {when}",
            "Go on with it: kitcall group. Or replace it with --replace: everybody is checked again.",
        )
