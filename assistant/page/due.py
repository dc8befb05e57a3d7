"""What falls due: dates noted in the record, judged by the centre's intervals and the rules of its region."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from assistant.errors import BadInput
from assistant.record.kit_rows import Dated
from assistant.sums import inspection
from assistant.sums.dates import Due, judge, judge_service
from assistant.sums.settings import Settings
from assistant.sums.stamps import Stamp

CYLINDER = "cylinder"


@dataclass(frozen=True, slots=True)
class DueLine:
    """One thing that falls due; `last_good` and `days_left` are None where it cannot be judged."""

    item: str
    number: str
    what: str
    on: str
    uses: int
    due: str
    last_good: date | None
    days_left: int | None
    reason: str


def judge_all(dated: Sequence[Dated], today: date, settings: Settings, region: str, material: str) -> list[DueLine]:
    """Every noted date but the purchases, what is out first."""
    months, trouble = _months(region, material)
    lines = [_judge(each, today, settings, months, trouble) for each in dated if each.what != "bought"]
    rank = {Due.OUT: 0, Due.DUE: 1, Due.SOON: 2, "": 3, Due.GOOD: 4}
    return sorted(lines, key=lambda line: (rank[line.due], line.days_left or 0, line.item, line.number))


def pressing(lines: Sequence[DueLine]) -> list[DueLine]:
    """Those that are out, due this month, or soon."""
    return [line for line in lines if line.due in (Due.OUT, Due.DUE, Due.SOON)]


def _months(region: str, material: str) -> tuple[dict[str, int], str]:
    if not region:
        return {}, "No region is set, so there is no interval: start the page with --region."
    try:
        rules = inspection.applying(region, material, frozenset(), inspection.rules())
    except BadInput as problem:
        return {}, f"{problem} {problem.mend}"
    return {rule.what: rule.months for rule in rules}, f"There is no such rule for {region}."


def _judge(each: Dated, today: date, settings: Settings, months: dict[str, int], trouble: str) -> DueLine:
    key = (each.item, each.number, each.what, each.on, each.uses)
    try:
        if each.what == "service":
            interval = settings.service.get(each.item)
            if interval is None:
                return DueLine(*key, "", None, None, f"The settings have no service interval for {each.item}.")
            result = judge_service(each.item, _stamp(each.on).first_day(), today, interval, each.uses, settings.dates)
        elif each.what in months and each.item == CYLINDER:
            result = judge(inspection.NAMES[each.what], _stamp(each.on), months[each.what], today, settings.dates)
        else:
            return DueLine(*key, "", None, None, trouble)
    except BadInput as problem:
        return DueLine(*key, "", None, None, f"{problem} {problem.mend}")
    return DueLine(*key, result.due, result.last_good_day, result.days_left, result.reason)


def _stamp(on: str) -> Stamp:
    year, month, *day = (int(part) for part in on.split("-"))
    return Stamp(year, month, *day)
