"""Z, how far air and oxygen-nitrogen mixes in a cylinder are from the ideal gas.

Z = 1 + a polynomial in density and 1/temperature, fitted by tests/sums/fit_compressibility.py to
CoolProp's air, plus a second one times the oxygen above air. Density in, pressure out is direct;
pressure in, density out takes Newton steps. Plain arithmetic, so floats and arrays both go through.
Valid 0 to 350 bar absolute, -20 to 80 degC, 20 to 40 % oxygen; checks are the callers' (content.py).
Error against CoolProp over that range: Z_ERROR for air, Z_ERROR_MIX for mixes (tests/sums/test_compressibility.py).
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", float, NDArray[np.float64])

GAS_CONSTANT = 0.08314462618  # bar l / (mol K), from the SI constants
ZERO_DEGC_K = 273.15
AIR_O2_SHARE = 0.2096
REDUCING_K = 300.0
REDUCING_MOL_L = 10.0
Z_ERROR = 0.0005
Z_ERROR_MIX = 0.002
NEWTON_STEPS = 6

# One row per power of density, first to fifth: coefficients of 1/temperature to the powers 0, 1 and 3 ...
AIR_TERMS = (
    (0.45829448, -0.50925703, -0.022741712),
    (0.077970505, 0.058707881, 0.0),
    (0.016021139, -0.017883134, 0.0),
    (0.020599292, 0.0, 0.0),
    (0.00080140957, 0.0, 0.0),
)
# ... and, per unit of oxygen share above air, to the powers 0 and 1.
MIX_TERMS = (
    (-0.044425101, -0.074363145),
    (-0.10898038, 0.099511292),
    (0.011453484, -0.053556431),
    (0.0, 0.0),
    (0.0, 0.0),
)
Powers = tuple[Number, Number, Number, Number, Number]


def powers(temp_degc: Number, o2_share: float) -> Powers[Number]:
    """Coefficients of density to the first to fifth power in Z - 1 (density in units of REDUCING_MOL_L).

    Args: temp_degc -20..80; o2_share 0.20..0.40. Not checked here.
    """
    cold = REDUCING_K / (temp_degc + ZERO_DEGC_K)
    rich = o2_share - AIR_O2_SHARE
    a, b, c, d, e = [
        k0 + rich * m0 + cold * (k1 + rich * m1 + k3 * cold * cold)
        for (k0, k1, k3), (m0, m1) in zip(AIR_TERMS, MIX_TERMS, strict=True)
    ]
    return a, b, c, d, e


def z_at(density_mol_l: Number, powers_: Powers[Number]) -> Number:
    """Z at a density in mol/l."""
    r = density_mol_l / REDUCING_MOL_L
    a, b, c, d, e = powers_
    return 1.0 + r * (a + r * (b + r * (c + r * (d + r * e))))


def pressure_bar(density_mol_l: Number, temp_degc: Number, o2_share: float) -> Number:
    """Absolute pressure in bar of this density in mol/l; source and test as for the file."""
    warmth = GAS_CONSTANT * (temp_degc + ZERO_DEGC_K)
    return density_mol_l * warmth * z_at(density_mol_l, powers(temp_degc, o2_share))


def density_mol_l(pressure_bar_abs: Number, temp_degc: Number, o2_share: float) -> Number:
    """Density in mol/l at this absolute pressure in bar.

    Newton from the ideal density; six steps leave less than 1e-9 of the pressure over the whole range
    (tests/sums/test_compressibility.py goes there and back over the grid).
    """
    warmth = GAS_CONSTANT * (temp_degc + ZERO_DEGC_K)
    a, b, c, d, e = powers(temp_degc, o2_share)
    wanted = pressure_bar_abs / (warmth * REDUCING_MOL_L)
    r = wanted
    for _ in range(NEWTON_STEPS):
        amount = r * (1.0 + r * (a + r * (b + r * (c + r * (d + r * e))))) - wanted
        slope = 1.0 + r * (2.0 * a + r * (3.0 * b + r * (4.0 * c + r * (5.0 * d + r * 6.0 * e))))
        r = r - amount / slope
    return r * REDUCING_MOL_L


def z_factor(pressure_bar_abs: float, temp_degc: float, o2_share: float) -> float:
    """Z at this absolute pressure in bar; 1 for an ideal gas."""
    if pressure_bar_abs == 0:
        return 1.0
    density = density_mol_l(pressure_bar_abs, temp_degc, o2_share)
    return pressure_bar_abs / (density * GAS_CONSTANT * (temp_degc + ZERO_DEGC_K))
