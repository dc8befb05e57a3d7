"""Z against CoolProp over a grid, the grid of ../shared/z_grid.csv, and a handbook table."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.sums.compressibility import (
    AIR_O2_SHARE,
    GAS_CONSTANT,
    Z_ERROR,
    Z_ERROR_MIX,
    density_mol_l,
    pressure_bar,
    z_factor,
)

GRID = Path(__file__).resolve().parents[2].parent / "shared" / "z_grid.csv"
TEMPS_DEGC = range(-20, 81, 10)
PRESSURES_BAR = (1, 5, 20, 50, 75, 100, 125, 150, 175, 200, 232, 250, 275, 300, 325, 350)
calm = settings(deadline=None, database=None, derandomize=True, max_examples=100)
pressures = st.floats(0.1, 350)
temps = st.floats(-20, 80)
shares = st.floats(0.20, 0.40)


Coolprop = Callable[[float | None], Callable[[float, float], float]]


def z_of(density: float, pressure: float, temp: float) -> float:
    return pressure / (density * GAS_CONSTANT * (temp + 273.15))


@pytest.mark.parametrize(
    ("o2_share", "stated"),
    [(None, Z_ERROR), *[(share, Z_ERROR_MIX) for share in (0.20, 0.21, 0.25, 0.28, 0.32, 0.36, 0.40)]],
    ids=["air", "mix 20", "mix 21", "mix 25", "mix 28", "mix 32", "mix 36", "mix 40"],
)
def test_stated_error_holds_over_the_whole_range(coolprop: Coolprop, o2_share: float | None, stated: float) -> None:
    """CoolProp 8: 'Air' and HEOS mixtures; its two models of air differ by up to 0.0014 themselves."""
    theirs, ours = coolprop(o2_share), AIR_O2_SHARE if o2_share is None else o2_share
    off = [
        abs(z_factor(float(bar), float(temp), ours) - z_of(theirs(bar, temp), bar, temp))
        for temp in TEMPS_DEGC
        for bar in PRESSURES_BAR
    ]
    assert max(off) <= stated


@pytest.mark.parametrize("o2_share", [0.25, 0.32, 0.36, 0.40])
def test_the_step_from_air_to_a_mix_is_that_of_the_reference(coolprop: Coolprop, o2_share: float) -> None:
    """CoolProp 8, both from its mixture model, so that its two models of air do not matter."""
    rich, plain = coolprop(o2_share), coolprop(AIR_O2_SHARE)
    off = [
        (z_factor(float(bar), float(temp), o2_share) - z_factor(float(bar), float(temp), AIR_O2_SHARE))
        - (z_of(rich(bar, temp), bar, temp) - z_of(plain(bar, temp), bar, temp))
        for temp in TEMPS_DEGC
        for bar in PRESSURES_BAR
    ]
    assert max(map(abs, off)) <= 0.0008


@pytest.mark.skipif(not GRID.exists(), reason="../shared/z_grid.csv is not there")
@pytest.mark.parametrize(
    ("gas", "o2_share", "tolerance"),
    [("air", AIR_O2_SHARE, 0.003), ("EAN32", 0.32, 0.004), ("EAN36", 0.36, 0.004)],
)
def test_grid_of_the_check_values(gas: str, o2_share: float, tolerance: float) -> None:
    rows = [row for row in csv.DictReader(GRID.read_text(encoding="utf-8").splitlines()) if row["gas"] == gas]
    off = [abs(z_factor(float(r["P_bar_abs"]), float(r["T_C"]), o2_share) - float(r["Z"])) for r in rows]
    assert len(rows) == 171
    assert max(off) <= tolerance


@pytest.mark.parametrize(
    ("pressure", "z"),
    [
        (1, 0.9999),
        (20, 0.9950),
        (60, 0.9901),
        (100, 0.9930),
        (150, 1.0074),
        (200, 1.0326),
        (250, 1.0669),
        (300, 1.1089),
    ],
)
def test_handbook_table_at_300_k(pressure: float, z: float) -> None:
    """Chemical Engineers' Handbook, compressibility factors of air: 150 and 200 bar as a diver's page quotes them
    (thetheoreticaldiver.org, When real gas corrections matter); the others from memory."""
    assert z_factor(pressure, 26.85, AIR_O2_SHARE) == pytest.approx(z, abs=0.001)


def test_no_pressure_is_ideal() -> None:
    assert z_factor(0.0, 20, AIR_O2_SHARE) == 1.0


@calm
@given(pressures, temps, shares)
def test_pressure_to_density_and_back(pressure: float, temp: float, o2_share: float) -> None:
    there = density_mol_l(pressure, temp, o2_share)
    assert pressure_bar(there, temp, o2_share) == pytest.approx(pressure, rel=1e-9)


@calm
@given(pressures, temps, shares)
def test_more_pressure_is_denser_and_more_warmth_thinner(pressure: float, temp: float, o2_share: float) -> None:
    here = density_mol_l(pressure, temp, o2_share)
    assert density_mol_l(pressure * 1.01, temp, o2_share) > here > density_mol_l(pressure, temp + 0.5, o2_share)


@calm
@given(st.floats(0.001, 1.0), temps, shares)
def test_thin_gas_is_nearly_ideal(pressure: float, temp: float, o2_share: float) -> None:
    assert z_factor(pressure, temp, o2_share) == pytest.approx(1.0, abs=0.0012)


def test_arrays_go_through_as_numbers_do() -> None:
    pressure, temp = np.array([50.0, 200.0, 300.0]), np.array([0.0, 20.0, 40.0])
    one_by_one = [density_mol_l(p, t, 0.32) for p, t in zip(pressure.tolist(), temp.tolist(), strict=True)]
    assert density_mol_l(pressure, temp, 0.32).tolist() == pytest.approx(one_by_one, rel=1e-12)
