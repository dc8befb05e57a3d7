"""Periodic inspection and test of a cylinder, by region and material, from grammars/sums/inspection.toml.

A rule is data with source and edition. A late or early visual inspection never moves the test date. Where a
region counts from commissioning, that stamp starts the clock; the date of making is only used where nothing
else is known and the rule does not ask for commissioning. No rule, or no stamp: refused, never assumed good.
Sources stand in the data, rule by rule. Checked by tests/sums/test_dates.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from assistant.errors import BadInput
from assistant.sums import tables
from assistant.sums.dates import DueResult, judge
from assistant.sums.settings import Dates
from assistant.sums.stamps import Stamp


@dataclass(frozen=True, slots=True)
class Rule:
    """One interval: what ('test' or 'visual'), months, the condition it needs, and where it comes from."""

    region: str
    materials: tuple[str, ...]
    what: str
    months: int
    when: str
    clock: str
    source: str
    edition: str
    obtained: str


@dataclass(frozen=True, slots=True)
class History:
    """Stamps of one cylinder; None for what is not there."""

    tested: Stamp | None = None
    viewed: Stamp | None = None
    commissioned: Stamp | None = None
    made: Stamp | None = None


@dataclass(frozen=True, slots=True)
class Inspection:
    """Test and visual, each with its rule, and the worse of them."""

    results: tuple[DueResult, ...]
    rules: tuple[Rule, ...]
    worst: DueResult

    @property
    def passes(self) -> bool:
        return all(result.passes for result in self.results)

    @property
    def reason(self) -> str:
        """All that is out, else the one that falls due first."""
        return " ".join(result.reason for result in self.results if not result.passes) or self.worst.reason


def rules(data: Mapping[str, Any] | None = None) -> tuple[Rule, ...]:
    """All rules of the built-in file, or of a centre's own data of the same form."""
    rows = (data or tables.built_in("inspection"))["rule"]
    return tuple(
        Rule(
            region=row["region"],
            materials=tuple(row["materials"]),
            what=row["what"],
            months=row["months"],
            when=row.get("when", ""),
            clock=row.get("clock", "making"),
            source=row["source"],
            edition=row["edition"],
            obtained=row["obtained"],
        )
        for row in rows
    )


def applying(region: str, material: str, conditions: frozenset[str], known: tuple[Rule, ...]) -> tuple[Rule, ...]:
    """The rules for a cylinder, one of each kind; a rule whose condition is met goes before the general one.

    Raises: BadInput naming the regions or materials there are.
    """
    here = [rule for rule in known if rule.region == region]
    if not here:
        listed = ", ".join(sorted({rule.region for rule in known}))
        raise BadInput(f"The region was understood as {region!r}.", f"Expected is one of {listed}.")
    fitting = [rule for rule in here if material in rule.materials]
    if not fitting:
        listed = ", ".join(sorted({name for rule in here for name in rule.materials}))
        raise BadInput(f"The material was understood as {material!r}.", f"Known for {region}: {listed}.")
    unknown = conditions - {rule.when for rule in fitting}
    if unknown:
        listed = ", ".join(sorted({rule.when for rule in fitting if rule.when})) or "none"
        raise BadInput(f"A condition was understood as {min(unknown)!r}.", f"Known for {region}: {listed}.")
    chosen = {rule.what: rule for rule in fitting if not rule.when}
    chosen |= {rule.what: rule for rule in fitting if rule.when in conditions}
    return tuple(chosen.values())


def started(rule: Rule, history: History) -> Stamp:
    """The stamp that a rule counts from.

    Raises: BadInput when none is known; look at the cylinder's shoulder and its papers.
    """
    own = history.tested if rule.what == "test" else latest(history.viewed, history.tested)
    first = history.commissioned if rule.clock == "commissioning" else latest(history.commissioned, history.made)
    stamp = own or first
    if stamp is None:
        needed = "its last one or its commissioning" if rule.clock == "commissioning" else "its last one or its making"
        raise BadInput(f"No stamp was understood for the {rule.what} of this cylinder.", f"Give the month of {needed}.")
    return stamp


def latest(*stamps: Stamp | None) -> Stamp | None:
    """A test includes a visual inspection, so the later of the two counts."""
    known = [stamp for stamp in stamps if stamp is not None]
    return max(known, key=Stamp.first_day) if known else None


def inspect(
    region: str,
    material: str,
    history: History,
    today: date,
    conditions: frozenset[str] = frozenset(),
    practice: Dates | None = None,
    known: tuple[Rule, ...] | None = None,
) -> Inspection:
    """Judge a cylinder's test and visual inspection today.

    Raises: BadInput for an unknown region, material or condition, a missing stamp, a stamp that cannot be.
    Known limits: national rules change; each result's rule carries source, edition and how it was learned.
    """
    found = applying(region, material, conditions, known or rules())
    results = tuple(judge(NAMES[rule.what], started(rule, history), rule.months, today, practice) for rule in found)
    worst = min(results, key=lambda result: result.days_left)
    return Inspection(results, found, worst)


NAMES = {"test": "pressure test", "visual": "visual inspection"}
