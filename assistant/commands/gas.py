"""kitcall gas: gas in a cylinder, real and ideal, with the error of each. Parse, call, print; no sums here."""

from __future__ import annotations

import click

from assistant.commands.sums import AS_JSON, O2, WATER_L, Refusing, choose, share, show
from assistant.errors import BadInput
from assistant.sums import cylinder
from assistant.sums.content import measure
from assistant.sums.limits import PRESSURE_PSI, TEMP_DEGF, WORKING_PSI
from assistant.sums.units import bar_from_psi, degc_from_degf


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
        litres = cylinder.from_rating(rated_cuft, WORKING_PSI.check(working_psi)).water_l
    pressure = choose("pressure", pressure_bar=pressure_bar, pressure_psi=pressure_psi)
    bar = bar_from_psi(PRESSURE_PSI.check(pressure)) if pressure_psi is not None else pressure
    warm = 20.0 if temp_degc is None and temp_degf is None else choose("temp", temp_degc=temp_degc, temp_degf=temp_degf)
    degc = degc_from_degf(TEMP_DEGF.check(warm)) if temp_degf is not None else warm
    show(measure(litres, bar, degc, share(o2_percent)), as_json)
