"""Breathing test: needle stories with the verdict each must get, and the flow through a valve half open."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadInput
from assistant.sums import valve
from assistant.sums.breathing import Needle, Readings, expected_fall_bar, judge
from assistant.sums.content import free_l
from assistant.sums.gauge import Gauge
from assistant.sums.water import Water

calm = settings(deadline=None, database=None, derandomize=True, max_examples=150)
DIGITAL = Gauge(division_bar=1, read_share=1)


@pytest.mark.parametrize(
    ("before", "lowest", "after", "water_l", "needle"),
    [
        pytest.param(200, 200, 200, 12, Needle.STEADY, id="open valve, full cylinder"),
        pytest.param(60, 60, 60, 12, Needle.STEADY, id="open valve, low cylinder"),
        pytest.param(200, 195, 195, 3, Needle.STEADY, id="small cylinder loses what it should"),
        pytest.param(200, 180, 200, 12, Needle.RESTRICTED, id="dips and recovers"),
        pytest.param(200, 195, 200, 12, Needle.RESTRICTED, id="dips one step and recovers"),
        pytest.param(200, 100, 150, 12, Needle.RESTRICTED, id="dips far, half recovers"),
        pytest.param(200, 5, 5, 12, Needle.SHUT, id="hose gas only"),
        pytest.param(200, 0, 0, 12, Needle.SHUT, id="breathed to nothing"),
        pytest.param(200, 190, 190, 12, Needle.FALLEN, id="falls and stays: label or reading wrong"),
        pytest.param(200, 200, 200, 1, Needle.UNMOVED, id="one litre must show the breaths"),
        pytest.param(200, 195, 195, 12, Needle.DOUBTFUL, id="one step, stays"),
        pytest.param(200, 197, 200, 12, Needle.DOUBTFUL, id="less than a step, recovers"),
        pytest.param(20, 20, 20, 12, Needle.DOUBTFUL, id="too little gas to say"),
        pytest.param(200, 200, None, 12, Needle.STEADY, id="steady, after not said"),
        pytest.param(200, 180, None, 12, Needle.DIPPED, id="dips, after not said"),
        pytest.param(200, 5, None, 12, Needle.DIPPED, id="falls far, after not said"),
        pytest.param(200, 195, None, 12, Needle.DOUBTFUL, id="one step, after not said"),
    ],
)
def test_needle_stories(before: float, lowest: float, after: float | None, water_l: float, needle: Needle) -> None:
    found = judge(Readings(before, lowest, after), water_l)
    assert (found.needle, found.passes) == (needle, needle is Needle.STEADY)


def test_the_reason_holds_both_computed_numbers() -> None:
    found = judge(Readings(200, 200, 200), 12)
    assert found.reason == (
        "The needle stayed within 5 bar, the least this gauge shows, and 3 full breaths take 0.44 to 1.5 bar "
        "from 12 l at 200 bar: the valve feeds these breaths."
    )
    assert found.breaths_to_show == pytest.approx(15.6, abs=0.1)


def test_a_finer_gauge_sees_what_a_coarse_one_cannot() -> None:
    dip = Readings(200, 198, 200)
    assert [judge(dip, 12, gauge).needle for gauge in (Gauge(), DIGITAL)] == [Needle.DOUBTFUL, Needle.RESTRICTED]


def test_expected_fall_by_hand() -> None:
    """9 l from 12 l at 200 bar: by the slope of the real-gas content (CoolProp: 1932 l at 200, 2193 at 232 in 10 l)."""
    per_bar_l = (2193 - 1932) / 32 * 1.2
    assert expected_fall_bar(12, 216, 3.0) == pytest.approx(9 / per_bar_l, rel=0.02)


def test_a_cylinder_with_less_than_the_breaths_falls_to_nothing() -> None:
    assert expected_fall_bar(0.5, 10, 5.0) == 10


@calm
@given(st.floats(0.5, 20), st.floats(20, 300), st.floats(0.5, 4))
def test_larger_breaths_and_smaller_cylinders_fall_further(water_l: float, gauge: float, breath_l: float) -> None:
    fall = expected_fall_bar(water_l, gauge, breath_l)
    assert (
        expected_fall_bar(water_l, gauge, breath_l * 1.1) >= fall >= expected_fall_bar(water_l * 1.1, gauge, breath_l)
    )
    if fall < gauge:
        gone = free_l(water_l, gauge) - free_l(water_l, gauge - fall)
        assert gone == pytest.approx(3 * breath_l, abs=1e-6)


@calm
@given(st.floats(1, 300), st.floats(0, 1), st.floats(0, 1), st.floats(0.5, 20))
def test_a_visible_recovery_or_an_unexplained_fall_never_passes(
    before: float, left: float, back: float, water_l: float
) -> None:
    lowest = before * left
    found = judge(Readings(before, lowest, lowest + (before - lowest) * back), water_l)
    if found.recovered_bar >= found.smallest_bar or found.lost_bar > found.expected_high_bar:
        assert not found.passes
    if found.passes:
        assert found.dip_bar <= found.expected_high_bar


@pytest.mark.parametrize(
    ("before", "lowest", "after", "understood"),
    [
        (0, 0, 0, "0 bar"),
        (200, 210, 200, "the lowest is not the lowest"),
        (200, 190, 180, "the lowest is not the lowest"),
        (180, 170, 200, "breathing adds no gas"),
        (2900, 2900, 2900, "2900 bar"),
        (-5, -5, -5, "-5 bar"),
        (370, 370, 370, "370 bar"),
    ],
)
def test_refusals(before: float, lowest: float, after: float, understood: str) -> None:
    with pytest.raises(BadInput, match=understood) as refusal:
        judge(Readings(before, lowest, after), 12)
    assert refusal.value.mend


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (valve.choked_l_min(200, 0.1), 235),
        (valve.choked_l_min(50, 0.1), 59),
        (valve.peak_l_min(20, 0, Water.MSW), 63),
        (valve.peak_l_min(20, 30, Water.MSW), 251),
    ],
)
def test_valve_flow_and_peak_of_a_breath(found: float, expected: float) -> None:
    """Isentropic nozzle, gamma 1.4; peak is pi times the mean for a sine: both arithmetic on textbook formulas."""
    assert found == pytest.approx(expected, rel=0.012)


def test_an_opening_that_feeds_a_breath_on_deck_starves_it_at_depth() -> None:
    """About 0.1 mm2 at 200 bar, 20 l/min: enough on deck (63 of 235 l/min), not below some 27 m."""
    assert 25 < valve.starving_depth_m(200, 0.1, 20) < 30
