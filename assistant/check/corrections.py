"""What follows on go back, correct that and leave it open: answers withdrawn, never changed.

A withdrawn answer leaves its step unanswered; it is asked again at once. Each function
takes the draft of a turn; those in the table's `follow` column end it.
"""

from __future__ import annotations

from assistant.check.doubts import doubt, leave_step_open
from assistant.check.draft import Draft, tell_and_ask
from assistant.check.progress import Question, askable, standing_question
from assistant.check.steps import Remedy
from assistant.check.table import Sign
from assistant.check.verdict import strike_out


def go_back(draft: Draft) -> None:
    """Reopen the step answered last of those that can be asked now; its answer is withdrawn."""
    ground, progress = draft.ground, draft.progress
    for step_id in reversed(list(progress.answers)):
        if step_id != progress.question.step and askable(progress, ground.check.step(step_id), ground.needs):
            withdraw_answer(draft, step_id, sent_to_shop(draft, step_id))
            return
    tell_and_ask(draft, "at_first_step", progress.question, "repeat")


def correct(draft: Draft) -> None:
    """Take back the last act: an answer, a replacement, a missing spare, a step left open, a stop."""
    act = draft.progress.last
    if act is None:
        tell_and_ask(draft, "nothing_to_correct", draft.progress.question, "repeat")
    elif act.what == "answered":
        withdraw_answer(draft, act.step, sent_to_shop(draft, act.step))
    else:
        draft.add("withdrawn", what=act.what, step=act.step, item=act.item, because="correct", **draft.heard())
        reopen(draft, act.step)


def take_back_end(draft: Draft) -> None:
    """The last answer was misheard and led to the verdict, or the stop was: take it back, go on from there."""
    if draft.progress.last is not None:
        correct(draft)


def reopen(draft: Draft, step_id: str) -> None:
    """Ask this step, or without one what stood before the end or before the replacement."""
    question = standing_question(draft.ground.check, draft.ground.needs, draft.progress)
    if step_id:
        question = Question("step", step_id, draft.ground.check.step(step_id).item)
    if question is not None:
        tell_and_ask(draft, "corrected", question, "correct")


def sent_to_shop(draft: Draft, step_id: str) -> str:
    """The item that this step's standing fault set apart for the shop, or an empty string."""
    answer = draft.progress.answers.get(step_id)
    step = draft.ground.check.step(step_id)
    if answer is None or answer.outcome != "fault" or step.fault(answer.code).remedy is not Remedy.SHOP:
        return ""
    apart = [r.facts for r, _ in strike_out(draft.all_entries()) if r.kind == "set_apart"]
    return next((str(facts["item"]) for facts in apart if facts["step"] == step_id), "")


def withdraw_answer(draft: Draft, step_id: str, item: str = "") -> None:
    """Withdraw the step's answer, with the item set apart by it, and ask the step again."""
    step = draft.ground.check.step(step_id)
    because = draft.said.sign.value
    draft.add("withdrawn", what="answered", step=step_id, item=item, because=because, **draft.heard())
    key = "corrected_fault" if item else "went_back" if draft.said.sign is Sign.GO_BACK else "corrected"
    names = {"name": step.name, "item": draft.ground.check.item(item or step.item).name}
    tell_and_ask(draft, key, Question("step", step_id, step.item), because, **names)


def take_back_fault(draft: Draft) -> None:
    """No replacement is in place yet: the fault and the setting apart are withdrawn, the step is asked again."""
    pending = draft.progress.pending
    if pending is not None:
        withdraw_answer(draft, pending.step, pending.item)


def leave_open(draft: Draft) -> None:
    """Leave the step open for later; a replacement's number cannot be left open, so there it is a doubt."""
    if not draft.progress.question.step:
        doubt(draft)
        return
    leave_step_open(draft, "asked")
