"""READY or HOLD, judged from the records alone. Pure, and independent of the session's bookkeeping.

READY only when every step is passed or allowed not fitted, answered after the last
replacement of everything it touches, none of it set apart without a replacement, every
answer dated and younger than the check's validity, and the check not stopped. Anything
else is HOLD, with its reasons, worst first. Withdrawn records count as never made.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from assistant.check.steps import Check, Step
from assistant.check.turns import Record, Stamped

CLOCK_TOLERANCE_S = 60.0  # an answer dated further ahead than this has a wrong clock somewhere

RANKS = (
    "not_started", "fault_critical", "no_spare", "unchecked", "open_critical", "expired", "fault", "open", "stopped",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reason:
    """Why HOLD: `kind` is one of RANKS, with the step, item and fault code it concerns."""

    kind: str
    step: str = ""
    item: str = ""
    code: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """READY when `ready`; else the reasons, worst first, then in the order of the file."""

    ready: bool
    reasons: tuple[Reason, ...]


def judge(check: Check, entries: Iterable[Stamped], now_s: float) -> Verdict:
    """The verdict at `now_s` (wall seconds) on the records of one session, in their order.

    tests/check/test_exploration.py and test_verdict.py check it against a witness of their own.
    """
    live = strike_out(entries)
    standing = Standing.of(live)
    reasons = [r for r in (judge_step(step, standing, check.valid_s, now_s) for step in check.steps) if r]
    reasons += [Reason("no_spare", item=item.id) for item in check.items if standing.missing(item.id)]
    if not any(record.kind == "check_started" for record, _ in live):
        reasons.append(Reason("not_started"))
    if any(record.kind == "stopped" for record, _ in live):
        reasons.append(Reason("stopped"))
    reasons.sort(key=lambda reason: RANKS.index(reason.kind))
    return Verdict(not reasons, tuple(reasons))


def strike_out(entries: Iterable[Stamped]) -> list[Stamped]:
    """The records without the withdrawn ones and without the withdrawals."""
    live: list[Stamped] = []
    for record, at_s in entries:
        if record.kind == "withdrawn":
            strike(live, record.facts)
        else:
            live.append((record, at_s))
    return live


def strike(live: list[Stamped], facts: Mapping[str, str]) -> None:
    """Take out what one withdrawal names: all answers of a step, or the last record of the item or step."""
    if facts["what"] == "answered":
        live[:] = [e for e in live if not (e[0].kind == "answered" and e[0].facts["step"] == facts["step"])]
        if facts["item"]:
            strike_last(live, "set_apart", "item", facts["item"])
    elif facts["what"] == "left_open":
        strike_last(live, "left_open", "step", facts["step"])
    else:
        strike_last(live, facts["what"], "item", facts["item"])


def strike_last(live: list[Stamped], kind: str, key: str, value: str) -> None:
    """Take out the last record of that kind whose `key` is `value`."""
    for index in range(len(live) - 1, -1, -1):
        record = live[index][0]
        if record.kind == kind and record.facts[key] == value:
            del live[index]
            return


@dataclass(frozen=True, slots=True)
class Standing:
    """Where in the live records each thing happened last: answers by step, the others by item."""

    live: Sequence[Stamped]
    answered: Mapping[str, int]
    replaced: Mapping[str, int]
    apart: Mapping[str, int]

    @classmethod
    def of(cls, live: Sequence[Stamped]) -> Standing:
        """The places of the last answer of each step, and of the last swap and setting apart of each item."""
        return cls(live, places(live, "answered", "step"), places(live, "replaced", "item"),
                   places(live, "set_apart", "item"))  # fmt: skip

    def missing(self, item: str) -> bool:
        """Whether the item was set apart and nothing has replaced it since."""
        return self.apart.get(item, -1) > self.replaced.get(item, -1)


def places(live: Sequence[Stamped], kind: str, key: str) -> dict[str, int]:
    """The place of the last record of that kind for each value of `key`."""
    return {record.facts[key]: place for place, (record, _) in enumerate(live) if record.kind == kind}


def judge_step(step: Step, standing: Standing, valid_s: float, now_s: float) -> Reason | None:
    """What keeps this step from being good, or None."""
    place = standing.answered.get(step.id, -1)
    if predates(step, standing, place):
        return Reason("unchecked", step.id, step.item)
    if place < 0:
        return Reason("open_critical" if step.critical else "open", step.id, step.item)
    record, at_s = standing.live[place]
    if not passing(step, record):
        return Reason("fault_critical" if step.critical else "fault", step.id, step.item, record.facts.get("code", ""))
    if not fresh(at_s, valid_s, now_s):
        return Reason("expired", step.id, step.item)
    return None


def predates(step: Step, standing: Standing, place: int) -> bool:
    """Whether a replacement that asks the step again came after its answer, or instead of one."""
    items = set(step.touches)
    if place >= 0 and standing.live[place][0].facts["outcome"] == "fault":
        items.add(step.fault(standing.live[place][0].facts["code"]).item)
    return any(standing.replaced.get(item, -1) > place for item in items)


def passing(step: Step, record: Record) -> bool:
    """Whether the answer closes the step well; where a number is needed, only with one that was judged good."""
    outcome = record.facts["outcome"]
    if outcome == "absent":
        return step.may_be_absent
    return bool(outcome == "passed" and (not step.needs_number or record.facts.get("judged") == "good"))


def fresh(at_s: float, valid_s: float, now_s: float) -> bool:
    """Whether an answer is young enough; one from the future was dated by a wrong clock and is not."""
    return -CLOCK_TOLERANCE_S <= now_s - at_s <= valid_s
