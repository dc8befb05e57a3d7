"""What follows while an item is set apart: its replacement, the number of that, no spare.

A number is never filled in by doubt or silence, and what was set apart is refused.
Each function takes the draft of a turn; those in the table's `follow` column end it.
"""

from __future__ import annotations

from assistant.check import swaps
from assistant.check.answers import ABSENT, agreed, close_absent, pass_step
from assistant.check.doubts import refuse_answer
from assistant.check.draft import Draft, ask, ask_next, tell_and_ask
from assistant.check.faults import is_fault_read_back, note_read_back
from assistant.check.progress import Question, anew, next_question
from assistant.check.readings import judge_reading, unclear
from assistant.check.turns import Number, number_text
from assistant.errors import BadInput


def take_swap(draft: Draft) -> None:
    """A replacement was named: with its number, as unmarked, or with the number still to be asked."""
    slots, item = draft.said.slots, draft.progress.question.item
    if "unmarked" in slots or draft.said.meaning == "unmarked":
        replace_item(draft, None)
        return
    if not slots:
        ask(draft, Question("number", "", item))
        return
    try:
        value, others = draft.ground.value_of("number", slots.get("number", ""))
    except BadInput:
        refuse_answer(draft, "reading_unclear")
        return
    number = number_text(value)
    if draft.said.is_unsure or unclear(others):
        ask(draft, Question("confirm", "", item, number))
        return
    replace_item(draft, number)


def replace_item(draft: Draft, number: Number) -> None:
    """Put the replacement on the diver and ask its steps from the first; refuse what was set apart
    and what another diver has."""
    item = draft.progress.question.item
    holder = draft.taken.get((item, number)) if number is not None else None
    if holder is not None or swaps.refused(draft.progress.apart, item, number):
        name, speech = draft.ground.check.item(item).name, draft.ground.speech
        names = {"item": name, "number": speech.number(number), "another": speech.another(item)}
        draft.tell("on_another" if holder else "same_again", **names)
        ask_replacement(draft, "refused")
        return
    draft.add("replaced", item=item, old=draft.progress.on.get(item), new=number, **draft.heard())
    draft.say.append(draft.ground.speech.replaced(item, number))
    ask_next(draft)


def take_no_spare(draft: Draft) -> None:
    """The item stays off: its steps cannot be asked any more, the others are, since a guide wants to know."""
    item = draft.progress.question.item
    draft.add("no_spare", item=item, **draft.heard())
    draft.tell("no_spare", item=draft.ground.check.item(item).name)
    ask_next(draft)


def ask_replacement(draft: Draft, because: str = "") -> None:
    """Ask what replaces the item that is awaited."""
    question = next_question(draft.ground.check, draft.ground.needs, draft.progress)
    if question is not None:
        ask(draft, question, because)


def agree(draft: Draft) -> None:
    """What was read back is what was meant: an item's number, a step's numbers, its fault, not fitted, or its pass."""
    question = draft.progress.question
    if not question.step:
        replace_item(draft, question.value)
    elif question.numbers and draft.step.reading is not None:
        judge_reading(draft, draft.step.reading, dict(question.numbers))
    elif question.meaning == ABSENT:
        close_absent(draft, agreed(draft))
    elif is_fault_read_back(draft):
        note_read_back(draft, agreed(draft))
    elif draft.step.needs_number or question.meaning:
        deny(draft)  # no pass is read back there
    else:
        pass_step(draft, agreed(draft))


def deny(draft: Draft) -> None:
    """What was read back was not meant: ask for it again."""
    question = draft.progress.question
    key = "denied_pass" if question.step and not question.numbers else "denied"
    tell_and_ask(draft, key, anew(question), "denied")
