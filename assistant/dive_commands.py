"""Command line of a dive's sums: plan, mix. Parse, call, print; no sums here.

Every option names its unit; see sums_commands.py for what they share.
"""

from __future__ import annotations

from pathlib import Path

import click

from assistant.errors import BadInput
from assistant.sums import analyser, dive, group, mix, picture
from assistant.sums import rate as rates
from assistant.sums.limits import O2_PERCENT
from assistant.sums.units import m_from_ft
from assistant.sums.water import Water
from assistant.sums_printing import AS_JSON, O2, SETTINGS, WATER_L, Refusing, choose, gauge_of, numbers, share, show


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
    depth = m_from_ft(depth) if depth_ft is not None else depth
    cold = deck_degc if water_degc is None else water_degc
    wanted = dive.Dive(depth, bottom_min, Water(water), altitude_m, deck_degc, cold)
    people = dict(diver_of(text, share(o2_percent)) for text in divers)
    if len(people) < len(divers):
        raise BadInput("Two divers were understood with the same name.", "Give each diver a name of their own.")
    plans = {name: dive.plan(one, wanted, centre.plan, centre.mix, gauge) for name, one in people.items()}
    if svg is not None:
        first = next(iter(people))
        svg.write_text(picture.draw(people[first], wanted, plans[first], centre.plan), encoding="utf-8")
    show(group.limit(plans) if len(plans) > 1 else next(iter(plans.values())), as_json, plans if len(plans) > 1 else {})


def diver_of(text: str, o2_share: float) -> tuple[str, dive.Diver]:
    """A diver from NAME:WATER_L:START_BAR, with :RMV_L_MIN where it is known."""
    name, _, rest = text.partition(":")
    water_l, start_bar, *rate = numbers(rest, (2, 3), "NAME:WATER_L:START_BAR[:RMV_L_MIN]")
    return name, dive.Diver(water_l, start_bar, rate[0] if rate else None, o2_share)


@click.command("rate", cls=Refusing)
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
    show(rates.measure(litres, start_bar, end_bar, minutes, mean_depth_m, Water(water), share(o2_percent)), as_json)


@click.command("mix", cls=Refusing)
@click.option("--label-percent", type=float, required=True, help="Oxygen on the label, percent.")
@click.option("--analysed-percent", type=float, required=True, help="Oxygen as the analyser read it, percent.")
@click.option("--air-after-percent", type=float, help="What the analyser shows in air afterwards, percent.")
@click.option("--warmer-degc", type=float, help="How much warmer it is than at its calibration, degrees Celsius.")
@click.option("--depth-m", type=float, help="Planned depth, metres.")
@click.option("--minutes", type=float, help="Time at that depth, minutes.")
@SETTINGS
@AS_JSON
def mix_check(
    label_percent: float,
    analysed_percent: float,
    air_after_percent: float | None,
    warmer_degc: float | None,
    depth_m: float | None,
    minutes: float | None,
    settings: Path | None,
    as_json: bool,
) -> None:
    """Judge a mix: analysis against label, deepest depth, equivalent air depth, oxygen exposure."""
    centre, _ = gauge_of(settings, None)
    if air_after_percent is not None or warmer_degc is not None:
        shows = analyser.CALIBRATED_PERCENT if air_after_percent is None else air_after_percent
        analysis = analyser.correct(analysed_percent, shows, warmer_degc or 0.0, practice=centre.mix)
        if not analysis.usable:
            raise BadInput(analysis.reason, "Calibrate the analyser in dry air and analyse again.")
        analysed_percent = analysis.percent
    shares = (O2_PERCENT.check(label_percent) / 100, O2_PERCENT.check(analysed_percent) / 100)
    show(mix.judge(*shares, depth_m, minutes, centre.mix), as_json)
