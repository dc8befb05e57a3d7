"""kitcall plan: gas for a dive, of one diver or a group. Parse, call, print; no sums here."""

from __future__ import annotations

from pathlib import Path

import click

from assistant.commands.sums import AS_JSON, O2, SETTINGS, Refusing, choose, gauge_of, numbers, share, show
from assistant.errors import BadInput
from assistant.sums import dive, group, picture
from assistant.sums.dive import plan as plan_gas
from assistant.sums.limits import DIVE_DEPTH_FT
from assistant.sums.units import m_from_ft
from assistant.sums.water import Water


@click.command(cls=Refusing)
@click.option("--diver", "divers", multiple=True, required=True, help="NAME:WATER_L:START_BAR or with :RMV_L_MIN.")
@click.option("--depth-m", type=float, help="Deepest point, metres.")
@click.option("--depth-ft", type=float, help="Deepest point, feet.")
@click.option("--bottom-min", type=float, required=True, help="Minutes until the ascent.")
@click.option("--water", type=click.Choice([w.value for w in Water]), default="sea", show_default=True, help="Water.")
@click.option("--altitude-m", type=float, default=0.0, show_default=True, help="Altitude of the water, metres.")
@click.option("--deck-degc", type=float, default=20.0, show_default=True, help="Cylinder on deck, degrees Celsius.")
@click.option("--water-degc", type=float, help="Water, degrees Celsius (as on deck when not given).")
@click.option("--svg", type=click.Path(dir_okay=False, path_type=Path), help="Draw the first diver's gas to this file.")
@O2
@SETTINGS
@AS_JSON
def plan(
    divers: tuple[str, ...],
    depth_m: float | None,
    depth_ft: float | None,
    bottom_min: float,
    water: str,
    altitude_m: float,
    deck_degc: float,
    water_degc: float | None,
    svg: Path | None,
    o2_percent: float | None,
    settings: Path | None,
    as_json: bool,
) -> None:
    """Gas for a dive: reserve for two sharing, turn pressure, and the group's smallest margin.

    Buoyancy and weights are out of scope.
    """
    centre, gauge = gauge_of(settings, None)
    depth = choose("depth", depth_m=depth_m, depth_ft=depth_ft)
    depth = m_from_ft(DIVE_DEPTH_FT.check(depth)) if depth_ft is not None else depth
    cold = deck_degc if water_degc is None else water_degc
    wanted = dive.Dive(depth, bottom_min, Water(water), altitude_m, deck_degc, cold)
    people = dict(diver_of(text, share(o2_percent)) for text in divers)
    if len(people) < len(divers):
        raise BadInput("Two divers were understood with the same name.", "Give each diver a name of their own.")
    plans = {name: plan_gas(one, wanted, centre.plan, centre.mix, gauge) for name, one in people.items()}
    if svg is not None:
        first = next(iter(people))
        svg.write_text(picture.draw(people[first], wanted, plans[first], centre.plan), encoding="utf-8")
    show(group.limit(plans) if len(plans) > 1 else next(iter(plans.values())), as_json, plans if len(plans) > 1 else {})


def diver_of(text: str, o2_share: float) -> tuple[str, dive.Diver]:
    """A diver from NAME:WATER_L:START_BAR, with :RMV_L_MIN where it is known."""
    name, _, rest = text.partition(":")
    water_l, start_bar, *rate = numbers(rest, (2, 3), "NAME:WATER_L:START_BAR[:RMV_L_MIN]")
    return name, dive.Diver(water_l, start_bar, rate[0] if rate else None, o2_share)
