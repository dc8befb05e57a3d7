"""Pressure at depth and at altitude."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadInput
from assistant.sums.water import Water, ambient_bar, depth_at, gas_ratio, surface_bar

calm = settings(deadline=None, database=None, derandomize=True, max_examples=80)


@pytest.mark.parametrize(
    ("depth", "water", "expected", "tolerance"),
    [
        (10, Water.SEA, 2.021, 0.02),
        (30, Water.SEA, 4.038, 0.02),
        (40, Water.SEA, 5.046, 0.02),
        (10, Water.FRESH, 1.994, 0.01),
        (40, Water.FRESH, 4.936, 0.01),
        (30, Water.MSW, 4.0, 1e-9),
        (10, Water.GAUGE, 2.01325, 1e-9),
    ],
)
def test_pressure_at_depth(depth: float, water: Water, expected: float, tolerance: float) -> None:
    """Sea: TEOS-10 standard ocean at 45 degrees (gsw 3.6.23). Fresh: 1000 kg/m3. MSW: definition. GAUGE: EN 13319."""
    assert ambient_bar(depth, water) == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize(("altitude", "hpa"), [(0, 1013.2), (1000, 898.7), (2000, 795.0)])
def test_standard_atmosphere(altitude: float, hpa: float) -> None:
    """ISO 2533 formula."""
    assert surface_bar(altitude) * 1000 == pytest.approx(hpa, abs=0.3)


def test_one_breath_at_the_surface_is_one_breath() -> None:
    assert [gas_ratio(0, water) for water in Water] == [1.0, 1.0, 1.0, 1.0]


@calm
@given(st.floats(0, 59), st.floats(0, 3000), st.sampled_from(Water))
def test_deeper_is_more_and_higher_is_less(depth: float, altitude: float, water: Water) -> None:
    here = ambient_bar(depth, water, altitude)
    assert ambient_bar(depth + 1, water, altitude) > here > ambient_bar(depth, water, altitude + 100)
    assert depth_at(here, water, altitude) == pytest.approx(depth, abs=1e-9)


@pytest.mark.parametrize(
    ("depth", "altitude", "mend"),
    [
        (-1, 0, "0 to 60 m"),
        (100, 0, "If feet was meant, that is 30.48 m"),
        (10, 9000, "that is 2743 m"),
    ],
)
def test_refusals(depth: float, altitude: float, mend: str) -> None:
    with pytest.raises(BadInput) as refusal:
        ambient_bar(depth, Water.SEA, altitude)
    assert mend in refusal.value.mend
