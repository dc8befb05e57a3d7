"""Pressure in the water and of the air above it.

Gives absolute pressure in bar at a depth in metres, for sea, fresh water, the density that depth
gauges assume, and the trade's rule "ten metres are one bar and the surface is one bar" (MSW).
Error: SEA by one density is within 0.02 bar of TEOS-10 down to 40 m; MSW is up to 0.04 bar low at 40 m.
Sources: hydrostatics; standard atmosphere ISO 2533; EN 13319 (from memory). Checked by tests/sums/test_water.py.
"""

from __future__ import annotations

from enum import StrEnum

from assistant.sums.limits import ALTITUDE, DEPTH
from assistant.sums.units import ATM_BAR

GRAVITY_M_S2 = 9.80665
PA_BAR = 1e-5


class Water(StrEnum):
    """What the dive is in, or which convention counts its depth."""

    SEA = "sea"
    FRESH = "fresh"
    GAUGE = "gauge"  # EN 13319 depth gauges: 10 m are 1 bar (number from memory)
    MSW = "msw"  # rule of the trade: surface 1 bar, 10 m are 1 bar


DENSITY_KG_M3 = {Water.SEA: 1025.0, Water.FRESH: 1000.0, Water.GAUGE: 1e4 / GRAVITY_M_S2, Water.MSW: 1e4 / GRAVITY_M_S2}


def surface_bar(altitude_m: float = 0.0, water: Water = Water.SEA) -> float:
    """Air pressure over the water, absolute bar, from the standard atmosphere (ISO 2533 formula).

    Args: altitude_m -430..5000 m above sea level. MSW counts it relative to its own surface of 1 bar.
    Raises: BadInput for another altitude; give metres above sea level.
    Weather moves the real pressure by up to 4 %. Checked at 0, 1000, 2000 m.
    """
    share = float((1 - 0.0065 * ALTITUDE.check(altitude_m) / 288.15) ** 5.25588)
    return share * (1.0 if water is Water.MSW else ATM_BAR)


def ambient_bar(depth_m: float, water: Water = Water.SEA, altitude_m: float = 0.0) -> float:
    """Absolute pressure in bar at a depth of 0..60 m."""
    per_metre = DENSITY_KG_M3[water] * GRAVITY_M_S2 * PA_BAR
    return surface_bar(altitude_m, water) + per_metre * DEPTH.check(depth_m)


def gas_ratio(depth_m: float, water: Water = Water.SEA, altitude_m: float = 0.0) -> float:
    """How many times the gas of a breath at sea level one breath takes at this depth; 1 at the sea's surface."""
    reference = 1.0 if water is Water.MSW else ATM_BAR
    return ambient_bar(depth_m, water, altitude_m) / reference


def depth_at(pressure_bar_abs: float, water: Water = Water.SEA, altitude_m: float = 0.0) -> float:
    """Depth in metres where this absolute pressure reigns; below zero when the surface is already above it."""
    per_metre = DENSITY_KG_M3[water] * GRAVITY_M_S2 * PA_BAR
    return (pressure_bar_abs - surface_bar(altitude_m, water)) / per_metre
