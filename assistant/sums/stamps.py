"""Dates as they are stamped on a cylinder or said: month and year, sometimes with a day.

Understood: 03/24, 3 2024, 03-2024, 2024-03, 2024-03-17, 17.03.2024 (day first only when the day is above
twelve; else refused as two-faced). Two digits of a year are the latest such year that is not in the future;
a year before the earliest (a setting) or after today is refused as a wrong century, with the likely one named.
Forms are common practice, no source. Checked by tests/sums/test_dates.py.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from assistant.errors import BadInput
from assistant.sums.settings import Dates, defaults

EXPECTED = "Expected is month and year, such as 03/2024, or a full date as 2024-03-17."


@dataclass(frozen=True, slots=True)
class Stamp:
    """A month of a year; day is None for a stamp without one."""

    year: int
    month: int
    day: int | None = None

    def __post_init__(self) -> None:
        try:
            date(self.year, self.month, self.day or 1)
        except (ValueError, TypeError) as problem:
            raise BadInput(f"A stamp was understood as {self.text()}, which is no date.", EXPECTED) from problem

    def text(self) -> str:
        month = f"{self.year}-{self.month:02}"
        return month if self.day is None else f"{month}-{self.day:02}"

    def first_day(self) -> date:
        return date(self.year, self.month, self.day or 1)


def parse(text: str, today: date, practice: Dates | None = None) -> Stamp:
    """Read a stamp.

    Raises: BadInput with what was understood; look at the stamp again and say month and year.
    """
    practice = practice or defaults().dates
    parts = re.split(r"[\s/.\-]+", text.strip())
    if not 2 <= len(parts) <= 3 or not all(part.isdecimal() and len(part) in (1, 2, 4) for part in parts):
        raise BadInput(f"A stamp was understood as {text.strip()!r}.", EXPECTED)
    if len(parts[0]) == 4:
        year, month, *day = parts
    else:
        *day, month, year = parts
    if day and len(parts[0]) != 4 and int(day[0]) <= 12:
        raise BadInput(f"{text.strip()!r} can be read with the day or the month first.", EXPECTED)
    return in_time(Stamp(full_year(year, today), int(month), int(day[0]) if day else None), today, practice)


def full_year(digits: str, today: date) -> int:
    """Four digits as they are; two as the latest such year that is not after this one."""
    year = int(digits)
    if len(digits) == 4:
        return year
    this_century = today.year // 100 * 100 + year
    return this_century if this_century <= today.year else this_century - 100


def in_time(stamp: Stamp, today: date, practice: Dates) -> Stamp:
    """Refuse (BadInput) a stamp of the wrong century or of the future."""
    if practice.earliest_year <= stamp.year and stamp.first_day() <= today:
        return stamp
    near = [y for y in (stamp.year - 100, stamp.year + 100) if practice.earliest_year <= y <= today.year]
    hint = f" If the century is wrong, {near[0]} may be meant." if near else ""
    raise BadInput(
        f"A stamp was understood as {stamp.text()}.",
        f"Expected is a month from {practice.earliest_year} to {today.year}-{today.month:02}.{hint}",
    )
