"""What follows on an answer to a step: passed, not fitted, a fault.

Each function takes the draft of a turn; those in the table's `follow` column end it.
"""

from __future__ import annotations

from types import MappingProxyType

from assistant.check.doubts import doubt, refuse_answer
from assistant.check.draft import Draft, ask, ask_next
from assistant.check.faults import is_undenied, note_fault
from assistant.check.progress import Question
from assistant.check.steps import FAULT, Step
from assistant.check.turns import Facts

ABSENT = "absent"  # the meaning of "not fitted" where it is read back


def take_pass(draft: Draft) -> None:
    """The step is passed, unless it wants a number: then the bare word is no answer. What was heard less than surely
    is read back, and where a fault was that nobody denied."""
    if draft.step.needs_number:
        doubt(draft)
    elif draft.said.is_unsure or is_undenied(draft):
        read_back(draft)
    else:
        pass_step(draft)


def read_back(draft: Draft, meaning: str = "") -> None:
    """Ask whether these words were said; they are no answer before a yes."""
    ask(draft, Question("confirm", draft.step.id, draft.step.item, draft.said.text, meaning=meaning))


def agreed(draft: Draft) -> Facts:
    """How an answer came in that was read back, for the record."""
    return {"heard": draft.progress.question.value, "agreed": draft.said.text}


def pass_step(draft: Draft, more: Facts = MappingProxyType({})) -> None:
    """Record the pass, with more facts of it, and go on."""
    step = draft.step
    draft.add("answered", step=step.id, outcome="passed", **{**draft.heard(), **more})
    draft.say.extend(draft.ground.speech.passed(step))
    ask_next(draft)


def take_absent(draft: Draft) -> None:
    """Not fitted closes a step only where the sequence allows it; elsewhere it is a doubt with its own words."""
    if not may_be_absent(draft.step):
        refuse_answer(draft, "cannot_be_absent", name=draft.step.name)
    elif draft.said.is_unsure or is_undenied(draft):
        read_back(draft, ABSENT)
    else:
        close_absent(draft)


def close_absent(draft: Draft, more: Facts = MappingProxyType({})) -> None:
    """Record that the part is not fitted, with more facts of it, and go on."""
    step = draft.step
    draft.add("answered", step=step.id, outcome="absent", **{**draft.heard(), **more})
    draft.tell("absent", name=step.name)
    ask_next(draft)


def may_be_absent(step: Step) -> bool:
    """Whether this part may be missing from a kit."""
    return step.may_be_absent


def take_fault(draft: Draft) -> None:
    """A fault the diver named, to the step's question or to what was read back of it; a code this step does not know
    is a doubt. Heard by half, it is read back."""
    step_id = draft.progress.question.step
    if not step_id or not any(fault.code == draft.said.code for fault in draft.step.faults):
        doubt(draft)
    elif draft.said.is_unsure:
        read_back(draft, f"{FAULT}{draft.said.code}")
    else:
        note_fault(draft, draft.said.code)
