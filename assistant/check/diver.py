"""A diver of a trip: what was planned and given, the check as its records left it, and where that stands. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from assistant.check.progress import Progress, evolve
from assistant.check.steps import Check
from assistant.check.turns import Number, Record, Stamped
from assistant.check.verdict import Reason


class Standing(StrEnum):
    """Where a diver stands. After the dive, READY means that nothing was wrong with what came back."""

    READY = "ready"
    HOLD = "hold"
    BEGUN = "begun"  # a check was begun and has no verdict
    UNCHECKED = "unchecked"
    OFF = "off"  # taken off the trip


@dataclass(frozen=True, slots=True)
class Found:
    """A diver's standing at one moment, with the reasons of a hold, worst first."""

    standing: Standing
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class Diver:
    """A diver as planned and called: `on` is worn while no check is begun; an item missing in it is not to be had.
    `planned` is what the plan gave; `lost` what a check after the dive set apart: the shop may return it, and then it
    is still not on the diver.

    `check` and `back` are the sessions in force of the check before and after the dive.
    """

    place: int
    name: str
    on: Mapping[str, Number]
    planned: Mapping[str, Number]
    check: str = ""
    back: str = ""
    lost: frozenset[tuple[str, Number]] = frozenset()
    is_off: bool = False
    water_l: float | None = None


@dataclass(frozen=True, slots=True)
class Course:
    """One check of a diver as its records left it; `check` is the sequence it runs by."""

    check: Check
    entries: tuple[Stamped, ...] = ()
    progress: Progress = field(default_factory=Progress)
    is_foreign: bool = False

    def after(self, record: Record, at_s: float) -> Course:
        """The course after one record more; of another sequence file it is only kept, and counts as no check."""
        if self.is_foreign or record.facts.get("digest", self.check.digest) != self.check.digest:
            return replace(self, entries=(*self.entries, (record, at_s)), is_foreign=True)
        progress = evolve(self.check, self.progress, record, at_s)
        return replace(self, entries=(*self.entries, (record, at_s)), progress=progress)

    @property
    def off(self) -> frozenset[tuple[str, Number]]:
        """Items by number that this check set apart, and nothing has replaced."""
        return frozenset((item, self.progress.on.get(item)) for item in self.progress.off)

    @property
    def is_begun(self) -> bool:
        """Whether anything was recorded of it."""
        return bool(self.entries)

    @property
    def is_closed(self) -> bool:
        """Whether its last turn gave the verdict."""
        turns = [record.kind for record, _ in self.entries if "turn" in record.facts]
        return bool(turns) and turns[-1] == "verdict_given"

    def worn(self) -> dict[str, Number]:
        """Items by number that are on the diver."""
        progress = self.progress
        return {item: number for item, number in progress.on.items() if item not in progress.off}
