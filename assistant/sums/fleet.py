"""Many cylinders at once, for the shop's page: enough gas, not over-filled, in date, over numpy arrays.

The same sums as content.py and dates.py, one mix per call; tests/sums/test_fleet.py holds both paths equal.
A value out of range is refused with its place in the arrays; nothing is left out or pulled into range.
Sources are theirs.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from assistant.errors import BadInput
from assistant.sums import compressibility
from assistant.sums.compressibility import AIR_O2_SHARE
from assistant.sums.content import FREE_DEGC, free_l
from assistant.sums.limits import O2_SHARE, PRESSURE, TEMP, WATER_VOLUME, WORKING, Limit
from assistant.sums.units import ATM_BAR

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
OVERFILL_SHARE = 1.1  # of the working pressure, for a fill that is still warm: common practice, no source


@dataclass(frozen=True, slots=True)
class Fleet:
    """Columns of equal length: litres of water, gauge bar, degC, working bar, and last good day as an ordinal."""

    water_l: Array
    gauge_bar: Array
    temp_degc: Array
    working_bar: Array
    last_good_day: NDArray[np.int64]

    def __post_init__(self) -> None:
        lengths = {len(column) for column in (self.water_l, self.gauge_bar, self.temp_degc, self.working_bar)}
        if lengths != {len(self.last_good_day)}:
            raise BadInput("Columns of different lengths were understood.", "Give every cylinder all its values.")
        for limit, column in (
            (WATER_VOLUME, self.water_l),
            (PRESSURE, self.gauge_bar),
            (TEMP, self.temp_degc),
            (WORKING, self.working_bar),
        ):
            check(limit, column)


@dataclass(frozen=True, slots=True)
class Judged:
    """One flag for each cylinder, and its free litres."""

    free_l: Array
    enough: Flags
    overfilled: Flags
    in_date: Flags

    @property
    def passes(self) -> Flags:
        return self.enough & ~self.overfilled & self.in_date


def check(limit: Limit, column: Array) -> None:
    """Refuse (BadInput) the first value that cannot be meant, with its row."""
    inside = (column >= limit.low) & (column <= limit.high)
    if not inside.all():
        row = int(np.argmin(inside))
        try:
            limit.check(float(column[row]))
        except BadInput as refusal:
            raise BadInput(f"Row {row}: {refusal}", refusal.mend) from refusal


def judge(fleet: Fleet, needed_l: float, today: date, o2_share: float = AIR_O2_SHARE) -> Judged:
    """Judge all cylinders of one mix: needed_l free litres or more, at most 1.1 times full, good today."""
    O2_SHARE.check(o2_share)
    outside = compressibility.density_mol_l(ATM_BAR, FREE_DEGC, o2_share)
    inside = compressibility.density_mol_l(fleet.gauge_bar + ATM_BAR, fleet.temp_degc, o2_share)
    free = fleet.water_l * inside / outside
    return Judged(
        free_l=free,
        enough=free >= needed_l,
        overfilled=fleet.gauge_bar > fleet.working_bar * OVERFILL_SHARE,
        in_date=fleet.last_good_day >= today.toordinal(),
    )


def judge_one(
    water_l: float,
    gauge_bar: float,
    temp_degc: float,
    working_bar: float,
    last_good_day: int,
    *,
    needed_l: float,
    today: date,
    o2_share: float = AIR_O2_SHARE,
) -> bool:
    """The plain path: whether one cylinder passes."""
    WORKING.check(working_bar)
    enough = free_l(water_l, gauge_bar, temp_degc, o2_share) >= needed_l
    return enough and gauge_bar <= working_bar * OVERFILL_SHARE and last_good_day >= today.toordinal()
