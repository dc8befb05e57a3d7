"""Gas in a cylinder: key rows from outside, the stated errors against CoolProp, and what must always hold."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadInput
from assistant.sums import cylinder, units
from assistant.sums.compressibility import AIR_O2_SHARE
from assistant.sums.content import (
    ERROR_AIR,
    ERROR_MIX,
    Model,
    after_temperature,
    free_l,
    gauge_for,
    measure,
    slope_bar_k,
)

calm = settings(deadline=None, database=None, derandomize=True, max_examples=80)
litres = st.floats(0.5, 30)
gauges = st.floats(1, 300)
temps = st.floats(-10, 50)
shares = st.floats(0.21, 0.40)


@pytest.mark.parametrize(
    ("water_l", "gauge", "o2_share", "model", "expected", "tolerance"),
    [
        (10, 50, AIR_O2_SHARE, Model.REAL, 509, 0.005),
        (12, 200, AIR_O2_SHARE, Model.REAL, 2318, 0.005),
        (12, 200, AIR_O2_SHARE, Model.IDEAL, 2381, 0.001),
        (12, 232, AIR_O2_SHARE, Model.REAL, 2631, 0.005),
        (15, 300, AIR_O2_SHARE, Model.REAL, 4030, 0.005),
        (15, 300, AIR_O2_SHARE, Model.IDEAL, 4456, 0.001),
        (12, 200, 0.32, Model.REAL, 2343, 0.006),
        (12, 200, 0.36, Model.REAL, 2353, 0.006),
    ],
)
def test_free_litres(
    water_l: float, gauge: float, o2_share: float, model: Model, expected: float, tolerance: float
) -> None:
    """Real: CoolProp 8.0.0 (air; N2/O2/Ar mixture). Ideal: arithmetic, V (p + 1.01325) / 1.01325."""
    assert free_l(water_l, gauge, 20, o2_share, model) == pytest.approx(expected, rel=tolerance)


def test_rated_content_of_an_80() -> None:
    """77.4 cu ft at 3000 psi, read in a public forum page, for the common 11.1 l of water."""
    assert cylinder.Cylinder(11.1, units.bar_from_psi(3000)).rated_cuft() == pytest.approx(77.4, rel=0.015)
    assert cylinder.from_rating(77.4, 3000).water_l == pytest.approx(11.1, rel=0.015)


@pytest.mark.parametrize(
    ("gauge", "before", "after", "model", "expected", "tolerance"),
    [
        (200, 20, 10, Model.REAL, 190.1, 0.7),
        (200, 20, 10, Model.IDEAL, 193.1, 0.1),
        (230, 40, 15, Model.REAL, 204.0, 0.7),
        (230, 40, 15, Model.IDEAL, 211.6, 0.1),
        (232, 50, 20, Model.REAL, 202.2, 0.7),
        (50, 15, 25, Model.REAL, 52.0, 0.7),
    ],
)
def test_a_shut_cylinder_that_warms_or_cools(
    gauge: float, before: float, after: float, model: Model, expected: float, tolerance: float
) -> None:
    """Real: CoolProp 8.0.0. Ideal: arithmetic on absolute pressure and kelvin."""
    assert after_temperature(gauge, before, after, AIR_O2_SHARE, model) == pytest.approx(expected, abs=tolerance)


def test_slope_at_200_bar_is_not_the_ideal_one() -> None:
    """CoolProp 8.0.0: 0.979 bar/K at 200 bar absolute, 20 degC; ideal 0.682."""
    at = 200 - units.ATM_BAR
    slopes = [slope_bar_k(at, 20, AIR_O2_SHARE, model) for model in Model]
    assert slopes == pytest.approx([0.979, 0.682], abs=0.015)


@pytest.mark.parametrize(("o2_share", "stated"), [(None, ERROR_AIR), (0.28, ERROR_MIX), (0.36, ERROR_MIX)])
def test_stated_error_of_the_content_holds(
    coolprop: Callable[[float | None], Callable[[float, float], float]], o2_share: float | None, stated: float
) -> None:
    """Against CoolProp 8, whole range of pressure and temperature."""
    density, ours = coolprop(o2_share), o2_share or AIR_O2_SHARE
    free = density(units.ATM_BAR, 20)
    off = [
        free_l(12, gauge, temp, ours) / (12 * density(gauge + units.ATM_BAR, temp) / free) - 1
        for gauge in (1, 25, 50, 100, 150, 200, 232, 300, 340)
        for temp in (-20, 0, 20, 40, 60, 80)
    ]
    assert max(map(abs, off)) <= stated


def test_errors_stand_beside_the_result() -> None:
    found = measure(12, 300)
    assert found.reason == (
        "12 l at 300 bar and 20 degC hold 3224 free litres; the ideal gas law says 3565 (10.6 % too much) "
        "and litres times bar 3600 (11.6 % too much)."
    )
    assert (found.mass_kg, found.real_error_share) == pytest.approx((3.88, 0.002), rel=0.005)


def test_ideal_is_too_little_at_50_bar_and_too_much_at_200() -> None:
    """The sign turns near 150 bar at 20 degC (CoolProp 8.0.0)."""
    assert [measure(10, bar).ideal_error_share > 0 for bar in (50, 100, 200, 300)] == [False, False, True, True]


def test_200_to_150_bar_give_less_than_50_bar_of_gas() -> None:
    """A diver's page (thetheoreticaldiver.org, When real gas corrections matter): about 44 bar's worth, 12 % less.

    It rounds 193.7 less 148.9 bar, which are 44.8, and takes 300 K; its pressures are absolute.
    """
    worth = [free_l(1, bar - units.ATM_BAR, 26.85, AIR_O2_SHARE) * units.ATM_BAR * 300 / 293.15 for bar in (200, 150)]
    assert worth[0] - worth[1] == pytest.approx(44.8, abs=0.3)


@calm
@given(litres, gauges, temps, shares)
def test_content_and_gauge_turn_each_other_round(water_l: float, gauge: float, temp: float, o2: float) -> None:
    assert gauge_for(water_l, free_l(water_l, gauge, temp, o2), temp, o2) == pytest.approx(gauge, abs=1e-6)


@calm
@given(litres, gauges, temps, shares, st.sampled_from(Model))
def test_more_of_anything_holds_more(water_l: float, gauge: float, temp: float, o2: float, model: Model) -> None:
    here = free_l(water_l, gauge, temp, o2, model)
    assert free_l(water_l * 1.01, gauge, temp, o2, model) > here
    assert free_l(water_l, gauge + 1, temp, o2, model) > here
    assert free_l(water_l, gauge, temp + 1, o2, model) < here


@calm
@given(gauges, temps, st.floats(0.5, 10))
def test_a_cylinder_that_cools_and_warms_is_where_it_was(gauge: float, temp: float, by: float) -> None:
    colder = after_temperature(gauge, temp, temp - by)
    assert colder < gauge
    assert after_temperature(colder, temp - by, temp) == pytest.approx(gauge, abs=1e-6)


@pytest.mark.parametrize(
    ("water_l", "gauge", "temp", "o2_share", "understood", "expected"),
    [
        (12, -1, 20, 0.21, "-1 bar", "0 to 340 bar"),
        (12, 3000, 20, 0.21, "3000 bar", "If psi was meant, that is 206.8 bar"),
        (12, float("nan"), 20, 0.21, "nan, which is no number", "0 to 340 bar"),
        (0, 200, 20, 0.21, "0 l", "0.4 to 40 l"),
        (80, 200, 20, 0.21, "80 l", "0.4 to 40 l"),
        (0.39, 200, 20, 0.21, "0.39 l", "If cubic feet of water was meant, that is 11.04 l"),
        (12, 200, 293, 0.21, "293 degC", "-20 to 80 degC"),
        (12, 200, 20, 2.1, "2.1 (a fraction)", "If a tenth of that was meant, that is 0.21"),
        (12, 200, 20, 210, "210 (a fraction)", "If a thousandth of that was meant, that is 0.21"),
        (12, 200, 20, 32, "32 (a fraction)", "If percent was meant, that is 0.32"),
        (12, 200, 20, 1.0, "1 (a fraction)", "0.2 to 0.4"),
    ],
)
def test_refusals(water_l: float, gauge: float, temp: float, o2_share: float, understood: str, expected: str) -> None:
    with pytest.raises(BadInput) as refusal:
        free_l(water_l, gauge, temp, o2_share)
    assert understood in str(refusal.value)
    assert expected in refusal.value.mend


def test_less_than_open_to_the_air_is_refused() -> None:
    with pytest.raises(BadInput, match="less than it holds open to the air"):
        gauge_for(12, 5)


def test_a_hot_full_cylinder_beyond_the_model_is_refused() -> None:
    with pytest.raises(BadInput, match=r"absolute pressure was understood as 41\d"):
        after_temperature(330, 20, 70)
