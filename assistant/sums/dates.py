"""When something falls due: from a stamp and a number of months, or a count of dives.

A stamp with a day is good through the same day so many months on (the month's last day where that month is
shorter: 29 February and a year is 28 February). A stamp of a month alone is good, by default, through the
LAST day of its month so many months on: an assumption, no source was found; the setting month_only makes it
the first day. Good means GOOD, SOON or DUE (its last month); OUT does not pass. Calendar arithmetic, no other
source. Checked by tests/sums/test_dates.py.
"""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from assistant.errors import BadInput
from assistant.sums.limits import Limit
from assistant.sums.settings import Dates, Service, defaults
from assistant.sums.stamps import Stamp, in_time

MONTHS = Limit("the interval", "months", 1.0, 240.0)
DIVES = Limit("the dives since service", "dives", 0.0, 20000.0)


class Due(StrEnum):
    """Only OUT fails."""

    GOOD = "good"
    SOON = "soon"
    DUE = "due"
    OUT = "out"


@dataclass(frozen=True, slots=True)
class DueResult:
    """The last good day, and the days left to it (negative once it is out)."""

    due: Due
    what: str
    last_good_day: date
    days_left: int
    reason: str

    @property
    def passes(self) -> bool:
        return self.due is not Due.OUT


def months_on(day: date, months: int) -> date:
    """The same day so many months later, or the last of that month where it is shorter."""
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def last_good_day(stamp: Stamp, months: int, practice: Dates | None = None) -> date:
    """The last day on which a stamp is good."""
    practice = practice or defaults().dates
    MONTHS.check(months)
    end = months_on(stamp.first_day(), months)
    if stamp.day is not None or practice.month_only == "first_day":
        return end
    return end.replace(day=monthrange(end.year, end.month)[1])


def judge(what: str, stamp: Stamp, months: int, today: date, practice: Dates | None = None) -> DueResult:
    """Judge a stamp today.

    Raises: BadInput for a stamp of the future or of the wrong century; look at it again.
    """
    practice = practice or defaults().dates
    in_time(stamp, today, practice)
    return grade(what, stamp.text(), last_good_day(stamp, months, practice), today, practice)


def grade(what: str, since: str, last: date, today: date, practice: Dates) -> DueResult:
    left = (last - today).days
    if left < 0:
        due, words = Due.OUT, f"is out: it was good through {last.isoformat()}"
    elif (last.year, last.month) == (today.year, today.month):
        due, words = Due.DUE, f"is due this month, good through {last.isoformat()}"
    elif left <= practice.soon_days:
        due, words = Due.SOON, f"is due soon, good through {last.isoformat()}"
    else:
        due, words = Due.GOOD, f"is good through {last.isoformat()}"
    return DueResult(due, what, last, left, f"The {what} of {since} {words}.")


def judge_service(
    item: str,
    serviced: date,
    today: date,
    interval: Service,
    dives: int | None = None,
    practice: Dates | None = None,
) -> DueResult:
    """Judge a service by date and, where dives since are known, by dives; the intervals are the centre's own.

    Raises: BadInput for a service in the future or of the wrong century, or a count of dives that cannot be meant.
    """
    practice = practice or defaults().dates
    if serviced > today or serviced.year < practice.earliest_year:
        raise BadInput(
            f"The service was understood as {serviced.isoformat()}.",
            f"Expected is a day up to today, from {practice.earliest_year} on.",
        )
    by_date = grade(f"{item} service", serviced.isoformat(), months_on(serviced, interval.months), today, practice)
    if dives is None or DIVES.check(dives) <= interval.dives or not by_date.passes:
        return by_date
    reason = f"The {item} service of {serviced.isoformat()} is out: {dives} dives since, the limit is {interval.dives}."
    return DueResult(Due.OUT, by_date.what, by_date.last_good_day, by_date.days_left, reason)
