"""Makes the coefficients of assistant/sums/compressibility.py again (run by hand, needs CoolProp).

Reference: CoolProp's 'Air' (Lemmon and others, J. Phys. Chem. Ref. Data 29(3):331, 2000) for 20.96 %
oxygen, and its N2/O2/Ar mixture, argon scaled with the air part, for the step from air to richer mixes.
"""

from __future__ import annotations

from collections.abc import Sequence

import CoolProp
import numpy as np
from CoolProp.CoolProp import AbstractState
from numpy.typing import NDArray

from assistant.sums.compressibility import AIR_O2_SHARE, AIR_TERMS, GAS_CONSTANT, MIX_TERMS, REDUCING_K, REDUCING_MOL_L

Array = NDArray[np.float64]
TEMPS_K = np.arange(-20.0, 81.0, 5.0) + 273.15
PRESSURES_BAR = np.concatenate([[1.0, 5.0, 10.0, 20.0, 30.0], np.arange(40.0, 351.0, 10.0)])


def state_of(o2_share: float | None) -> AbstractState:
    """CoolProp's air (None) or its mixture with this share of oxygen."""
    if o2_share is None:
        return AbstractState("HEOS", "Air")
    argon = 0.0092 * (1 - o2_share) / 0.7904
    state = AbstractState("HEOS", "Nitrogen&Oxygen&Argon")
    state.set_mole_fractions([1 - o2_share - argon, o2_share, argon])
    state.specify_phase(CoolProp.iphase_gas)
    return state


def grid(o2_share: float | None) -> tuple[Array, Array, Array, Array]:
    """Temperature in K, pressure in bar, density in mol/l and Z over the grid."""
    state, rows = state_of(o2_share), []
    for temp_k in TEMPS_K:
        for pressure_bar in PRESSURES_BAR:
            state.update(CoolProp.PT_INPUTS, pressure_bar * 1e5, temp_k)
            density = state.rhomolar() / 1000
            rows.append((temp_k, pressure_bar, density, pressure_bar / (density * GAS_CONSTANT * temp_k)))
    columns = np.array(rows).T
    return columns[0], columns[1], columns[2], columns[3]


def flat(terms: Sequence[Sequence[float]], degrees: tuple[int, ...]) -> list[tuple[int, int]]:
    """(power of density, power of 1/temperature) of every term that is not nought."""
    rows = enumerate(terms, start=1)
    return [(i, j) for i, row in rows for j, value in zip(degrees, row, strict=True) if value]


def design(density: Array, temp_k: Array, exponents: list[tuple[int, int]]) -> Array:
    return np.stack([(density / REDUCING_MOL_L) ** i * (REDUCING_K / temp_k) ** j for i, j in exponents], axis=1)


def solve(matrix: Array, wanted: Array) -> Array:
    scale = np.abs(matrix).max(axis=0)
    return np.asarray(np.linalg.lstsq(matrix / scale, wanted, rcond=None)[0] / scale)


def fit_mix() -> Array:
    """How Z changes per unit of oxygen share above air, from differences at equal density and temperature."""
    temp_k, _, density, z_air = grid(AIR_O2_SHARE)
    many = [(1, 0), (1, 1), (1, 2), (1, 3), (2, 0), (2, 1), (2, 2), (3, 0), (3, 1), (4, 0), (5, 0)]
    blocks, wanted = [], []
    for share in (0.20, 0.25, 0.28, 0.32, 0.36, 0.40):
        mix_k, _, mix_density, z_mix = grid(share)
        smooth = solve(design(mix_density, mix_k, many), z_mix - 1)
        wanted.append(design(density, temp_k, many) @ smooth - (z_air - 1))
        blocks.append(design(density, temp_k, flat(MIX_TERMS, (0, 1))) * (share - AIR_O2_SHARE))
    return solve(np.concatenate(blocks), np.concatenate(wanted))


def main() -> None:
    temp_k, _, density, z = grid(None)
    air = flat(AIR_TERMS, (0, 1, 3))
    show("AIR_TERMS", air, solve(design(density, temp_k, air), z - 1))
    show("MIX_TERMS", flat(MIX_TERMS, (0, 1)), fit_mix())


def show(name: str, exponents: list[tuple[int, int]], found: Array) -> None:
    print(name)
    for (i, j), value in zip(exponents, found, strict=True):
        print(f"    density^{i} (1/T)^{j}: {value:.8g}")


if __name__ == "__main__":
    main()
