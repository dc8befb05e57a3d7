"""kitcall leak: judge a leak test. Parse, call, print; no sums here."""

from __future__ import annotations

from pathlib import Path

import click

from assistant.commands.sums import (
    AS_JSON,
    DIVISION_BAR,
    O2,
    SETTINGS,
    WATER_L,
    Refusing,
    gauge_of,
    numbers,
    share,
    show,
)
from assistant.sums.leak import Reading, Valve, judge


@click.command(cls=Refusing)
@click.option("--reading", "readings", multiple=True, help="MIN:BAR or MIN:BAR:DEGC, once for each reading.")
@click.option("--valve", type=click.Choice(["shut", "open"]), required=True, help="The cylinder valve during the test.")
@WATER_L
@DIVISION_BAR
@O2
@SETTINGS
@AS_JSON
def leak(
    readings: tuple[str, ...],
    valve: str,
    water_l: float | None,
    division_bar: float | None,
    o2_percent: float | None,
    settings: Path | None,
    as_json: bool,
) -> None:
    """Judge a leak test from readings over time, corrected for temperature."""
    centre, gauge = gauge_of(settings, division_bar)
    taken = [Reading(*numbers(text, (2, 3), "MIN:BAR or MIN:BAR:DEGC")) for text in readings]
    show(judge(taken, Valve(valve), water_l, gauge, share(o2_percent), centre.leak), as_json)
