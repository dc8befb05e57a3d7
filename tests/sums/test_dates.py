"""Dates: stamps as they are read, intervals by region, leap days, months without a day, wrong centuries."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadInput
from assistant.sums import inspection
from assistant.sums import settings as centre
from assistant.sums.dates import Due, judge, judge_service, last_good_day, months_on
from assistant.sums.inspection import History, applying, inspect, rules
from assistant.sums.stamps import Stamp, parse

TODAY = date(2026, 11, 25)
calm = settings(deadline=None, database=None, derandomize=True, max_examples=100)
days = st.dates(date(1955, 1, 1), date(2026, 11, 25))


@pytest.mark.parametrize(
    ("text", "stamp"),
    [
        ("03/24", Stamp(2024, 3)),
        ("3 2024", Stamp(2024, 3)),
        (" 03-2024 ", Stamp(2024, 3)),
        ("2024-03", Stamp(2024, 3)),
        ("2024-02-29", Stamp(2024, 2, 29)),
        ("17.03.2024", Stamp(2024, 3, 17)),
        ("11/26", Stamp(2026, 11)),
        ("06/85", Stamp(1985, 6)),
        ("06/99", Stamp(1999, 6)),
        ("01/00", Stamp(2000, 1)),
    ],
)
def test_stamps_that_are_understood(text: str, stamp: Stamp) -> None:
    assert parse(text, TODAY) == stamp


@pytest.mark.parametrize(
    ("text", "understood", "mend"),
    [
        ("12/26", "2026-12", "from 1950 to 2026-11"),
        ("2109-03", "2109-03", "2009 may be meant"),
        ("1924-03", "1924-03", "2024 may be meant"),
        ("03/49", "1949-03", "from 1950"),
        ("1019-03", "1019-03", "from 1950 to 2026-11."),
        ("13/20", "2020-13, which is no date", "month and year"),
        ("2023-02-29", "2023-02-29, which is no date", "month and year"),
        ("05/06/24", "the day or the month first", "full date as 2024-03-17"),
        ("24-03", "2003-24, which is no date", "month and year"),
        ("march", "'march'", "month and year"),
        ("", "''", "month and year"),
        ("0/24", "2024-00, which is no date", "month and year"),
        ("-3/24", "'-3/24'", "month and year"),
        ("03/024", "'03/024'", "month and year"),
    ],
)
def test_stamps_that_are_refused(text: str, understood: str, mend: str) -> None:
    with pytest.raises(BadInput) as refusal:
        parse(text, TODAY)
    assert understood in str(refusal.value)
    assert mend in refusal.value.mend


@pytest.mark.parametrize(
    ("stamp", "months", "last"),
    [
        pytest.param(Stamp(2024, 2, 29), 60, date(2029, 2, 28), id="leap day and five years"),
        pytest.param(Stamp(2024, 2, 29), 48, date(2028, 2, 29), id="leap day to leap day"),
        pytest.param(Stamp(2024, 2, 29), 12, date(2025, 2, 28), id="leap day and a year"),
        pytest.param(Stamp(2024, 2), 48, date(2028, 2, 29), id="february to a leap february"),
        pytest.param(Stamp(2023, 2), 12, date(2024, 2, 29), id="month alone ends with the leap day"),
        pytest.param(Stamp(2021, 11), 60, date(2026, 11, 30), id="month alone, last day"),
        pytest.param(Stamp(2021, 12), 30, date(2024, 6, 30), id="thirty months"),
        pytest.param(Stamp(2024, 10, 31), 4, date(2025, 2, 28), id="the 31st to a short month"),
        pytest.param(Stamp(1996, 2, 29), 48, date(2000, 2, 29), id="2000 was a leap year"),
    ],
)
def test_last_good_day(stamp: Stamp, months: int, last: date) -> None:
    """Calendar arithmetic. That a month alone runs to its last day is an assumption; no source was found."""
    assert last_good_day(stamp, months) == last


def test_the_careful_reading_of_a_month_alone_is_its_first_day() -> None:
    careful = centre.defaults().dates.model_copy(update={"month_only": "first_day"})
    assert last_good_day(Stamp(2021, 11), 60, careful) == date(2026, 11, 1)


@pytest.mark.parametrize(
    ("today", "due", "days_left"),
    [
        (date(2026, 1, 1), Due.GOOD, 333),
        (date(2026, 10, 15), Due.GOOD, 46),
        (date(2026, 10, 16), Due.SOON, 45),
        (date(2026, 10, 31), Due.SOON, 30),
        (date(2026, 11, 1), Due.DUE, 29),
        (date(2026, 11, 30), Due.DUE, 0),
        (date(2026, 12, 1), Due.OUT, -1),
    ],
)
def test_good_soon_due_out(today: date, due: Due, days_left: int) -> None:
    found = judge("pressure test", Stamp(2021, 11), 60, today)
    assert (found.due, found.days_left, found.passes) == (due, days_left, due is not Due.OUT)


def test_the_reason_holds_both_dates() -> None:
    reasons = [judge("pressure test", Stamp(2021, 11), 60, day).reason for day in (TODAY, date(2026, 12, 1))]
    assert reasons == [
        "The pressure test of 2021-11 is due this month, good through 2026-11-30.",
        "The pressure test of 2021-11 is out: it was good through 2026-11-30.",
    ]


@pytest.mark.parametrize(
    ("region", "material", "conditions", "months"),
    [
        ("us", "aluminium", [], {"test": 60, "visual": 12}),
        ("us", "steel", [], {"test": 60, "visual": 12}),
        ("us", "aluminium 6351", [], {"test": 60, "visual": 12}),
        ("us navy", "steel", [], {"test": 60, "visual": 12}),
        ("uk", "steel", [], {"test": 60, "visual": 12}),
        ("uk", "steel", ["low risk assessed"], {"test": 60, "visual": 30}),
        ("australia", "aluminium", [], {"test": 12}),
        ("new zealand", "steel", [], {"test": 24, "visual": 12}),
        ("new zealand", "steel", ["heavy service"], {"test": 24, "visual": 4}),
        ("france", "steel", [], {"test": 24, "visual": 12}),
        ("france", "steel", ["annual visual by a recognised technician"], {"test": 72, "visual": 12}),
        ("germany", "steel", [], {"test": 60, "visual": 30}),
    ],
)
def test_intervals(region: str, material: str, conditions: list[str], months: dict[str, int]) -> None:
    """49 CFR 180.209; US Navy Diving Manual 7-2.2.2.2; EN ISO 18119:2018, AS 2030.1, the New Zealand guide and the
    French arrete of 20 November 2017 as quoted by clubs and test stations; Germany from memory."""
    found = applying(region, material, frozenset(conditions), rules())
    assert {rule.what: rule.months for rule in found} == months


def test_every_rule_says_where_it_comes_from() -> None:
    assert [rule for rule in rules() if not (rule.source and rule.edition and rule.obtained)] == []


def test_a_late_visual_does_not_move_the_test() -> None:
    """A national club's handbook: viewed at four years, the test is still due at five."""
    found = inspect("uk", "steel", History(tested=Stamp(2020, 3), viewed=Stamp(2024, 3)), date(2024, 4, 1))
    assert [(r.what, r.last_good_day) for r in found.results] == [
        ("pressure test", date(2025, 3, 31)),
        ("visual inspection", date(2025, 3, 31)),
    ]


def test_a_test_counts_as_a_visual() -> None:
    found = inspect("uk", "steel", History(tested=Stamp(2026, 3), viewed=Stamp(2024, 3)), TODAY)
    assert found.passes


def test_france_counts_from_commissioning_and_not_from_making() -> None:
    history = History(made=Stamp(2023, 1), commissioned=Stamp(2025, 6))
    test = inspect("france", "steel", history, TODAY).results[0]
    assert (test.last_good_day, test.passes) == (date(2027, 6, 30), True)
    with pytest.raises(BadInput) as refusal:
        inspect("france", "steel", History(made=Stamp(2025, 6)), TODAY)
    assert refusal.value.mend == "Give the month of its last one or its commissioning."


def test_the_last_test_counts_and_not_the_commissioning_before_it() -> None:
    history = History(commissioned=Stamp(2020, 3), tested=Stamp(2025, 3), viewed=Stamp(2026, 3))
    assert inspect("uk", "steel", history, TODAY).results[0].last_good_day == date(2030, 3, 31)


def test_two_digits_of_a_year_to_come_are_of_the_century_before() -> None:
    assert parse("03/62", date(2060, 1, 1)) == Stamp(1962, 3)


def test_all_that_is_out_is_named() -> None:
    found = inspect("france", "steel", History(tested=Stamp(2021, 11)), TODAY)
    assert (found.passes, found.reason) == (
        False,
        "The pressure test of 2021-11 is out: it was good through 2023-11-30. "
        "The visual inspection of 2021-11 is out: it was good through 2022-11-30.",
    )


@pytest.mark.parametrize(
    ("region", "material", "conditions", "history", "understood", "mend"),
    [
        ("atlantis", "steel", [], History(), "'atlantis'", "australia, france, germany"),
        ("uk", "carbon", [], History(), "'carbon'", "Known for uk: aluminium, steel"),
        ("uk", "steel", ["heavy service"], History(), "'heavy service'", "low risk assessed"),
        ("uk", "steel", [], History(), "No stamp was understood for the test", "last one or its making"),
        ("uk", "steel", [], History(tested=Stamp(2027, 1)), "2027-01", "from 1950 to 2026-11"),
    ],
)
def test_refusals(
    region: str, material: str, conditions: list[str], history: History, understood: str, mend: str
) -> None:
    with pytest.raises(BadInput) as refusal:
        inspect(region, material, history, TODAY, frozenset(conditions))
    assert understood in str(refusal.value)
    assert mend in refusal.value.mend


@pytest.mark.parametrize(
    ("serviced", "dives", "due"),
    [
        (date(2026, 3, 3), 40, Due.GOOD),
        (date(2026, 3, 3), None, Due.GOOD),
        (date(2026, 3, 3), 100, Due.GOOD),
        (date(2026, 3, 3), 101, Due.OUT),
        (date(2025, 12, 20), 40, Due.SOON),
        (date(2025, 11, 25), 40, Due.DUE),
        (date(2025, 11, 24), 40, Due.OUT),
    ],
)
def test_service(serviced: date, dives: int | None, due: Due) -> None:
    """Twelve months or a hundred dives: the default setting, common practice, no source."""
    assert judge_service("regulator", serviced, TODAY, centre.defaults().service["regulator"], dives).due is due


@pytest.mark.parametrize(("serviced", "dives"), [(date(2026, 11, 26), 3), (date(2026, 1, 1), -1)])
def test_service_refusals(serviced: date, dives: int) -> None:
    with pytest.raises(BadInput):
        judge_service("regulator", serviced, TODAY, centre.defaults().service["regulator"], dives)


@calm
@given(days, st.integers(1, 120))
def test_months_on_keeps_the_day_or_ends_the_month(day: date, months: int) -> None:
    later = months_on(day, months)
    assert (later.year * 12 + later.month) - (day.year * 12 + day.month) == months
    assert later.day == day.day or (later.day < day.day and (later + timedelta(days=1)).day == 1)


@calm
@given(days, st.integers(1, 120))
def test_a_month_alone_is_never_good_for_less_than_any_day_of_it(day: date, months: int) -> None:
    whole, exact = Stamp(day.year, day.month), Stamp(day.year, day.month, day.day)
    assert last_good_day(whole, months) >= last_good_day(exact, months)


@calm
@given(days, st.integers(0, 4000))
def test_time_only_makes_it_worse(day: date, later: int) -> None:
    order = [Due.GOOD, Due.SOON, Due.DUE, Due.OUT]
    stamp = Stamp(day.year, day.month, day.day)
    now, then = (judge("test", stamp, 60, day + timedelta(days=n)) for n in (0, later))
    assert order.index(then.due) >= order.index(now.due)
    assert then.passes == (day + timedelta(days=later) <= then.last_good_day)


def test_names_cover_every_kind_of_rule() -> None:
    assert {rule.what for rule in rules()} == set(inspection.NAMES)
