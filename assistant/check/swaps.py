"""What swapping an item means for the steps and for the numbers. Pure functions.

A replacement is a stranger: every step that touches its item is asked again, also
when the fault was found elsewhere. What was set apart in a session never comes back
in it; an unmarked item cannot be told from another, so only numbers are refused.
"""

from __future__ import annotations

from collections.abc import Collection

from assistant.check.steps import Check, Step
from assistant.check.turns import Number


def reopened(check: Check, item: str, faulted: Collection[tuple[str, str]] = ()) -> tuple[str, ...]:
    """Ids of the steps to ask again, in file order, when `item` is replaced.

    `faulted` are pairs of a step's id and the item its standing fault names: that step
    is asked again too, even where the file forgot to say that it touches the item.
    """
    return tuple(s.id for s in check.steps if item in s.touches or (s.id, item) in faulted)


def refused(apart: Collection[tuple[str, Number]], item: str, number: Number) -> bool:
    """Whether this very item was set apart, so that it cannot be its own replacement."""
    return number is not None and (item, number) in apart


def worn(step: Step, off: Collection[str]) -> bool:
    """Whether everything the step touches is on the diver; a step of a missing item cannot be asked."""
    return not any(item in off for item in step.touches)
