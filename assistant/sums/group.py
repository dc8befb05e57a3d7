"""The gas of a group: its dive is as long as the smallest margin in it.

Common practice, no source; the plans are dive.py's. Checked by tests/sums/test_dive.py.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from assistant.errors import BadInput
from assistant.sums.dive import DivePlan


@dataclass(frozen=True, slots=True)
class GroupPlan:
    """Who limits the group, by how much, and how long its gas is good for (minutes until the ascent)."""

    limited_by: str
    margin_min: float
    margin_l: float
    longest_min: float
    short: tuple[str, ...]
    reason: str

    @property
    def passes(self) -> bool:
        return not self.short


def limit(plans: Mapping[str, DivePlan]) -> GroupPlan:
    """The group's plan from its divers' plans for the same dive.

    Raises: BadInput for an empty group; name its divers first.
    """
    if not plans:
        raise BadInput("A group of no divers was understood.", "Give at least one diver's plan.")
    name = min(plans, key=lambda diver: plans[diver].margin_min)
    least = plans[name]
    short = tuple(diver for diver, plan in plans.items() if not plan.passes)
    if short:
        reason = f"Not this dive: {', '.join(short)}. {plans[short[0]].reason}"
    else:
        reason = (
            f"{name} has the smallest margin, {least.margin_min:.0f} min: "
            f"the group's gas is good for {math.floor(least.longest_min)} min until the ascent."
        )
    return GroupPlan(name, least.margin_min, least.margin_l, least.longest_min, short, reason)
