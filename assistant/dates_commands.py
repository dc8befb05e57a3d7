"""Command line of the dates: dates (inspection and test of a cylinder), service. Parse, call, print.

The day to judge is always given; nothing here reads a clock. See sums_commands.py for what they share.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from assistant.errors import BadInput
from assistant.sums import dates, inspection, stamps
from assistant.sums_printing import AS_JSON, SETTINGS, Refusing, gauge_of, show


@click.command("dates", cls=Refusing)
@click.option("--region", required=True, help="Where the cylinder is used: us, us navy, uk, australia, ...")
@click.option("--material", default="steel", show_default=True, help="aluminium, aluminium 6351, steel.")
@click.option("--tested", help="Month of the last pressure test, such as 03/2024.")
@click.option("--viewed", help="Month of the last visual inspection.")
@click.option("--commissioned", help="Month it was put into service.")
@click.option("--made", help="Month it was made.")
@click.option("--condition", "conditions", multiple=True, help="Condition of a rule, such as 'low risk assessed'.")
@click.option("--today", type=click.DateTime(["%Y-%m-%d"]), required=True, help="The day to judge, YYYY-MM-DD.")
@SETTINGS
@AS_JSON
def dates_check(
    region: str,
    material: str,
    tested: str | None,
    viewed: str | None,
    commissioned: str | None,
    made: str | None,
    conditions: tuple[str, ...],
    today: datetime,
    settings: Path | None,
    as_json: bool,
) -> None:
    """Judge a cylinder's inspection dates by region and material."""
    centre, _ = gauge_of(settings, None)
    day = today.date()

    def stamp(text: str | None) -> stamps.Stamp | None:
        return None if text is None else stamps.parse(text, day, centre.dates)

    history = inspection.History(stamp(tested), stamp(viewed), stamp(commissioned), stamp(made))
    found = inspection.inspect(region, material, history, day, frozenset(conditions), centre.dates)
    pairs = zip(found.rules, found.results, strict=True)
    show(found, as_json, {f"{rule.source} ({rule.edition}; {rule.obtained})": result for rule, result in pairs})


@click.command("service", cls=Refusing)
@click.option("--item", required=True, help="regulator, jacket, or what else the settings file names.")
@click.option("--serviced", type=click.DateTime(["%Y-%m-%d"]), required=True, help="Day of the service, YYYY-MM-DD.")
@click.option("--dives", type=int, help="Dives since then.")
@click.option("--today", type=click.DateTime(["%Y-%m-%d"]), required=True, help="The day to judge, YYYY-MM-DD.")
@SETTINGS
@AS_JSON
def service_check(
    item: str, serviced: datetime, dives: int | None, today: datetime, settings: Path | None, as_json: bool
) -> None:
    """Judge a service by the centre's own interval."""
    centre, _ = gauge_of(settings, None)
    if item not in centre.service:
        raise BadInput(f"The item was understood as {item!r}.", f"Expected is one of {', '.join(centre.service)}.")
    interval = centre.service[item]
    show(dates.judge_service(item, serviced.date(), today.date(), interval, dives, centre.dates), as_json)
