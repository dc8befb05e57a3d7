"""kitcall service: judge a service by the centre's own interval. Parse, call, print; no sums here."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from assistant.commands.sums import AS_JSON, SETTINGS, Refusing, gauge_of, show
from assistant.errors import BadInput
from assistant.sums.dates import judge_service


@click.command(cls=Refusing)
@click.option("--item", required=True, help="regulator, jacket, or what else the settings file names.")
@click.option("--serviced", type=click.DateTime(["%Y-%m-%d"]), required=True, help="Day of the service, YYYY-MM-DD.")
@click.option("--dives", type=int, help="Dives since then.")
@click.option("--today", type=click.DateTime(["%Y-%m-%d"]), required=True, help="The day to judge, YYYY-MM-DD.")
@SETTINGS
@AS_JSON
def service(
    item: str, serviced: datetime, dives: int | None, today: datetime, settings: Path | None, as_json: bool
) -> None:
    """Judge a service by the centre's own interval."""
    centre, _ = gauge_of(settings, None)
    if item not in centre.service:
        raise BadInput(f"The item was understood as {item!r}.", f"Expected is one of {', '.join(centre.service)}.")
    interval = centre.service[item]
    show(judge_service(item, serviced.date(), today.date(), interval, dives, centre.dates), as_json)
