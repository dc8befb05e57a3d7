"""What the tests of the sums share: CoolProp's gases, the reference that no sum may use itself."""

from __future__ import annotations

from collections.abc import Callable

import CoolProp
import pytest
from CoolProp.CoolProp import AbstractState

Density = Callable[[float, float], float]


@pytest.fixture
def coolprop() -> Callable[[float | None], Density]:
    """For a share of oxygen (None: CoolProp's air) the density in mol/l at bar absolute and degC."""
    return density_of


def density_of(o2_share: float | None) -> Density:
    """Air after Lemmon and others, J. Phys. Chem. Ref. Data 29(3):331, 2000; else N2/O2/Ar, argon as in air."""
    if o2_share is None:
        state = AbstractState("HEOS", "Air")
    else:
        argon = 0.0092 * (1 - o2_share) / 0.7904
        state = AbstractState("HEOS", "Nitrogen&Oxygen&Argon")
        state.set_mole_fractions([1 - o2_share - argon, o2_share, argon])
        state.specify_phase(CoolProp.iphase_gas)

    def density(bar_abs: float, degc: float) -> float:
        state.update(CoolProp.PT_INPUTS, bar_abs * 1e5, degc + 273.15)
        return float(state.rhomolar()) / 1000

    return density
