"""READY or HOLD, judged from the records alone. Pure, and independent of the session's bookkeeping.

READY only when every step is passed or allowed not fitted, answered after the last
replacement of everything it touches, none of it set apart without a replacement, every
answer dated and younger than the check's validity, and the check not stopped. Anything
else is HOLD, with its reasons, worst first. Withdrawn records count as never made.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
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
    reasons = [r for r in (judge_step(step, live, check.valid_s, now_s) for step in check.steps) if r]
    reasons += [Reason("no_spare", item=item.id) for item in check.items if set_apart(item.id, live)]
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


def last_index(live: list[Stamped], kind: str, key: str, values: Iterable[str]) -> int:
    """Where the last such record stands; -1 when there is none."""
    wanted = set(values)
    for index in range(len(live) - 1, -1, -1):
        record = live[index][0]
        if record.kind == kind and record.facts[key] in wanted:
            return index
    return -1


def set_apart(item: str, live: list[Stamped]) -> bool:
    """Whether the item was set apart and nothing has replaced it since."""
    return last_index(live, "set_apart", "item", [item]) > last_index(live, "replaced", "item", [item])


def judge_step(step: Step, live: list[Stamped], valid_s: float, now_s: float) -> Reason | None:
    """What keeps this step from being good, or None."""
    at = last_index(live, "answered", "step", [step.id])
    if at < 0:
        return unanswered(step, live, at)
    record, at_s = live[at]
    if predates(step, live, at):
        return unanswered(step, live, at)
    if not passing(step, record):
        return Reason("fault_critical" if step.critical else "fault", step.id, step.item, record.facts.get("code", ""))
    if not fresh(at_s, valid_s, now_s):
        return Reason("expired", step.id, step.item)
    return None


def unanswered(step: Step, live: list[Stamped], at: int) -> Reason:
    """An open step; unchecked when something it touches is a replacement."""
    if predates(step, live, at):
        return Reason("unchecked", step.id, step.item)
    return Reason("open_critical" if step.critical else "open", step.id, step.item)


def predates(step: Step, live: list[Stamped], at: int) -> bool:
    """Whether the answer at that place was given before a replacement that asks the step again."""
    items = set(step.touches)
    if at >= 0 and live[at][0].facts["outcome"] == "fault":
        items.add(step.fault(live[at][0].facts["code"]).item)
    return last_index(live, "replaced", "item", items) > at


def passing(step: Step, record: Record) -> bool:
    """Whether the answer closes the step well."""
    outcome = record.facts["outcome"]
    return bool(outcome == "passed" or (outcome == "absent" and step.may_be_absent))


def fresh(at_s: float, valid_s: float, now_s: float) -> bool:
    """Whether an answer is young enough; one from the future was dated by a wrong clock and is not."""
    return -CLOCK_TOLERANCE_S <= now_s - at_s <= valid_s
