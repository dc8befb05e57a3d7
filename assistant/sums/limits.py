"""Ranges in which a number can be meant, and the refusal for the rest.

A value outside is refused with BadInput that says what was understood and what is expected;
it is never pulled to the nearest limit. A hint names the likely slip: percent for a share,
psi for bar, feet for metres. One place, so that every sum refuses in the same words.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assistant.errors import BadInput


@dataclass(frozen=True, slots=True)
class Limit:
    """What a number is called, its unit, the range it can be meant in, and slips by factor."""

    name: str
    unit: str
    low: float
    high: float
    slips: tuple[tuple[float, str], ...] = ()

    def check(self, value: float) -> float:
        """Give the value back when it lies in the range.

        Raises:
            BadInput: not a number, or outside; ask for the value again in the unit named.
        """
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise BadInput(f"{self.title()} was understood as {value!r}, which is no number.", self.expected())
        if not self.low <= value <= self.high:
            raise BadInput(
                f"{self.title()} was understood as {value:g} {self.unit}.", self.expected() + self.hint(value)
            )
        return float(value)

    def title(self) -> str:
        return self.name[0].upper() + self.name[1:]

    def expected(self) -> str:
        return f"Expected is {self.low:g} to {self.high:g} {self.unit}."

    def hint(self, value: float) -> str:
        """Name the slip that would explain the value, when one does."""
        for factor, words in self.slips:
            meant = value * factor
            if self.low <= meant <= self.high:
                return f" If {words} was meant, that is {meant:.4g} {self.unit}."
        return ""


PSI_SLIP = (0.0689475729, "psi")
PRESSURE = Limit("the gauge pressure", "bar", 0.0, 340.0, (PSI_SLIP,))
PRESSURE_ABS = Limit("the absolute pressure", "bar", 0.0, 350.0, (PSI_SLIP,))
WORKING = Limit("the working pressure", "bar", 100.0, 310.0, (PSI_SLIP,))
BAR_SLIP = (1 / 0.0689475729, "bar")
PRESSURE_PSI = Limit("the gauge pressure", "psi", 0.0, 4930.0)
WORKING_PSI = Limit("the working pressure", "psi", 1460.0, 4490.0, (BAR_SLIP,))
WATER_VOLUME = Limit("the water volume of the cylinder", "l", 0.4, 40.0, ((28.316847, "cubic feet of water"),))
RATED = Limit("the rated content", "cu ft", 3.0, 300.0)
TRAPPED = Limit("the volume behind the shut valve", "l", 0.005, 1.0, ((0.001, "millilitres"),))
TEMP = Limit("the temperature", "degC", -20.0, 80.0)
TEMP_DEGF = Limit("the temperature", "degF", -4.0, 176.0)
SHARE_SLIPS = ((0.01, "percent"), (0.1, "a tenth of that"), (0.001, "a thousandth of that"))
PERCENT_SLIPS = ((100.0, "a fraction"), (10.0, "ten times that"), (0.1, "a tenth of that"))
O2_SHARE = Limit("the share of oxygen", "(a fraction)", 0.20, 0.40, SHARE_SLIPS)
O2_PERCENT = Limit("the oxygen", "%", 20.0, 40.0, PERCENT_SLIPS)
PO2 = Limit("the oxygen partial pressure", "bar", 0.16, 1.6)
DEPTH = Limit("the depth", "m", 0.0, 60.0, ((0.3048, "feet"),))
DIVE_DEPTH = Limit("the depth of the dive", "m", 1.0, 60.0, ((0.3048, "feet"),))
DIVE_DEPTH_FT = Limit("the depth of the dive", "ft", 4.0, 196.0)
START = Limit("the pressure at the start", "bar", 1.0, 340.0, (PSI_SLIP,))
ALTITUDE = Limit("the altitude of the water", "m", -430.0, 5000.0, ((0.3048, "feet"),))
MINUTES = Limit("the time", "min", 0.1, 600.0, ((1 / 60, "seconds"),))
RMV = Limit("the breathing rate at the surface", "l/min", 5.0, 90.0, ((28.316846592, "cubic feet per minute"),))
ASCENT = Limit("the ascent rate", "m/min", 1.0, 18.0, ((0.3048, "feet per minute"),))
STOP_DEPTH = Limit("the depth of the stop", "m", 2.0, 9.0, ((0.3048, "feet"),))
STOP_MIN = Limit("the time at the stop", "min", 0.0, 30.0, ((1 / 60, "seconds"),))
BREATH = Limit("one breath", "l", 0.3, 8.0, ((0.001, "millilitres"),))
BREATHS = Limit("the number of breaths", "breaths", 1.0, 20.0)
SHARE = Limit("the share", "(a fraction)", 0.0, 1.0, ((0.01, "percent"),))
