"""Gas for a dive: what it takes, what must stay for two sharing from the deepest point, when to turn.

Litres are free litres (1.01325 bar, 20 degC); a minute at depth takes the surface rate times the pressure
ratio of water.py. All of the time before the ascent counts at the deepest point. The reserve brings two
divers up: time to sort it out, ascent at the mean pressure, the stop. Pressures by the real gas, with the
ideal gas's reserve beside. Advice to qualified people: decompression, cold and work are theirs to judge.
Buoyancy and weights are out of scope. Sources: US Navy Diving Manual worked examples, arithmetic on the
stated formulas; checked by tests/sums/test_dive.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from assistant.errors import BadInput
from assistant.sums.compressibility import AIR_O2_SHARE
from assistant.sums.content import FREE_DEGC, Model, error_share, free_l, gauge_for
from assistant.sums.gauge import Gauge
from assistant.sums.limits import DIVE_DEPTH, MINUTES, PRESSURE, RMV, START
from assistant.sums.settings import Mix, Plan, defaults
from assistant.sums.water import Water, ambient_bar, gas_ratio


class Supply(StrEnum):
    """Only ENOUGH passes."""

    ENOUGH = "enough"
    SHORT = "short"
    TOO_RICH = "too_rich"  # oxygen partial pressure above the limit at this depth


@dataclass(frozen=True, slots=True)
class Dive:
    """Deepest point in m, minutes until the ascent, the water, its altitude; degC on deck and in the water."""

    depth_m: float
    bottom_min: float
    water: Water = Water.SEA
    altitude_m: float = 0.0
    deck_degc: float = FREE_DEGC
    water_degc: float = FREE_DEGC

    def ratio(self, depth_m: float) -> float:
        return gas_ratio(depth_m, self.water, self.altitude_m)

    def po2_bar(self, o2_share: float) -> float:
        return o2_share * ambient_bar(self.depth_m, self.water, self.altitude_m)


@dataclass(frozen=True, slots=True)
class Diver:
    """A diver's cylinder (water litres, gauge bar at the start, oxygen) and breathing rate in l/min."""

    water_l: float
    start_bar: float
    rmv_l_min: float | None = None
    o2_share: float = AIR_O2_SHARE


@dataclass(frozen=True, slots=True)
class DivePlan:
    """Pressures as the gauge shows them in the water; reserve and turn are rounded up to what it can show.

    reserve_ideal_bar is what the ideal gas would ask for, unrounded, and reserve_ideal_error_bar how far that is off;
    model_error_share is the real gas's own error. turn_bar is None when there is no gas above the reserve,
    end_of_bottom_bar when it would run out.
    """

    supply: Supply
    start_l: float
    bottom_l: float
    reserve_l: float
    reserve_bar: float
    reserve_ideal_bar: float
    turn_bar: float | None
    margin_l: float
    margin_min: float
    longest_min: float
    end_of_bottom_bar: float | None
    po2_bar: float
    model_error_share: float
    reserve_ideal_error_bar: float
    reason: str

    @property
    def passes(self) -> bool:
        return self.supply is Supply.ENOUGH


def used_l(
    rmv_l_min: float, minutes: float, depth_m: float, water: Water = Water.SEA, altitude_m: float = 0.0
) -> float:
    """Free litres that one diver breathes at one depth.

    Args: rmv_l_min at the surface 5..90; minutes 0.1..600; depth_m 0..60. Raises: BadInput outside.
    """
    return RMV.check(rmv_l_min) * gas_ratio(depth_m, water, altitude_m) * MINUTES.check(minutes)


def ascent_parts(dive: Dive, practice: Plan) -> list[tuple[float, float]]:
    """(minutes, mean pressure ratio) of the way up: the ascent, then the stop where the dive is deeper than it."""
    mean = (dive.ratio(dive.depth_m) + dive.ratio(0.0)) / 2
    parts = [(dive.depth_m / practice.ascent_m_min, mean)]
    if practice.stop_min and dive.depth_m > practice.stop_m:
        parts.append((practice.stop_min, dive.ratio(practice.stop_m)))
    return parts


def reserve_l(dive: Dive, practice: Plan | None = None) -> float:
    """Free litres with which two divers sharing one cylinder reach the surface from the deepest point."""
    practice = practice or defaults().plan
    parts = [(practice.sort_out_min, dive.ratio(dive.depth_m)), *ascent_parts(dive, practice)]
    return 2 * practice.shared_rmv_l_min * sum(minutes * ratio for minutes, ratio in parts)


def bar_above_empty(diver: Diver, litres: float, degc: float, model: Model = Model.REAL) -> float:
    """Gauge pressure of a cylinder with these free litres above what it holds open to the air.

    Raises: BadInput when no gauge goes that far.
    """
    empty_l = free_l(diver.water_l, 0.0, degc, diver.o2_share, model)
    most_l = free_l(diver.water_l, PRESSURE.high, degc, diver.o2_share, model) - empty_l
    if litres > most_l:
        raise BadInput(
            f"{litres:.0f} free litres are needed in a cylinder of {diver.water_l:g} l, which holds {most_l:.0f}.",
            "Take a larger cylinder or less depth.",
        )
    return gauge_for(diver.water_l, empty_l + litres, degc, diver.o2_share, model)


def round_up(bar: float, gauge: Gauge) -> float:
    """To the next pressure that the gauge can show; away from the danger."""
    return math.ceil(bar / gauge.smallest_bar - 1e-9) * gauge.smallest_bar


def plan(
    diver: Diver,
    dive: Dive,
    practice: Plan | None = None,
    mix: Mix | None = None,
    gauge: Gauge | None = None,
) -> DivePlan:
    """Plan the gas of one diver for a dive.

    Raises: BadInput for values that cannot be meant, with what was understood and what is expected, and for a
    cylinder that cannot hold the reserve at all; the guide asks again or changes cylinder or depth.
    Error: content 0.3 %; pressure in the water 0.02 bar; a breathing rate is a guess that outweighs both.
    """
    practice, mix = practice or defaults().plan, mix or defaults().mix
    gauge = gauge or defaults().gauge.as_gauge()
    DIVE_DEPTH.check(dive.depth_m)
    START.check(diver.start_bar)
    needed = reserve_l(dive, practice)
    needed_bar = bar_above_empty(diver, needed, dive.water_degc)
    ideal_bar = bar_above_empty(diver, needed, dive.water_degc, Model.IDEAL)
    reserve_bar = round_up(max(needed_bar, practice.least_reserve_bar), gauge)
    start, kept = start_and_kept_l(diver, dive, reserve_bar)
    rate_l_min = diver.rmv_l_min if diver.rmv_l_min is not None else practice.rmv_l_min
    bottom = used_l(rate_l_min, dive.bottom_min, dive.depth_m, dive.water, dive.altitude_m)
    margin, per_min = start - bottom - kept, bottom / dive.bottom_min
    turn_l = start - practice.turn_share * (start - kept)
    found = DivePlan(
        supply=judge(margin, dive.po2_bar(diver.o2_share), mix),
        start_l=start,
        bottom_l=bottom,
        reserve_l=needed,
        reserve_bar=reserve_bar,
        reserve_ideal_bar=ideal_bar,
        turn_bar=round_up(bar_above_empty(diver, turn_l, dive.water_degc), gauge) if start > kept else None,
        margin_l=margin,
        margin_min=margin / per_min,
        longest_min=(start - kept) / per_min,
        end_of_bottom_bar=bar_above_empty(diver, start - bottom, dive.water_degc) if start > bottom else None,
        po2_bar=dive.po2_bar(diver.o2_share),
        model_error_share=error_share(diver.o2_share),
        reserve_ideal_error_bar=ideal_bar - needed_bar,
        reason="",
    )
    return replace(found, reason=explain(found, dive, mix))


def start_and_kept_l(diver: Diver, dive: Dive, reserve_bar: float) -> tuple[float, float]:
    """Free litres above an empty cylinder: at the start (on deck), and at the reserve (in the water)."""
    deck = free_l(diver.water_l, diver.start_bar, dive.deck_degc, diver.o2_share)
    kept = free_l(diver.water_l, reserve_bar, dive.water_degc, diver.o2_share)
    empty = free_l(diver.water_l, 0.0, dive.deck_degc, diver.o2_share)
    return deck - empty, kept - empty


def judge(margin_l: float, po2_bar: float, mix: Mix) -> Supply:
    if po2_bar > mix.po2_bar + 1e-9:
        return Supply.TOO_RICH
    return Supply.ENOUGH if margin_l >= 0 else Supply.SHORT


REASONS = {
    Supply.ENOUGH: "Enough: {bottom:.0f} l for {minutes:.4g} min at {depth:.3g} m leave {margin:.0f} l above the "
    "reserve of {reserve:.0f} bar that brings two up; turn at {turn:.0f} bar.",
    Supply.SHORT: "Not enough: {bottom:.0f} l for {minutes:.4g} min at {depth:.3g} m go {short:.0f} l into the "
    "reserve of {reserve:.0f} bar that brings two up; {longest}.",
    Supply.TOO_RICH: "Too rich for {depth:.3g} m: the oxygen partial pressure is {po2:.2f} bar there, the limit is "
    "{limit:g}.",
}


def explain(found: DivePlan, dive: Dive, mix: Mix) -> str:
    longest = f"the gas is good for {math.floor(found.longest_min)} min" if found.longest_min >= 1 else "no dive there"
    return REASONS[found.supply].format(
        bottom=found.bottom_l,
        minutes=dive.bottom_min,
        depth=dive.depth_m,
        margin=found.margin_l,
        short=-found.margin_l,
        reserve=found.reserve_bar,
        turn=found.turn_bar or math.nan,
        longest=longest,
        po2=found.po2_bar,
        limit=mix.po2_bar,
    )
