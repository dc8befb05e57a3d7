"""A diver's breathing rate at the surface, from a dive that was made.

The start must be above the end. By the real gas, with the ideal gas's answer beside: from 200 to 150 bar
it is some 12 % too much. Source: dive.py's consumption formula, turned round. Checked by tests/sums/test_dive.py.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.errors import BadInput
from assistant.sums.compressibility import AIR_O2_SHARE
from assistant.sums.content import Model, error_share, free_l, off
from assistant.sums.limits import MINUTES, PRESSURE, RMV
from assistant.sums.water import Water, gas_ratio


@dataclass(frozen=True, slots=True)
class Rate:
    """Free litres a minute at the surface, by the real and the ideal gas, and the free litres gone."""

    real_l_min: float
    ideal_l_min: float
    gone_l: float
    ideal_error_share: float
    model_error_share: float
    reason: str


def measure(
    water_l: float,
    start_bar: float,
    end_bar: float,
    minutes: float,
    mean_depth_m: float,
    water: Water = Water.SEA,
    o2_share: float = AIR_O2_SHARE,
) -> Rate:
    """The rate from a cylinder's litres of water, its gauge at start and end, minutes and mean depth in m.

    Raises: BadInput when the start is not above the end, anything is out of range, or nobody breathes so; say them
    again.
    """
    PRESSURE.check(end_bar)
    if PRESSURE.check(start_bar) <= end_bar:
        raise BadInput(
            f"Start was understood as {start_bar:g} bar and end as {end_bar:g} bar.",
            "The start must be above the end; say them again, start first.",
        )
    per_l = MINUTES.check(minutes) * gas_ratio(mean_depth_m, water)
    real_gone, ideal_gone = (
        free_l(water_l, start_bar, 20, o2_share, model) - free_l(water_l, end_bar, 20, o2_share, model)
        for model in (Model.REAL, Model.IDEAL)
    )
    if not RMV.low <= real_gone / per_l <= RMV.high:
        raise BadInput(
            f"{water_l:g} l from {start_bar:g} to {end_bar:g} bar in {minutes:g} min at a mean of {mean_depth_m:g} m "
            f"was understood, which is {real_gone / per_l:.1f} l/min at the surface.",
            f"A diver breathes {RMV.low:g} to {RMV.high:g}: say cylinder, pressures, minutes and mean depth again.",
        )
    error = ideal_gone / real_gone - 1
    reason = (
        f"{real_gone:.0f} free litres in {minutes:g} min at a mean of {mean_depth_m:g} m are "
        f"{real_gone / per_l:.1f} l/min at the surface; the ideal gas law says {ideal_gone / per_l:.1f} ({off(error)})."
    )
    return Rate(real_gone / per_l, ideal_gone / per_l, real_gone, error, error_share(o2_share), reason)
