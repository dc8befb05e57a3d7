"""Cylinder conventions: litres of water and bar on one side, cubic feet at a working pressure on the other.

A cubic-foot name says how much free gas the cylinder holds at its working pressure and 70 degF; its water
volume follows by the real gas. Names are rounded up in the trade (an "80" holds about 77.4 cu ft), so a water
volume from a name may be 4 % too large: take the stamped litres where there are some.
Common practice, no source; the test factor is that of 49 CFR 180.209(a).
Checked by tests/sums/test_content.py.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.sums.compressibility import AIR_O2_SHARE
from assistant.sums.content import Model, free_l, moles_per_l
from assistant.sums.limits import RATED, WATER_VOLUME, WORKING
from assistant.sums.units import bar_from_psi, cuft_from_l, degc_from_degf, l_from_cuft

RATED_DEGC = degc_from_degf(70.0)
TEST_FACTOR_US = 5 / 3  # test over service pressure, 49 CFR 180.209(a) Table 1, DOT 3AL and 3AA


@dataclass(frozen=True, slots=True)
class Cylinder:
    """Water volume in litres and working pressure in bar, whichever convention they came from."""

    water_l: float
    working_bar: float

    def __post_init__(self) -> None:
        WATER_VOLUME.check(self.water_l)
        WORKING.check(self.working_bar)

    def rated_cuft(self, model: Model = Model.REAL) -> float:
        """Free gas at working pressure and 70 degF, in cubic feet at 1.01325 bar and 70 degF."""
        free = free_l(self.water_l, self.working_bar, RATED_DEGC, AIR_O2_SHARE, model, RATED_DEGC)
        return cuft_from_l(free)


def from_rating(rated_cuft: float, working_psi: float, model: Model = Model.REAL) -> Cylinder:
    """The cylinder that holds rated_cuft of free air at working_psi.

    Raises: BadInput outside 3..300 cu ft or 100..310 bar; read the label again.
    """
    working_bar = WORKING.check(bar_from_psi(working_psi))
    inside = moles_per_l(working_bar, RATED_DEGC, AIR_O2_SHARE, model)
    outside = moles_per_l(0.0, RATED_DEGC, AIR_O2_SHARE, model)
    return Cylinder(l_from_cuft(RATED.check(rated_cuft)) * outside / inside, working_bar)


def proof_bar_us(service_bar: float) -> float:
    """Pressure of the US periodic test in bar: five thirds of the service pressure."""
    return WORKING.check(service_bar) * TEST_FACTOR_US
