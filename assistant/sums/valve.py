"""Flow through a cylinder valve that is not fully open, against what a breath asks for.

Ideal nozzle (isentropic, choked, gamma 1.4, no losses): an upper bound, so a true opening passes less.
Free litres per minute at 1.01325 bar and 20 degC. Why it matters: the same opening can feed a breath on
deck and starve it at depth, so any dip that a gauge shows on deck counts.
Source: textbook nozzle formula; checked by tests/sums/test_breathing.py against F rows of the check values.
"""

from __future__ import annotations

import math

from assistant.sums.compressibility import ZERO_DEGC_K
from assistant.sums.limits import PRESSURE_ABS, RMV, TEMP, Limit
from assistant.sums.units import ATM_BAR
from assistant.sums.water import Water, depth_at, gas_ratio

GAMMA = 1.4
AIR_J_KG_K = 287.05
FREE_KG_M3 = 1.2046
AREA = Limit("the opening of the valve", "mm2", 0.001, 100.0)


def choked_l_min(upstream_bar_abs: float, area_mm2: float, temp_degc: float = 20.0) -> float:
    """The most free litres per minute of air that an opening lets through at this pressure before it."""
    PRESSURE_ABS.check(upstream_bar_abs)
    AREA.check(area_mm2)
    temp_k = TEMP.check(temp_degc) + ZERO_DEGC_K
    factor = math.sqrt(GAMMA / (AIR_J_KG_K * temp_k)) * math.pow(2 / (GAMMA + 1), (GAMMA + 1) / (2 * (GAMMA - 1)))
    mass_kg_s = upstream_bar_abs * 1e5 * area_mm2 * 1e-6 * factor
    return mass_kg_s / FREE_KG_M3 * 1000 * 60


def peak_l_min(rmv_l_min: float, depth_m: float = 0.0, water: Water = Water.SEA, altitude_m: float = 0.0) -> float:
    """Free litres per minute at the height of a breath: pi times the mean, for breathing like a sine."""
    return math.pi * RMV.check(rmv_l_min) * gas_ratio(depth_m, water, altitude_m)


def starving_depth_m(upstream_bar_abs: float, area_mm2: float, rmv_l_min: float, temp_degc: float = 20.0) -> float:
    """Depth in metres of sea from which this opening no longer feeds the height of a breath; below 0: on deck."""
    ratio = choked_l_min(upstream_bar_abs, area_mm2, temp_degc) / (math.pi * RMV.check(rmv_l_min))
    return depth_at(ratio * ATM_BAR)
