"""Gas for a dive: published and hand-worked examples, the group, the picture, and what must always hold."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadInput
from assistant.sums import group, picture, rate
from assistant.sums.content import Model, free_l
from assistant.sums.dive import Dive, Diver, Supply, bar_above_empty, plan, reserve_l, used_l
from assistant.sums.settings import defaults
from assistant.sums.units import ft_from_m
from assistant.sums.water import Water, gas_ratio

calm = settings(deadline=None, database=None, derandomize=True, max_examples=60)
CALM_SHARING = defaults().plan.model_copy(update={"shared_rmv_l_min": 20.0})
NO_STOP = CALM_SHARING.model_copy(update={"stop_min": 0.0})


@pytest.mark.parametrize(
    ("per_min", "depth", "minutes", "litres"), [(20, 18, 40, 2240), (20, 30, 20, 1600), (25, 15, 30, 1875)]
)
def test_gas_used(per_min: float, depth: float, minutes: float, litres: float) -> None:
    """Arithmetic, rate times bar times minutes, surface 1 bar."""
    assert used_l(per_min, minutes, depth, Water.MSW) == pytest.approx(litres, rel=0.001)


@pytest.mark.parametrize(("minutes", "depth", "printed_l"), [(45, 25, 1969), (60, 10, 1500), (30, 35, 1687.5)])
def test_gas_used_of_a_printed_example(minutes: float, depth: float, printed_l: float) -> None:
    """Worked examples at 12.5 l/min (stw-news.org, how to calculate surface air consumption)."""
    assert used_l(12.5, minutes, depth, Water.MSW) == pytest.approx(printed_l, abs=0.5)


def test_a_rate_in_psi_of_a_printed_example() -> None:
    """Worked example (justaaa.com physics 447661): 2800 to 300 psi in 50 min at a mean of 20 fsw. Its last line prints
    1556.6, where it forgot the minutes: 31.13 psi/min at the surface."""
    assert 2500 / gas_ratio(20 / 33 * 10, Water.MSW) == pytest.approx(1556.6, abs=0.05)


@pytest.mark.parametrize(("per_min", "depth", "printed_min"), [(30, 0, 73), (30, 30, 18), (18, 30, 30), (40, 30, 14)])
def test_how_long_182_bar_of_12_litres_last(per_min: float, depth: float, printed_min: float) -> None:
    """A public guide to choosing a cylinder (scuba-diving-adviser.co.uk), 232 bar less 50; litres times bar."""
    assert 12 * 182 / used_l(per_min, 1, depth, Water.MSW) == pytest.approx(printed_min, abs=0.5)


def test_rate_from_a_dive_that_was_made() -> None:
    """A dive shop's example (dorsetdiving.co.uk): 150 bar of 12 l, 55 min at 12 m: 14.8 l/min by litres times bar.

    Free litres are counted at 1.01325 bar here, so the ideal law gives 1.3 % less than litres times bar.
    """
    assert rate.measure(12, 200, 50, 55, 12, Water.MSW).ideal_l_min == pytest.approx(14.8, rel=0.02)


def test_two_sharing_at_40_m() -> None:
    """A dive shop's example (blog.davyjoneslocker.asia): 2 min at 40 m 600 l, 3 min at 5 m 270 l, 30 l/min each.

    Its ascent part takes another mean pressure and is not used.
    """
    at_depth, at_stop = (2 * used_l(30, minutes, depth, Water.MSW) for minutes, depth in ((2, 40), (3, 5)))
    assert (at_depth, at_stop) == pytest.approx((600, 270))


@pytest.mark.parametrize(("practice", "litres"), [(NO_STOP, 493), (CALM_SHARING, 673)], ids=["no stop", "stop"])
def test_reserve_by_hand(practice: object, litres: float) -> None:
    """Arithmetic: 2 x 20 l/min x (4 bar x 1 min + 2.5 bar x 30/9 min [+ 1.5 bar x 3 min])."""
    assert reserve_l(Dive(30, 20, Water.MSW), practice) == pytest.approx(litres, rel=0.005)  # type: ignore[arg-type]


def test_reserve_as_pressure() -> None:
    """Arithmetic, ideal: 673 l in 12 l are 56.9 bar; the real gas needs about as much there."""
    ideal, real = (bar_above_empty(Diver(12, 200), 673, 20, model) for model in (Model.IDEAL, Model.REAL))
    assert (ideal, real) == pytest.approx((56.9, 55.9), abs=0.5)


def test_the_default_ascent_is_no_faster_than_30_ft_a_minute() -> None:
    """US Navy Diving Manual Rev 4 Change A, p 8-3."""
    assert 29 < ft_from_m(defaults().plan.ascent_m_min) <= 30


def test_ascent_gas_of_the_navy_manual() -> None:
    """US Navy Diving Manual Rev 4 Change A, p 8-3: 7 min at a mean of 95 fsw and 1.4 acfm take 38.01 scf."""
    assert used_l(1.4 * 28.3168, 7, 95 / 3.3, Water.MSW) / 28.3168 == pytest.approx(38.01, abs=0.02)


@pytest.mark.parametrize(
    ("diver", "dive", "supply"),
    [
        pytest.param(Diver(12, 200), Dive(18, 25), Supply.ENOUGH, id="enough"),
        pytest.param(Diver(12, 200), Dive(18, 40), Supply.SHORT, id="into the reserve"),
        pytest.param(Diver(12, 60), Dive(18, 25), Supply.SHORT, id="starts at the reserve"),
        pytest.param(Diver(12, 30), Dive(18, 25), Supply.SHORT, id="starts below the reserve"),
        pytest.param(Diver(12, 200, o2_share=0.36), Dive(30, 10), Supply.TOO_RICH, id="too rich"),
        pytest.param(Diver(12, 200, o2_share=0.32), Dive(30, 10), Supply.ENOUGH, id="rich enough"),
    ],
)
def test_judged(diver: Diver, dive: Dive, supply: Supply) -> None:
    found = plan(diver, dive)
    assert (found.supply, found.passes) == (supply, supply is Supply.ENOUGH)


def test_the_reason_holds_the_numbers() -> None:
    assert plan(Diver(12, 200), Dive(18, 25)).reason == (
        "Enough: 1393 l for 25 min at 18 m leave 193 l above the reserve of 60 bar that brings two up; turn at 130 bar."
    )
    assert plan(Diver(12, 60), Dive(18, 25)).reason.endswith("no dive there.")


def test_the_least_gas_that_is_enough_is_enough_and_a_minute_more_is_not() -> None:
    longest = plan(Diver(12, 200), Dive(18, 25)).longest_min
    assert [plan(Diver(12, 200), Dive(18, longest + off)).passes for off in (-0.01, 1.0)] == [True, False]


def test_a_cylinder_that_cools_in_the_water_has_the_same_gas_and_less_pressure() -> None:
    warm, cold = (plan(Diver(12, 200), Dive(18, 20, deck_degc=30, water_degc=degc)) for degc in (30, 10))
    assert cold.start_l == warm.start_l
    assert cold.end_of_bottom_bar is not None
    assert warm.end_of_bottom_bar is not None
    assert cold.end_of_bottom_bar < warm.end_of_bottom_bar


@calm
@given(st.floats(8, 20), st.floats(150, 300), st.floats(5, 38), st.floats(5, 30), st.floats(12, 30))
def test_what_always_holds(water_l: float, start: float, depth: float, minutes: float, per_min: float) -> None:
    here = plan(Diver(water_l, start, per_min), Dive(depth, minutes))
    assert here.passes == (here.margin_l >= 0)
    assert plan(Diver(water_l, start, per_min), Dive(depth + 1, minutes)).margin_l < here.margin_l
    assert plan(Diver(water_l, start, per_min), Dive(depth, minutes + 1)).margin_l < here.margin_l
    assert plan(Diver(water_l, start, per_min * 1.1), Dive(depth, minutes)).margin_l < here.margin_l
    assert here.reserve_bar >= defaults().plan.least_reserve_bar
    kept = free_l(water_l, here.reserve_bar) - free_l(water_l, 0)
    assert kept >= here.reserve_l - 1e-6
    if here.turn_bar is not None:
        assert here.reserve_bar <= here.turn_bar <= start + 5


@calm
@given(st.floats(5, 40), st.floats(0, 3000))
def test_fresh_water_and_altitude_need_no_more_gas_than_the_sea(depth: float, altitude: float) -> None:
    sea, lake, high = (
        reserve_l(Dive(depth, 20, water, height))
        for water, height in ((Water.SEA, 0.0), (Water.FRESH, 0.0), (Water.FRESH, altitude))
    )
    assert sea > lake >= high


def test_the_smallest_margin_limits_the_group() -> None:
    dive = Dive(18, 15)
    plans = {"Ana": plan(Diver(12, 200, 15), dive), "Bo": plan(Diver(10, 200, 18), dive)}
    found = group.limit(plans)
    assert (found.limited_by, found.passes, found.short) == ("Bo", True, ())
    assert found.longest_min == min(one.longest_min for one in plans.values())
    assert found.reason.startswith("Bo has the smallest margin")


def test_one_diver_short_is_the_group_short() -> None:
    dive = Dive(18, 25)
    found = group.limit({"Ana": plan(Diver(12, 200, 15), dive), "Bo": plan(Diver(10, 190, 25), dive)})
    assert (found.passes, found.short) == (False, ("Bo",))
    assert found.reason.startswith("Not this dive: Bo. Not enough: 1741 l")


def test_picture_is_whole_the_same_each_time_and_drawn_from_the_points() -> None:
    diver, dive = Diver(12, 200), Dive(18, 25)
    found = plan(diver, dive)
    drawn = picture.draw(diver, dive, found)
    assert drawn == picture.draw(diver, dive, found)
    ElementTree.fromstring(drawn)
    assert set(re.findall(r"https?://[\w./]+", drawn)) <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert "reserve 60 bar" in drawn
    curve = picture.points(diver, dive, found)
    assert [round(minute, 6) for minute, _ in curve] == [0, 25, 27, 30]
    assert (curve[0][1], curve[1][1]) == pytest.approx((200, found.end_of_bottom_bar))
    assert [bar for _, bar in curve] == sorted((bar for _, bar in curve), reverse=True)


def test_picture_ends_where_the_gas_does() -> None:
    diver, dive = Diver(12, 200), Dive(30, 60)
    curve = picture.points(diver, dive, plan(diver, dive))
    assert (len(curve), curve[-1][1]) == (2, 0.0)
    assert curve[-1][0] < 60


@pytest.mark.parametrize(
    ("diver", "dive", "understood"),
    [
        (Diver(12, 3000), Dive(18, 40), "3000 bar"),
        (Diver(12, -200), Dive(18, 40), "-200 bar"),
        (Diver(12, 200, 0), Dive(18, 40), "0 l/min"),
        (Diver(12, 200, 0.7), Dive(18, 40), "0.7 l/min"),
        (Diver(12, 200), Dive(0, 40), "0 m"),
        (Diver(12, 200), Dive(100, 40), "100 m"),
        (Diver(12, 200), Dive(18, 0), "0 min"),
        (Diver(12, 200), Dive(18, -40), "-40 min"),
        (Diver(12, 200, o2_share=2.1), Dive(18, 40), "2.1"),
        (Diver(0, 200), Dive(18, 40), "0 l"),
        (Diver(2, 200), Dive(40, 10), "a cylinder of 2 l"),
    ],
)
def test_refusals(diver: Diver, dive: Dive, understood: str) -> None:
    with pytest.raises(BadInput, match=re.escape(understood)) as refusal:
        plan(diver, dive)
    assert refusal.value.mend


@pytest.mark.parametrize(("start", "end"), [(50, 200), (200, 200)])
def test_a_start_that_is_not_above_the_end_is_refused(start: float, end: float) -> None:
    with pytest.raises(BadInput, match=f"Start was understood as {start} bar and end as {end} bar"):
        rate.measure(12, start, end, 40, 18)


def test_a_rate_from_the_top_of_a_cylinder_is_far_too_high_by_the_ideal_law() -> None:
    """A diver's page (thetheoreticaldiver.org, When real gas corrections matter): 12 % from 200 to 150 bar."""
    assert rate.measure(12, 200, 150, 10, 10).ideal_error_share == pytest.approx(0.12, abs=0.02)


def test_a_group_of_nobody_is_refused() -> None:
    with pytest.raises(BadInput, match="no divers"):
        group.limit({})
