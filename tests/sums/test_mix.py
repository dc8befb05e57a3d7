"""Mixes, oxygen exposure and the analyser: published tables and examples, and what must always hold."""

from __future__ import annotations

import re

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadInput
from assistant.sums import analyser, mix, oxygen
from assistant.sums.mix import Label

calm = settings(deadline=None, database=None, derandomize=True, max_examples=80)
shares = st.floats(0.20, 0.40)


@pytest.mark.parametrize(
    ("share", "po2", "depth_m", "shown_m"),
    [
        (0.21, 1.4, 56.7, 56),
        (0.28, 1.4, 40.0, 40),
        (0.32, 1.4, 33.8, 33),
        (0.32, 1.6, 40.0, 40),
        (0.36, 1.4, 28.9, 28),
        (0.36, 1.6, 34.4, 34),
        (0.40, 1.4, 25.0, 25),
    ],
)
def test_deepest_depth_is_rounded_down(share: float, po2: float, depth_m: float, shown_m: int) -> None:
    """Formula 10 (p / share - 1); 40 m for 32 % and 34 m for 36 % at 1.6 are the NOAA table's, read in a copy."""
    exact = mix.mod_m(share, po2)
    assert exact == pytest.approx(depth_m, abs=0.05)
    assert mix.round_down(exact) == shown_m


@pytest.mark.parametrize(("share", "po2", "fsw"), [(0.32, 1.4, 111.4), (0.32, 1.6, 132.0), (0.36, 1.4, 95.3)])
def test_deepest_depth_in_feet(share: float, po2: float, fsw: float) -> None:
    """A radio club's nitrox page prints 46.2 / r - 33 (qsl.net/zf2nt): the same formula."""
    assert mix.mod_fsw(share, po2) == pytest.approx(fsw, abs=0.1)
    assert mix.mod_fsw(share, 1.4) == pytest.approx(46.2 / share - 33)


def test_34_percent_at_30_m() -> None:
    """A club's slides (slideserve.com, nitrox overview): 1.36 bar at 30 m on 34 %, deepest 31 m."""
    found = mix.judge(0.34, 0.34, 30)
    assert found.po2_bar == pytest.approx(1.36)
    assert found.mod_m == 31


@pytest.mark.parametrize(
    ("share", "depth", "printed"),
    [(0.36, 27, 20.0), (0.36, 25, 18.3), (0.32, 33, 27.0), (0.32, 20, 15.8), (0.36, 17, 11.9), (0.36, 18, 12.7)],
)
def test_equivalent_air_depth(share: float, depth: float, printed: float) -> None:
    """Printed values of an encyclopaedia copy, of course slides (slideplayer.com 1649139), and of a course manual's
    sample problems (1library.net, "Using formulas"; 17 and 18 m)."""
    assert mix.ead_m(share, depth) == pytest.approx(printed, abs=0.06)


@pytest.mark.parametrize(
    ("share", "depth", "printed"), [(0.36, 90, 67), (0.36, 57, 40), (0.36, 60, 42), (0.40, 90, 60.4)]
)
def test_equivalent_air_depth_in_feet(share: float, depth: float, printed: float) -> None:
    """Printed: the same course manual (57 and 60 ft), and a worked example on 40 % (sportsfitness.win, "Como calcular
    EAD")."""
    assert mix.ead_fsw(share, depth) == pytest.approx(printed, abs=0.5)


def test_the_weighed_sea_is_never_deeper_than_the_trade_formula() -> None:
    off = [mix.mod_m(share, 1.4) - mix.mod_weighed_m(share, 1.4) for share in (0.21, 0.28, 0.32, 0.36, 0.40)]
    assert min(off) > 0
    assert max(off) < 0.45


@pytest.mark.parametrize(
    ("label", "analysed", "depth", "minutes", "expected"),
    [
        pytest.param(0.32, 0.318, 30, 40, Label.MATCHES, id="a little lean"),
        pytest.param(0.32, 0.33, 30, 40, Label.MATCHES, id="at the tolerance"),
        pytest.param(0.32, 0.3311, None, None, Label.DIFFERS, id="just over the tolerance"),
        pytest.param(0.32, 0.209, None, None, Label.DIFFERS, id="air in a nitrox cylinder"),
        pytest.param(0.21, 0.32, None, None, Label.DIFFERS, id="nitrox in an air cylinder"),
        pytest.param(0.32, 0.328, 33, 10, Label.TOO_DEEP, id="the richer of the two counts"),
        pytest.param(0.32, 0.32, 33, 160, Label.TOO_LONG, id="beyond the exposure limit"),
        pytest.param(0.32, 0.32, 45, 10, Label.TOO_DEEP, id="beyond every row of the table"),
    ],
)
def test_judged(label: float, analysed: float, depth: float | None, minutes: float | None, expected: Label) -> None:
    found = mix.judge(label, analysed, depth, minutes)
    assert (found.label, found.passes) == (expected, expected is Label.MATCHES)


def test_the_reason_holds_the_numbers() -> None:
    assert mix.judge(0.32, 0.318).reason == (
        "Analysed 31.8 % against 32.0 % on the label, within 1; deepest 33 m for 1.4 bar of oxygen."
    )


@pytest.mark.parametrize(
    ("name", "single", "day"),
    [
        ("noaa_2001", [720, 570, 450, 360, 300, 240, 210, 180, 150, 120, 45], [720, 570, 450, 360, 300, 270, 240, 210]),
        ("revised_2025", [720, 570, 450, 360, 300, 240, 210, 240, 150, 120, 45], [720, 570, 450, 360, 300, 270, 240]),
    ],
)
def test_exposure_tables(name: str, single: list[int], day: list[int]) -> None:
    """NOAA Diving Manual, 3rd and 4th edition; 2025 revision of one row (PMC12500339). 0.6 to 0.9 from memory."""
    rows = oxygen.table(name).rows
    assert [row.po2_ata for row in rows] == [0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6]
    assert [row.single_min for row in rows] == single
    assert [row.day_min for row in rows][: len(day)] == day


@pytest.mark.parametrize(
    ("po2", "minutes", "percent"), [(1.4, 30, 20.0), (1.6, 45, 100.0), (1.31, 40, 26.7), (0.5, 60, 0.0), (0.51, 72, 10)]
)
def test_share_of_the_single_limit(po2: float, minutes: float, percent: float) -> None:
    """Arithmetic on the table; between rows the next higher one."""
    assert oxygen.expose([(po2, minutes)]).single_share * 100 == pytest.approx(percent, abs=0.05)


@pytest.mark.parametrize(("share", "depth", "minutes", "printed_percent"), [(0.36, 28, 35, 23), (0.36, 25, 180, 100)])
def test_exposure_of_a_course_example(share: float, depth: float, minutes: float, printed_percent: float) -> None:
    """A diving school's pages (net-diver.org nitrox 16 and 17): 36 % at 28 m is the 1.40 row, 35 min there are 23 %;
    at 25 m it is the 1.30 row, 180 min."""
    found = mix.judge(share, share, depth, minutes).exposure
    assert found is not None
    assert found.single_share * 100 == pytest.approx(printed_percent, abs=0.5)


@pytest.mark.parametrize(("po2", "minutes", "otu"), [(1.4, 60, 97.7), (1.0, 100, 100), (0.5, 100, 0), (0.3, 10, 0)])
def test_lung_dose(po2: float, minutes: float, otu: float) -> None:
    """Formula of 1970, t ((p - 0.5) / 0.5)^0.83."""
    assert oxygen.otu(po2, minutes) == pytest.approx(otu, abs=0.05)


@calm
@given(st.floats(0.51, 1.59), st.floats(1, 200))
def test_more_oxygen_or_time_is_never_less_exposure(po2: float, minutes: float) -> None:
    here = oxygen.expose([(po2, minutes)])
    more, longer = oxygen.expose([(po2 + 0.01, minutes)]), oxygen.expose([(po2, minutes + 1)])
    assert more.single_share >= here.single_share < longer.single_share
    assert more.otu > here.otu < longer.otu


@calm
@given(shares, st.floats(0, 55))
def test_a_richer_mix_is_shallower_and_worth_less_air(share: float, depth: float) -> None:
    if share < 0.39:
        assert mix.mod_m(share + 0.01) < mix.mod_m(share)
        assert mix.ead_m(share + 0.01, depth) < mix.ead_m(share, depth)
    assert mix.round_down(mix.mod_m(share)) <= mix.mod_m(share) + 1e-9
    assert mix.mod_m(share) == pytest.approx((1.4 / share - 1) * 10)


@calm
@given(st.floats(1, 59), st.floats(1.0, 1.6))
def test_the_best_mix_reaches_exactly_its_depth(depth: float, po2: float) -> None:
    best = mix.best_share(depth, po2)
    if 0.20 <= best <= 0.40:
        assert mix.mod_m(best, po2) == pytest.approx(depth, abs=1e-9)


@pytest.mark.parametrize("degc", [0, 10, 20, 30, 40, 50])
def test_vapour_pressure(degc: float) -> None:
    """Against CoolProp (IAPWS-95); the form is Magnus as in WMO-No. 8, constants from memory."""
    theirs = PropsSI("P", "T", degc + 273.16, "Q", 0, "Water") / 1e5
    assert analyser.vapour_bar(degc) == pytest.approx(theirs, rel=0.005)


def test_analyser_without_drift_gives_its_reading() -> None:
    found = analyser.correct(32.0)
    assert (found.percent, found.low_percent, found.high_percent) == pytest.approx((32.0, 31.7, 32.3))
    assert found.usable


def test_drift_widens_to_both_sides_of_what_may_have_been() -> None:
    """A reading of 32.1 after which air shows 20.5: between 32.1 and 32.1 x 20.9 / 20.5, and 0.3 either way."""
    found = analyser.correct(32.1, 20.5)
    assert (found.low_percent, found.high_percent) == pytest.approx((31.8, 32.1 * 20.9 / 20.5 + 0.3))


def test_warmth_since_calibration_widens_too() -> None:
    cool, warm = (analyser.correct(32.0, degc_change=change) for change in (0, 10))
    assert warm.high_percent - warm.low_percent == pytest.approx(cool.high_percent - cool.low_percent + 1.28)


def test_air_at_30_degc_and_full_of_damp_calibrates_4_percent_high() -> None:
    """Vapour of 42.5 hPa (CoolProp, IAPWS-95) leaves 20.07 % oxygen in damp air."""
    assert analyser.air_percent(30, 1.0) == pytest.approx(20.95 * (1 - 0.04247 / 1.01325), abs=0.01)
    assert analyser.correct(33.4, damp_air_percent=20.07).percent == pytest.approx(32.0, abs=0.05)


def test_too_much_drift_is_not_usable() -> None:
    found = analyser.correct(36.0, 19.5)
    assert not found.usable
    assert "too wide to judge a label" in found.reason


@pytest.mark.parametrize(
    ("label", "analysed", "depth", "minutes", "understood", "mend"),
    [
        (2.1, 0.21, None, None, "2.1 (a fraction)", "If a tenth of that was meant, that is 0.21"),
        (210, 0.21, None, None, "210 (a fraction)", "If a thousandth of that was meant, that is 0.21"),
        (0.32, 32, None, None, "32 (a fraction)", "If percent was meant, that is 0.32"),
        (0.32, 0.0, None, None, "0 (a fraction)", "0.2 to 0.4"),
        (0.32, 1.0, None, None, "1 (a fraction)", "0.2 to 0.4"),
        (0.32, 0.32, 100, None, "100 m", "If feet was meant, that is 30.48 m"),
        (0.32, 0.32, -3, None, "-3 m", "1 to 60 m"),
        (0.32, 0.32, 30, 2400, "2400 min", "If seconds was meant, that is 40 min"),
        (0.32, 0.32, None, 0, "0 min", "0.1 to 600 min"),
    ],
)
def test_refusals(
    label: float, analysed: float, depth: float | None, minutes: float | None, understood: str, mend: str
) -> None:
    with pytest.raises(BadInput, match=re.escape(understood)) as refusal:
        mix.judge(label, analysed, depth, minutes)
    assert mend in refusal.value.mend


def test_above_the_table_there_is_no_time() -> None:
    with pytest.raises(BadInput, match=r"1\.7 bar"):
        oxygen.expose([(1.7, 1)])


def test_an_unknown_table_is_refused_with_those_there_are() -> None:
    with pytest.raises(BadInput) as refusal:
        oxygen.table("navy")
    assert refusal.value.mend == "Expected is one of noaa_2001, revised_2025."


@pytest.mark.parametrize("reading", [3.2, 320, 0.32, float("nan")])
def test_an_analyser_reading_that_cannot_be_is_refused(reading: float) -> None:
    with pytest.raises(BadInput):
        analyser.correct(reading)
