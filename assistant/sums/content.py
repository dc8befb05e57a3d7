"""Gas in a cylinder: how much, and what its gauge shows after it warms, cools or is breathed from.

Two models, always side by side: the ideal gas, and the real gas of compressibility.py. Pressures are
gauge bar (absolute less 1.01325), free litres are at 1.01325 bar and 20 degC unless a call says otherwise.
Range: 0 to 340 bar gauge, -20 to 80 degC, 20 to 40 % oxygen; refused outside. Real-gas error: 0.2 % for
air, 0.3 % for mixes, against CoolProp; swelling of the metal (under 0.2 bar per 10 K) is left out.
Source: gas law with CoolProp's Z.
Checked by tests/sums/test_content.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assistant.errors import BadInput
from assistant.sums import compressibility
from assistant.sums.compressibility import AIR_O2_SHARE, GAS_CONSTANT, ZERO_DEGC_K
from assistant.sums.limits import O2_SHARE, PRESSURE, PRESSURE_ABS, TEMP, WATER_VOLUME
from assistant.sums.units import ATM_BAR

FREE_DEGC = 20.0
ERROR_AIR = 0.002
ERROR_MIX = 0.003
MOLAR_G = {"n2": 28.0134, "o2": 31.9988, "ar": 39.948}
ARGON_PER_REST = 0.0092 / 0.7904


class Model(StrEnum):
    """Which law of gases a sum uses."""

    REAL = "real"
    IDEAL = "ideal"


@dataclass(frozen=True, slots=True)
class Content:
    """Gas in a cylinder. `*_l` are free litres; `rule_l` is the plain product of litres and bar."""

    real_l: float
    ideal_l: float
    rule_l: float
    mass_kg: float
    z: float
    real_error_share: float
    ideal_error_share: float
    rule_error_share: float
    reason: str


def moles_per_l(gauge_bar: float, temp_degc: float, o2_share: float, model: Model = Model.REAL) -> float:
    """Density of the gas in mol/l at a checked gauge pressure, temperature and share of oxygen."""
    absolute = PRESSURE.check(gauge_bar) + ATM_BAR
    TEMP.check(temp_degc)
    O2_SHARE.check(o2_share)
    if model is Model.IDEAL:
        return absolute / (GAS_CONSTANT * (temp_degc + ZERO_DEGC_K))
    return compressibility.density_mol_l(absolute, temp_degc, o2_share)


def gauge_bar(moles_l: float, temp_degc: float, o2_share: float, model: Model = Model.REAL) -> float:
    """Gauge pressure in bar of a density in mol/l; refused when it comes out above the model's range."""
    TEMP.check(temp_degc)
    O2_SHARE.check(o2_share)
    if model is Model.IDEAL:
        return moles_l * GAS_CONSTANT * (temp_degc + ZERO_DEGC_K) - ATM_BAR
    absolute = compressibility.pressure_bar(moles_l, temp_degc, o2_share)
    return PRESSURE_ABS.check(absolute) - ATM_BAR


def free_l(
    water_l: float,
    gauge: float,
    temp_degc: float = FREE_DEGC,
    o2_share: float = AIR_O2_SHARE,
    model: Model = Model.REAL,
    free_degc: float = FREE_DEGC,
) -> float:
    """Free litres in a cylinder, at 1.01325 bar and free_degc, those left at a gauge of zero included.

    Args: water_l 0.4..40 l; gauge 0..340 bar; temp_degc of the gas -20..80; o2_share 0.20..0.40.
    Raises: BadInput outside; say the value again in the unit named.
    """
    WATER_VOLUME.check(water_l)
    inside = moles_per_l(gauge, temp_degc, o2_share, model)
    outside = moles_per_l(0.0, free_degc, o2_share, model)
    return water_l * inside / outside


def gauge_for(
    water_l: float,
    free_litres: float,
    temp_degc: float = FREE_DEGC,
    o2_share: float = AIR_O2_SHARE,
    model: Model = Model.REAL,
) -> float:
    """Gauge pressure at which the cylinder holds these free litres: free_l turned round; below zero is refused."""
    WATER_VOLUME.check(water_l)
    outside = moles_per_l(0.0, FREE_DEGC, o2_share, model)
    found = gauge_bar(free_litres / water_l * outside, temp_degc, o2_share, model)
    if found < -1e-6:
        raise BadInput(
            f"{free_litres:.0f} free litres in a cylinder of {water_l:g} l is less than it holds open to the air.",
            f"Expected are at least {free_l(water_l, 0.0, temp_degc, o2_share, model):.1f} l.",
        )
    return max(found, 0.0)  # only the last digit of an empty cylinder


def after_temperature(
    gauge: float, from_degc: float, to_degc: float, o2_share: float = AIR_O2_SHARE, model: Model = Model.REAL
) -> float:
    """What the gauge of a shut cylinder shows, in bar, when its gas has gone from one temperature to another."""
    return gauge_bar(moles_per_l(gauge, from_degc, o2_share, model), to_degc, o2_share, model)


def slope_bar_k(gauge: float, temp_degc: float, o2_share: float = AIR_O2_SHARE, model: Model = Model.REAL) -> float:
    """Change of a shut cylinder's gauge in bar for each kelvin, at this pressure and temperature.

    Taken over half a kelvin each way. Source and test: CoolProp, 0.98 bar/K at 200 bar absolute and 20 degC.
    """
    density = moles_per_l(gauge, temp_degc, o2_share, model)
    law = compressibility.pressure_bar if model is Model.REAL else ideal_bar
    return law(density, temp_degc + 0.5, o2_share) - law(density, temp_degc - 0.5, o2_share)


def ideal_bar(moles_l: float, temp_degc: float, o2_share: float) -> float:
    """Absolute pressure of an ideal gas; the share of oxygen does not matter to it."""
    return moles_l * GAS_CONSTANT * (temp_degc + ZERO_DEGC_K)


def molar_g(o2_share: float) -> float:
    """Grams in a mole of the mix, argon in its air share of what is not oxygen."""
    rest = 1 - o2_share
    argon = rest * ARGON_PER_REST
    return MOLAR_G["o2"] * o2_share + MOLAR_G["ar"] * argon + MOLAR_G["n2"] * (rest - argon)


def error_share(o2_share: float) -> float:
    """Largest error of the real-gas content, as a share of it."""
    return ERROR_AIR if abs(o2_share - AIR_O2_SHARE) < 0.002 else ERROR_MIX


def measure(water_l: float, gauge: float, temp_degc: float = FREE_DEGC, o2_share: float = AIR_O2_SHARE) -> Content:
    """Content by the real gas, the ideal gas and the rule of litres times bar, with the error of each."""
    real = free_l(water_l, gauge, temp_degc, o2_share)
    ideal = free_l(water_l, gauge, temp_degc, o2_share, Model.IDEAL)
    density = moles_per_l(gauge, temp_degc, o2_share)
    rule = water_l * gauge
    reason = (
        f"{water_l:.3g} l at {gauge:.0f} bar and {temp_degc:.0f} degC hold {real:.0f} free litres; "
        f"the ideal gas law says {ideal:.0f} ({off(ideal / real - 1)}) "
        f"and litres times bar {rule:.0f} ({off(rule / real - 1)})."
    )
    return Content(
        real_l=real,
        ideal_l=ideal,
        rule_l=rule,
        mass_kg=water_l * density * molar_g(o2_share) / 1000,
        z=compressibility.z_factor(gauge + ATM_BAR, temp_degc, o2_share),
        real_error_share=error_share(o2_share),
        ideal_error_share=ideal / real - 1,
        rule_error_share=rule / real - 1,
        reason=reason,
    )


def off(share: float) -> str:
    """'3.5 % too much', for an error beside its result."""
    return f"{abs(share):.1%}".replace("%", " %") + (" too much" if share >= 0 else " too little")
