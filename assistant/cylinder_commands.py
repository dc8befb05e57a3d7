"""Command line of a cylinder's sums: gas, breathing, leak. Parse, call, print; no sums here.

Every option names its unit; see sums_commands.py for what they share.
"""

from __future__ import annotations

from pathlib import Path

import click

from assistant.errors import BadInput
from assistant.sums import breathing, content, cylinder, leak
from assistant.sums.units import bar_from_psi, degc_from_degf
from assistant.sums_printing import (
    AS_JSON,
    DIVISION_BAR,
    O2,
    SETTINGS,
    WATER_L,
    Refusing,
    choose,
    gauge_of,
    numbers,
    share,
    show,
)


@click.command(cls=Refusing)
@WATER_L
@click.option("--rated-cuft", type=float, help="Instead of litres: rated content, cubic feet.")
@click.option("--working-psi", type=float, help="Working pressure that goes with --rated-cuft, psi.")
@click.option("--pressure-bar", type=float, help="Gauge pressure, bar.")
@click.option("--pressure-psi", type=float, help="Gauge pressure, psi.")
@click.option("--temp-degc", type=float, help="Temperature of the gas, degrees Celsius (20 when not given).")
@click.option("--temp-degf", type=float, help="Temperature of the gas, degrees Fahrenheit.")
@O2
@AS_JSON
def gas(
    water_l: float | None,
    rated_cuft: float | None,
    working_psi: float | None,
    pressure_bar: float | None,
    pressure_psi: float | None,
    temp_degc: float | None,
    temp_degf: float | None,
    o2_percent: float | None,
    as_json: bool,
) -> None:
    """Gas in a cylinder, by the real gas and by the ideal one, with the error of each."""
    litres = choose("cylinder", water_l=water_l, rated_cuft=rated_cuft)
    if rated_cuft is not None:
        if working_psi is None:
            raise BadInput("A rated content was understood, but no working pressure.", "Give --working-psi too.")
        litres = cylinder.from_rating(rated_cuft, working_psi).water_l
    pressure = choose("pressure", pressure_bar=pressure_bar, pressure_psi=pressure_psi)
    bar = bar_from_psi(pressure) if pressure_psi is not None else pressure
    warm = 20.0 if temp_degc is None and temp_degf is None else choose("temp", temp_degc=temp_degc, temp_degf=temp_degf)
    degc = degc_from_degf(warm) if temp_degf is not None else warm
    show(content.measure(litres, bar, degc, share(o2_percent)), as_json)


@click.command("breathing", cls=Refusing)
@click.option("--before-bar", type=float, required=True, help="Needle before the breaths, bar.")
@click.option("--lowest-bar", type=float, required=True, help="Needle at its lowest during them, bar.")
@click.option("--after-bar", type=float, help="Needle settled after them, bar (leave out when not seen).")
@WATER_L
@click.option("--temp-degc", type=float, default=20.0, show_default=True, help="Temperature, degrees Celsius.")
@DIVISION_BAR
@O2
@SETTINGS
@AS_JSON
def breathing_test(
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
    readings = breathing.Readings(before_bar, lowest_bar, after_bar)
    litres = choose("cylinder", water_l=water_l)
    show(breathing.judge(readings, litres, gauge, temp_degc, share(o2_percent), centre.breathing), as_json)


@click.command("leak", cls=Refusing)
@click.option("--reading", "readings", multiple=True, help="MIN:BAR or MIN:BAR:DEGC, once for each reading.")
@click.option("--valve", type=click.Choice(["shut", "open"]), required=True, help="The cylinder valve during the test.")
@WATER_L
@DIVISION_BAR
@O2
@SETTINGS
@AS_JSON
def leak_test(
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
    taken = [leak.Reading(*numbers(text, (2, 3), "MIN:BAR or MIN:BAR:DEGC")) for text in readings]
    show(leak.judge(taken, leak.Valve(valve), water_l, gauge, share(o2_percent), centre.leak), as_json)
