"""What follows on an answer to a step: passed, not fitted, a fault, a number read out.

Each function takes the draft of a turn; those in the table's `follow` column end it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.check.doubts import doubt, refuse_answer
from assistant.check.draft import Draft, ask, ask_next
from assistant.check.progress import Question
from assistant.check.steps import Reading, Remedy, Step
from assistant.check.turns import Facts
from assistant.errors import BadInput

STUBBORN = 3  # the same fault, put right in place so often in a row, is the item's own


def take_pass(draft: Draft) -> None:
    """The step is passed, unless it wants a number: then the bare word is no answer."""
    if draft.step.reading is not None and not draft.said.slots:
        doubt(draft)
        return
    step = draft.step
    draft.add("answered", step=step.id, outcome="passed", **draft.heard())
    draft.say.extend(draft.ground.speech.passed(step))
    ask_next(draft)


def take_absent(draft: Draft) -> None:
    """Not fitted closes a step only where the sequence allows it; elsewhere it is a doubt with its own words."""
    step = draft.step
    if not may_be_absent(step):
        refuse_answer(draft, "cannot_be_absent", name=step.name)
        return
    draft.add("answered", step=step.id, outcome="absent", **draft.heard())
    draft.tell("absent", name=step.name)
    ask_next(draft)


def may_be_absent(step: Step) -> bool:
    """Whether this part may be missing from a kit."""
    return step.may_be_absent


def take_fault(draft: Draft) -> None:
    """A fault the diver named; a code this step does not know is a doubt."""
    if any(fault.code == draft.said.code for fault in draft.step.faults):
        note_fault(draft, draft.said.code)
    else:
        doubt(draft)


def note_fault(draft: Draft, code: str, value: Any = None) -> None:
    """Record the fault; set its item apart where it is to be swapped; ask for the replacement or go on.

    A fault that is put right in place and comes three times in a row is not put right:
    then its item is set apart as well.
    """
    step = draft.step
    fault = step.fault(code)
    draft.add("answered", step=step.id, outcome="fault", code=code, **measured(step, value), **draft.heard())
    draft.say.append(draft.ground.speech.fault(step, fault, value))
    stubborn = fault.remedy is Remedy.REPEAT and draft.progress.answers[step.id].times >= STUBBORN
    if stubborn:
        names = {"item": draft.ground.check.item(fault.item).name, "another": draft.ground.speech.another(fault.item)}
        draft.tell("third_time", **names)
    to_shop = fault.remedy is Remedy.SHOP and fault.item not in draft.progress.off
    if stubborn or to_shop or fault.remedy is Remedy.SWAP:
        number = draft.progress.on.get(fault.item)
        unreplaced = {"replace": False} if fault.remedy is Remedy.SHOP else {}
        draft.add("set_apart", item=fault.item, number=number, step=step.id, code=code, **unreplaced)
    if fault.remedy is Remedy.REPEAT and not stubborn:
        ask(draft, Question("step", step.id, step.item), "fault")
        return
    ask_next(draft)


def measured(step: Step, value: Any) -> Facts:
    """The number of an answer with its unit, where it has one."""
    return {} if value is None or step.reading is None else {"value": value, "unit": step.reading.unit}


def take_reading(draft: Draft) -> None:
    """A number read out: asked again when it cannot be meant, read back when it could be another."""
    reading = draft.step.reading
    if reading is None:
        doubt(draft)
        return
    try:
        value, others = draft.ground.value_of(reading.kind, spoken_number(draft.said.slots, reading.kind))
    except BadInput:
        refuse_answer(draft, "reading_unclear")
        return
    if unclear(others):
        ask(draft, Question("confirm", draft.step.id, draft.step.item, value))
        return
    judge_reading(draft, reading, value)


def spoken_number(slots: Mapping[str, str], kind: str) -> str:
    """The words of the number: the slot of its kind, else the only slot; BadInput when there is none."""
    if kind in slots:
        return slots[kind]
    if len(slots) == 1:
        return next(iter(slots.values()))
    raise BadInput("no number was said", "Say the number alone.")


def unclear(others: tuple[Any, ...]) -> bool:
    """Whether the words could have been another number."""
    return bool(others)


def judge_reading(draft: Draft, reading: Reading, value: Any) -> None:
    """Read the value back, then pass, fault or ask again by the bounds of the step."""
    if not plausible(reading, value):
        refuse_reading(draft, reading, value)
        return
    code = out_of_bounds(reading, value)
    if code:
        note_fault(draft, code, value)
        return
    step = draft.step
    draft.tell("taken_reading", reading=draft.ground.speech.reading(step, value))
    draft.add("answered", step=step.id, outcome="passed", **measured(step, value), **draft.heard())
    draft.say.extend(draft.ground.speech.passed(step))
    ask_next(draft)


def plausible(reading: Reading, value: Any) -> bool:
    """Whether the value can be at all; what cannot be was misheard or misread."""
    return bool(reading.plausible_low <= value <= reading.plausible_high)


def refuse_reading(draft: Draft, reading: Reading, value: Any) -> None:
    """A number that cannot be: say it with the bounds, and ask again."""
    said, low, high = (
        draft.ground.speech.reading(draft.step, v) for v in (value, reading.plausible_low, reading.plausible_high)
    )
    refuse_answer(draft, "reading_odd", reading=said, low=low, high=high)


def out_of_bounds(reading: Reading, value: Any) -> str:
    """The fault of a value below `low` or above `high`, or an empty string."""
    if reading.low is not None and value < reading.low:
        return reading.low_fault
    if reading.high is not None and value > reading.high:
        return reading.high_fault
    return ""
