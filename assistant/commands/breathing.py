"""kitcall breathing: judge a breathing test. Parse, call, print; no sums here."""

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
    choose,
    gauge_of,
    share,
    show,
)
from assistant.sums.breathing import Readings, judge


@click.command(cls=Refusing)
@click.option("--before-bar", type=float, required=True, help="Needle before the breaths, bar.")
@click.option("--lowest-bar", type=float, required=True, help="Needle at its lowest during them, bar.")
@click.option("--after-bar", type=float, help="Needle settled after them, bar (leave out when not seen).")
@WATER_L
@click.option("--temp-degc", type=float, default=20.0, show_default=True, help="Temperature, degrees Celsius.")
@DIVISION_BAR
@O2
@SETTINGS
@AS_JSON
def breathing(
    before_bar: float,
    lowest_bar: float,
    after_bar: float | None,
    water_l: float | None,
    temp_degc: float,
    division_bar: float | None,
    o2_percent: float | None,
    settings: Path | None,
    as_json: bool,
) -> None:
    """Judge a breathing test: needle before, at its lowest, and after three full breaths."""
    centre, gauge = gauge_of(settings, division_bar)
    readings = Readings(before_bar, lowest_bar, after_bar)
    litres = choose("cylinder", water_l=water_l)
    show(judge(readings, litres, gauge, temp_degc, share(o2_percent), centre.breathing), as_json)
