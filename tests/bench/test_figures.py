"""The arithmetic behind the benchmark's tables."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import figures
import pytest


@pytest.mark.parametrize(
    ("events", "count", "expected"),
    [
        pytest.param(0, 10, 0.2589, id="0 of 10: 1 - 0.05^(1/10)"),
        pytest.param(1, 10, 0.3942, id="1 of 10: tables of Clopper and Pearson 1934, from memory"),
        pytest.param(0, 20000, 1.4978e-4, id="0 of 20000: three in n"),
        pytest.param(10, 10, 1.0, id="all"),
        pytest.param(0, 0, 1.0, id="nothing tried"),
    ],
)
def test_upper_bound_is_that_of_clopper_and_pearson(events: int, count: int, expected: float) -> None:
    assert figures.upper_bound(events, count) == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize(("events", "count"), [(1, 60), (3, 250), (17, 400)])
def test_upper_bound_leaves_one_in_twenty_below_it_in_exact_arithmetic(events: int, count: int) -> None:
    rate = Fraction(figures.upper_bound(events, count))
    tail = sum(comb(count, k) * rate**k * (1 - rate) ** (count - k) for k in range(events + 1))
    assert float(tail) == pytest.approx(0.05, rel=1e-6)


def row(cls: str, expected: str, outcome: str, text: str = "", **slots: str) -> figures.Row:
    return {"cls": cls, "expected": expected, "outcome": outcome, "text": text, "slots": slots}


def read_out(taken: str) -> figures.Row:
    return row("reading", "reading", "reading", "two ten bar", pressure=taken)


@pytest.mark.parametrize(
    ("case", "verdict"),
    [
        pytest.param(row("pass", "pass", "pass"), (True, False, False), id="a pass taken as one"),
        pytest.param(row("pass", "pass", "doubted near"), (False, False, False), id="a pass asked again"),
        pytest.param(row("negation", "", "pass"), (False, True, True), id="a negation taken as a pass"),
        pytest.param(row("fault", "fault:a", "pass"), (False, True, True), id="a fault taken as a pass"),
        pytest.param(row("fault", "fault:a", "fault:b"), (False, False, True), id="a fault taken as another"),
        pytest.param(row("talk", "", "command:wait"), (False, False, True), id="talk taken as a command"),
        pytest.param(row("talk", "", "command:absent"), (False, True, True), id="talk taken as not fitted"),
        pytest.param(row("talk", "", "back fault:a"), (False, False, False), id="talk read back as a fault"),
        pytest.param(row("talk", "", "silent"), (False, False, False), id="talk left alone"),
        pytest.param(row("negation", "", "reading"), (False, True, True), id="a number nobody said"),
        pytest.param(read_out("two ten"), (True, False, False), id="number right"),
        pytest.param(read_out("two"), (False, False, False), id="number cut short"),
        pytest.param(read_out("two two"), (False, False, False), id="wrong number"),
    ],
)
def test_what_counts_as_right_false_pass_and_false_answer(case: figures.Row, verdict: tuple[bool, bool, bool]) -> None:
    assert (figures.is_right(case), figures.is_false_pass(case), figures.is_false_answer(case)) == verdict


def test_tables_count_events_of_each_class_and_of_all() -> None:
    rows = [
        {**row(cls, "", outcome, text), "system": "ear", "step": "mask"}
        for cls, outcome, text in [("talk", "silent", "a"), ("talk", "pass", "b"), ("order", "silent", "c")]
    ]
    assert figures.wrong_table(rows, ["talk", "order"], figures.is_false_pass, "false passes")[2:] == [
        "| talk | 2 | 2 | 1 | 97.468% |",
        "| order | 1 | 1 | 0 | 95.000% |",
        "| all | 3 | 3 | 1 | 86.465% |",
    ]
