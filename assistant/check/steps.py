"""A check sequence as values: items, steps, faults. Built by language, used by check.

Nothing here reads a file or judges a phrase; that is language's work. Every tuple
keeps the order of the file, because order is part of the check.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

FAULT = "fault:"  # begins the meaning of a fault, before its code


class Remedy(StrEnum):
    """What a fault asks for."""

    SWAP = "swap"  # the item is set apart; its replacement is checked from the first step it touches
    REPEAT = "repeat"  # put right in place, then the step is asked again; the fault stays in the record
    HOLD = "hold"  # nothing on deck mends it: the step stays faulted and the verdict is HOLD
    SHOP = "shop"  # the item is set apart for the shop and nothing replaces it: after the dive


@dataclass(frozen=True, slots=True)
class Item:
    """What can be swapped as one. `id` is a key; `name` and `another` ("another pair of fins") are spoken;
    without its own `another` the replies file makes one of the name."""

    id: str
    name: str
    another: str = ""


@dataclass(frozen=True, slots=True)
class Fault:
    """A named fault of one step. `item` is what is set apart (the step's own unless said otherwise)."""

    code: str
    name: str
    item: str
    phrases: tuple[str, ...]  # phrase notation, rules already known to the check
    say: str
    remedy: Remedy


@dataclass(frozen=True, slots=True)
class Number:
    """One number of a reading. `name` is the rule that the phrases use; outside `low` to `high` (inclusive, in
    `unit`) it cannot be, and is asked again; `say` goes before it where several are read back."""

    name: str
    kind: str  # a kind of grammars/en/numbers.toml, such as "pressure"
    unit: str  # the kind's: "bar", "psi", …
    low: float
    high: float
    say: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """Numbers read out at a step, and who judges them. `needed`: the step passes by a good reading alone;
    `since` is the step whose reading is the first of two; `faults` gives a finding of the judge its fault code."""

    judge: str
    phrases: tuple[str, ...]
    numbers: tuple[Number, ...]
    faults: Mapping[str, str] = field(default_factory=dict)
    needed: bool = True
    since: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One question. `touches` are all items whose swap asks it again; the first is its own item."""

    id: str
    name: str  # spoken in "Inflator passed."
    item: str
    touches: tuple[str, ...]
    prompt: str
    explain: str
    critical: bool
    may_be_absent: bool
    after: tuple[str, ...]  # step ids that must be closed first
    passes: tuple[str, ...]
    faults: tuple[Fault, ...]
    examples: tuple[str, str]  # one pass, one fault, spoken when we did not understand
    reading: Reading | None = None

    @property
    def needs_number(self) -> bool:
        """Whether only a number that was judged good passes this step."""
        return self.reading is not None and self.reading.needed

    def fault(self, code: str) -> Fault:
        """The fault of that code; KeyError when the step has none such."""
        for fault in self.faults:
            if fault.code == code:
                return fault
        raise KeyError(code)


@dataclass(frozen=True, slots=True)
class Check:
    """A whole sequence as loaded, with the SHA-256 of its file as `digest` (64 hex digits)."""

    id: str
    title: str
    language: str
    digest: str
    valid_s: float
    caution: str
    closing: str
    start: tuple[str, ...]
    items: tuple[Item, ...]
    steps: tuple[Step, ...]
    rules: dict[str, str] = field(default_factory=dict)
    after_dive: bool = False  # what came back is asked about: it ends in sound or faulty, never in READY

    def step(self, step_id: str) -> Step:
        """The step of that id; KeyError when the check has none such."""
        for step in self.steps:
            if step.id == step_id:
                return step
        raise KeyError(step_id)

    def item(self, item_id: str) -> Item:
        """The item of that id; KeyError when the check has none such."""
        for item in self.items:
            if item.id == item_id:
                return item
        raise KeyError(item_id)
