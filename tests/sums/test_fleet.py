"""The vectorised path judges as the plain one does, cylinder by cylinder."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from assistant.errors import BadInput
from assistant.sums.fleet import Fleet, judge, judge_one

TODAY = date(2026, 11, 25)


def fleet(count: int) -> Fleet:
    chance = np.random.default_rng(7)
    return Fleet(
        water_l=chance.choice([10.0, 12.0, 15.0], count),
        gauge_bar=chance.uniform(0, 300, count),
        temp_degc=chance.uniform(0, 45, count),
        working_bar=chance.choice([200.0, 232.0, 300.0], count),
        last_good_day=chance.integers(TODAY.toordinal() - 400, TODAY.toordinal() + 1200, count),
    )


@pytest.mark.parametrize("o2_share", [0.2096, 0.32])
def test_both_paths_agree(o2_share: float) -> None:
    many = fleet(2000)
    found = judge(many, 1800, TODAY, o2_share)
    columns = (many.water_l, many.gauge_bar, many.temp_degc, many.working_bar, many.last_good_day)
    plain = [
        judge_one(*row, needed_l=1800, today=TODAY, o2_share=o2_share)
        for row in zip(*(column.tolist() for column in columns), strict=True)
    ]
    assert found.passes.tolist() == plain
    assert 100 < sum(plain) < 1900


def test_the_day_itself_is_still_good() -> None:
    ordinals = np.array([TODAY.toordinal() - 1, TODAY.toordinal()])
    two = Fleet(np.full(2, 12.0), np.full(2, 200.0), np.full(2, 20.0), np.full(2, 232.0), ordinals)
    assert judge(two, 1000, TODAY).passes.tolist() == [False, True]


@pytest.mark.parametrize(("gauge", "message"), [(2900.0, "Row 1: The gauge pressure"), (float("nan"), "Row 1: .*nan")])
def test_one_bad_value_is_refused_with_its_row(gauge: float, message: str) -> None:
    with pytest.raises(BadInput, match=message):
        Fleet(np.full(2, 12.0), np.array([200.0, gauge]), np.full(2, 20.0), np.full(2, 232.0), np.full(2, 800000))


def test_columns_of_different_lengths_are_refused() -> None:
    with pytest.raises(BadInput, match="different lengths"):
        Fleet(np.full(2, 12.0), np.full(3, 200.0), np.full(2, 20.0), np.full(2, 232.0), np.full(2, 800000))
