"""What follows on a fault, named or measured; and one that was read back, and that nobody denied.

A fault heard by half is none before a yes. But where it is not denied either, nothing passes the step unasked, and
where only doubts follow the reading back it is noted: a wrong fault costs less than a lost one.
"""

from __future__ import annotations

from types import MappingProxyType

from assistant.check.draft import Draft, ask, ask_next
from assistant.check.progress import Question
from assistant.check.steps import FAULT, Remedy
from assistant.check.turns import Facts

STUBBORN = 3  # the same fault, put right in place so often in a row, is the item's own


def note_fault(draft: Draft, code: str, verdict: str = "", more: Facts = MappingProxyType({})) -> None:
    """Record the fault; set its item apart where it is to be swapped; ask for the replacement or go on.

    verdict: the spoken judgement of a reading, more: its facts for the record. A fault that is put right in
    place and comes three times in a row is not put right: then its item is set apart as well.
    """
    step = draft.step
    fault = step.fault(code)
    draft.add("answered", step=step.id, outcome="fault", code=code, **{**draft.heard(), **more})
    draft.say.append(draft.ground.speech.fault(fault, verdict))
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


def note_read_back(draft: Draft, more: Facts) -> None:
    """Record the fault that was read back; more: how it came in."""
    note_fault(draft, draft.progress.question.meaning.removeprefix(FAULT), more=more)


def is_fault_read_back(draft: Draft) -> bool:
    """Whether a fault was read back, and waits for its yes."""
    return draft.progress.question.meaning.startswith(FAULT)


def is_undenied(draft: Draft) -> bool:
    """Whether a fault of this step was read back, and neither agreed to nor denied."""
    return draft.step.id in draft.progress.undenied
