"""Figures over months: faults by kind, by item and age, swaps, time per check, steps asked again.

All come from counts that grow with the months and not with the answers, so they are as fast after a million.
A fault counts in the month of its check; a withdrawn one does not count.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.record.ledger import Ledger


@dataclass(frozen=True, slots=True)
class KindCount:
    """Faults of one kind: how many in each of the months of the table."""

    item: str
    step: str
    code: str
    by_month: tuple[int, ...]

    @property
    def total(self) -> int:
        return sum(self.by_month)


@dataclass(frozen=True, slots=True)
class MonthLine:
    """One month: checks begun, judged, READY, with a swap; answers; mean minutes of a judged check."""

    month: str
    checks: int
    judged: int
    ready: int
    swapped: int
    answers: int
    minutes: float | None

    @property
    def swapped_share(self) -> float | None:
        """Share of the judged checks in which something was swapped, 0 to 1."""
        return self.swapped / self.judged if self.judged else None


@dataclass(frozen=True, slots=True)
class StepLine:
    """One step: how often it was asked, asked once more because of doubt or silence, and left open."""

    step: str
    asked: int
    again: int
    left_open: int

    @property
    def share(self) -> float:
        return self.again / self.asked if self.asked else 0.0


def read_months(ledger: Ledger, months: int = 0) -> list[MonthLine]:
    """Every month that has checks, oldest first; with `months` only the last so many."""
    found: dict[str, dict[str, float]] = {}
    for month, what, count in ledger.rows("SELECT month, what, count FROM month_counts ORDER BY month"):
        found.setdefault(str(month), {})[str(what)] = float(count)
    lines = [_month_line(month, counts) for month, counts in found.items()]
    return lines[-months:] if months else lines


def _month_line(month: str, counts: dict[str, float]) -> MonthLine:
    whole = {name: round(counts.get(name, 0)) for name in ("checks", "judged", "ready", "swapped", "answers")}
    minutes = counts.get("lasted_s", 0) / 60 / whole["judged"] if whole["judged"] else None
    return MonthLine(month, **whole, minutes=minutes)


def faults_by_kind(ledger: Ledger, months: list[str], item: str = "") -> list[KindCount]:
    """Kinds of faults over these months, the commonest first; with `item` only that item's."""
    sql = """SELECT item, step, code, month, sum(faults) FROM fault_counts
        WHERE month BETWEEN ? AND ? AND (? = '' OR item = ?) GROUP BY 1, 2, 3, 4"""
    table: dict[tuple[str, str, str], dict[str, int]] = {}
    if not months:
        return []
    for kind, step, code, month, count in ledger.rows(sql, (months[0], months[-1], item, item)):
        table.setdefault((kind, step, code), {})[month] = int(count)
    lines = [KindCount(*key, tuple(counts.get(month, 0) for month in months)) for key, counts in table.items()]
    kept = [line for line in lines if line.total]
    return sorted(kept, key=lambda line: (-line.total, line.item, line.step, line.code))


def faults_by_age(ledger: Ledger) -> dict[str, dict[int, int]]:
    """Faults by item type and the item's age in whole years; -1 where there is no number to tell it by."""
    sql = "SELECT item, age_years, sum(faults) FROM fault_counts GROUP BY 1, 2 HAVING sum(faults) > 0 ORDER BY 1, 2"
    found: dict[str, dict[int, int]] = {}
    for item, years, count in ledger.rows(sql):
        found.setdefault(str(item), {})[int(years)] = int(count)
    return found


def steps_asked_again(ledger: Ledger) -> list[StepLine]:
    """Steps by the share of questions asked once more, the worst first."""
    found: dict[str, dict[str, int]] = {}
    for step, what, count in ledger.rows("SELECT step, what, sum(count) FROM step_counts GROUP BY 1, 2"):
        found.setdefault(str(step), {})[str(what)] = int(count)
    lines = [StepLine(step, *(counts.get(name, 0) for name in ("asked", "again", "left_open")))
             for step, counts in found.items()]  # fmt: skip
    return sorted(lines, key=lambda line: (-line.share, line.step))
