"""What goes into the session and what comes out: facts from outside, records, turns.

Records are the only memory: a kind and facts that survive JSON. The facts of the last
record of a turn name the row of the table that made it (`turn`); a record without
that name changes the bookkeeping and never the state.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from assistant.events import Broken, Doubted, Heard, Silent

Facts = Mapping[str, Any]
Number = str | None  # an item's number as text; None is an unmarked item
ValueOf = Callable[[str, str], tuple[float, tuple[float, ...]]]  # kind, words: value, what else it could be
Taken = Mapping[tuple[str, str], str]  # items by number that are not to be had: who has it, "" where it is set apart
Spoken = Callable[[float, str], str]  # value, unit: the words of a read-back
Numbers = Mapping[str, float]  # a reading's numbers by name, each in the unit of its kind

KINDS = (
    "check_started", "asked", "answered", "doubted", "left_open", "withdrawn", "set_apart", "replaced",
    "no_spare", "paused", "resumed", "noted", "continued", "stopped", "verdict_given",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Record:
    """One line of the log: `kind` is one of KINDS, `facts` hold only what JSON can."""

    kind: str
    facts: Facts = field(default_factory=dict)


Stamped = tuple[Record, float]  # a record and when it was made, wall seconds


@dataclass(frozen=True, slots=True)
class Expects:
    """What to listen for next, and for how many seconds before it counts as silence.

    `kind` is start, step, replacement, number, confirm, note, waiting or nothing.
    """

    kind: str
    step_id: str = ""
    item: str = ""
    window_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Turn:
    """What one fact leads to: commit `records` first, then apply them, then say `say`."""

    records: tuple[Record, ...]
    say: tuple[str, ...]
    expects: Expects


@dataclass(frozen=True, slots=True)
class Start:
    """A check begins. `items` are the numbers of what the diver wears (None or missing: unmarked),
    `apart` what was set apart before and may not come back, `by` voice, key or typed."""

    items: Mapping[str, int | str | None] = field(default_factory=dict)
    diver: str = ""
    by: str = "voice"
    apart: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Continued:
    """The program came back after a crash or a change of battery; the records were replayed."""


@dataclass(frozen=True, slots=True)
class NoteKept:
    """A spoken note was stored; `clip` is its digest."""

    clip: str


@dataclass(frozen=True, slots=True)
class Stop:
    """Somebody ended the check by key or by closing the program on purpose."""

    by: str = "key"


@dataclass(frozen=True, slots=True)
class Pressed:
    """A button was pressed for a command: `command` is repeat, carry_on or wait."""

    command: str
    by: str = "key"


@dataclass(frozen=True, slots=True)
class Earlier:
    """A reading that stands from before: its numbers, and when it was given in wall seconds."""

    numbers: Numbers
    at_s: float


@dataclass(frozen=True, slots=True)
class Judged:
    """What a judge made of a reading: `outcome` is good, bad, again, or later
    (too early to tell: wait, then read it again). `finding` names it, in the replies
    (judge_finding) and, when bad, among the step's faults; `names` fill that reply, a pair being a value and its
    unit. `reason` is the whole reason and `settings` the digest of the thresholds, both for the record."""

    outcome: str
    finding: str
    reason: str
    names: Mapping[str, Any] = field(default_factory=dict)
    settings: str = ""


Judge = Callable[[str, Numbers, Earlier | None, float], Judged]  # judge's name, numbers, earlier, now in wall seconds

Fact = Start | Heard | Doubted | Silent | Broken | Continued | NoteKept | Stop | Pressed


def number_text(value: object) -> Number:
    """An item's number as text, so that 7, 7.0 and "7" are one item; None stays unmarked."""
    if value is None or value == "":
        return None
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)
