"""Units: exact definitions (SI brochure, international foot and pound), and there and back."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadInput
from assistant.sums import units

Turn = Callable[[float], float]
PAIRS: list[tuple[Turn, Turn]] = [
    (units.bar_from_psi, units.psi_from_bar),
    (units.bar_from_atm, units.atm_from_bar),
    (units.l_from_cuft, units.cuft_from_l),
    (units.m_from_ft, units.ft_from_m),
    (units.bar_from_msw, units.msw_from_bar),
    (units.bar_from_fsw, units.fsw_from_bar),
    (units.degc_from_degf, units.degf_from_degc),
]


@pytest.mark.parametrize(
    ("turn", "given_", "expected"),
    [
        (units.psi_from_bar, 1, 14.503773773),
        (units.psi_from_bar, 200, 2900.7547546),
        (units.bar_from_psi, 3000, 206.842718795),
        (units.bar_from_atm, 1, 1.01325),
        (units.l_from_cuft, 1, 28.316846592),
        (units.m_from_ft, 100, 30.48),
        (units.bar_from_msw, 10, 1.0),
        (units.bar_from_fsw, 1, 0.030643),
        (units.degc_from_degf, 70, 21.1111111111),
        (units.degc_from_degf, -40, -40.0),
    ],
)
def test_definitions(turn: Turn, given_: float, expected: float) -> None:
    assert turn(given_) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("pair", PAIRS, ids=[pair[0].__name__ for pair in PAIRS])
@settings(deadline=None, database=None, derandomize=True, max_examples=60)
@given(value=st.floats(-1e6, 1e6))
def test_there_and_back(pair: tuple[Turn, Turn], value: float) -> None:
    there, back = pair
    assert back(there(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize("turn", [turn for pair in PAIRS for turn in pair], ids=lambda turn: turn.__name__)
@pytest.mark.parametrize("value", [float("nan"), float("inf"), True, "12"], ids=repr)
def test_what_is_no_number_is_refused(turn: Turn, value: float) -> None:
    with pytest.raises(BadInput, match="no number"):
        turn(value)
