"""What an oxygen analyser's reading is worth after drift, at another temperature, and with damp calibration.

A galvanic cell reads in proportion to the oxygen pressure at its face. Drift is what it shows in air again
after the reading: the true factor lies between "none" and "all of it", so the result is an interval. What
temperature compensation leaves is a share of the reading per kelvin (setting). Calibrating in damp air as
if it were dry makes dry gas read high. Vapour pressure: Magnus form as in WMO-No. 8 (constants from
memory, within 0.5 % of CoolProp 0 to 50 degC). Checked by tests/sums/test_mix.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assistant.sums.limits import PERCENT_SLIPS, SHARE, TEMP, Limit
from assistant.sums.settings import Mix, defaults
from assistant.sums.units import ATM_BAR

DRY_AIR_PERCENT = 20.95
CALIBRATED_PERCENT = 20.9
READING = Limit("the analyser's reading", "%", 19.0, 42.0, PERCENT_SLIPS)
CHANGE = Limit("the change of temperature since calibration", "degC", -60.0, 60.0)
AIR_READING = Limit("the analyser's reading in air", "%", 18.9, 22.9, PERCENT_SLIPS)


@dataclass(frozen=True, slots=True)
class Analysis:
    """Oxygen in percent: the middle of what it can be, and the interval; usable when that is within the tolerance."""

    percent: float
    low_percent: float
    high_percent: float
    usable: bool
    reason: str


def vapour_bar(degc: float) -> float:
    """Saturated water vapour pressure over water in bar."""
    TEMP.check(degc)
    return 6.112e-3 * math.exp(17.62 * degc / (243.12 + degc))


def air_percent(degc: float, humidity_share: float) -> float:
    """True oxygen in damp air at sea level, in percent."""
    return DRY_AIR_PERCENT * (1 - SHARE.check(humidity_share) * vapour_bar(degc) / ATM_BAR)


def correct(
    reading_percent: float,
    air_after_percent: float = CALIBRATED_PERCENT,
    degc_change: float = 0.0,
    damp_air_percent: float = DRY_AIR_PERCENT,
    practice: Mix | None = None,
) -> Analysis:
    """Oxygen from a reading of an analyser that was calibrated in air to 20.9 %.

    Args: reading_percent 19..42; air_after_percent what it shows in the same air afterwards, 18.9..22.9;
        degc_change from calibration to reading; damp_air_percent true oxygen of that air (air_percent).
    Raises: BadInput outside; read the analyser again, or calibrate it.
    """
    practice = practice or defaults().mix
    READING.check(reading_percent)
    CHANGE.check(degc_change)
    drift = CALIBRATED_PERCENT / AIR_READING.check(air_after_percent)
    damp = damp_air_percent / DRY_AIR_PERCENT
    ends = sorted((reading_percent * damp, reading_percent * damp * drift))
    spare = practice.analyser_percent + practice.analyser_share_k * abs(degc_change) * reading_percent
    low, high = ends[0] - spare, ends[1] + spare
    usable = (high - low) / 2 <= practice.label_percent
    verdict = "" if usable else "; too wide to judge a label"
    reason = f"Read {reading_percent:.1f} %, which is {low:.1f} to {high:.1f} % of oxygen{verdict}."
    return Analysis((low + high) / 2, low, high, usable, reason)
