"""kitcall dates: judge a cylinder's inspection dates. Parse, call, print; no sums here."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from assistant.commands.sums import AS_JSON, SETTINGS, Refusing, gauge_of, show
from assistant.sums import inspection, stamps


@click.command(cls=Refusing)
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
def dates(
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
