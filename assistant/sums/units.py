"""Units of the trade and the SI, each function named by what it gives and what it takes.

Inside kitcall pressures are bar, volumes litres, depths metres, temperatures degC, times minutes;
these functions stand at the door. Factors are exact definitions (SI brochure; international foot and
pound), except msw and fsw, which the US Navy Diving Manual defines (1 msw = 0.1 bar, 1 fsw = 0.30643 msw).
Any finite number is turned; whether it can be meant is for limits.py. Checked by tests/sums/test_units.py.
"""

from __future__ import annotations

import math

from assistant.errors import BadInput

PSI_BAR = 4.4482216152605 / 0.0254**2 / 1e5
ATM_BAR = 1.01325
CUFT_L = 0.3048**3 * 1000
FOOT_M = 0.3048
MSW_BAR = 0.1
FSW_BAR = 0.030643


def finite(value: float, unit: str) -> float:
    """Refuse what is no number (BadInput) before it spreads through a sum."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BadInput(f"{value!r} {unit} was understood, which is no number.", f"Give a number of {unit}.")
    return float(value)


def bar_from_psi(psi: float) -> float:
    return finite(psi, "psi") * PSI_BAR


def psi_from_bar(bar: float) -> float:
    return finite(bar, "bar") / PSI_BAR


def bar_from_atm(atm: float) -> float:
    return finite(atm, "atm") * ATM_BAR


def atm_from_bar(bar: float) -> float:
    return finite(bar, "bar") / ATM_BAR


def l_from_cuft(cuft: float) -> float:
    return finite(cuft, "cu ft") * CUFT_L


def cuft_from_l(litres: float) -> float:
    return finite(litres, "l") / CUFT_L


def m_from_ft(feet: float) -> float:
    return finite(feet, "ft") * FOOT_M


def ft_from_m(metres: float) -> float:
    return finite(metres, "m") / FOOT_M


def bar_from_msw(msw: float) -> float:
    """Water pressure without the surface's, for metres of sea water as a unit of pressure."""
    return finite(msw, "msw") * MSW_BAR


def msw_from_bar(bar: float) -> float:
    return finite(bar, "bar") / MSW_BAR


def bar_from_fsw(fsw: float) -> float:
    """Water pressure without the surface's, for feet of sea water as a unit of pressure."""
    return finite(fsw, "fsw") * FSW_BAR


def fsw_from_bar(bar: float) -> float:
    return finite(bar, "bar") / FSW_BAR


def degc_from_degf(degf: float) -> float:
    return (finite(degf, "degF") - 32.0) / 1.8


def degf_from_degc(degc: float) -> float:
    return finite(degc, "degC") * 1.8 + 32.0
