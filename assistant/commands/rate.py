"""kitcall rate: a diver's breathing rate from a dive that was made. Parse, call, print; no sums here."""

from __future__ import annotations

import click

from assistant.commands.sums import AS_JSON, O2, WATER_L, Refusing, choose, share, show
from assistant.sums.rate import measure
from assistant.sums.water import Water


@click.command(cls=Refusing)
@WATER_L
@click.option("--start-bar", type=float, required=True, help="Gauge at the start of the dive, bar.")
@click.option("--end-bar", type=float, required=True, help="Gauge at its end, bar.")
@click.option("--minutes", type=float, required=True, help="How long it took, minutes.")
@click.option("--mean-depth-m", type=float, required=True, help="Mean depth, metres.")
@click.option("--water", type=click.Choice([w.value for w in Water]), default="sea", show_default=True, help="Water.")
@O2
@AS_JSON
def rate(
    water_l: float | None,
    start_bar: float,
    end_bar: float,
    minutes: float,
    mean_depth_m: float,
    water: str,
    o2_percent: float | None,
    as_json: bool,
) -> None:
    """A diver's breathing rate at the surface, from a dive that was made."""
    litres = choose("cylinder", water_l=water_l)
    show(measure(litres, start_bar, end_bar, minutes, mean_depth_m, Water(water), share(o2_percent)), as_json)
