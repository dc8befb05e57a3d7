"""The functions that the table's `follow` column names, and those that only speak.

Every function takes a Draft and adds to it; without records it changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable

from assistant.check.answers import take_absent, take_fault, take_pass
from assistant.check.corrections import correct, go_back, leave_open, take_back_end, take_back_fault
from assistant.check.doubts import doubt, silence
from assistant.check.draft import Draft, ask, ask_next
from assistant.check.pauses import (
    break_off,
    carry_on,
    drop_note,
    go_on,
    keep_late_note,
    keep_note,
    pause,
    remind,
    stop,
    take_note,
)  # fmt: skip
from assistant.check.readings import take_reading
from assistant.check.replacements import agree, ask_replacement, deny, take_no_spare, take_swap
from assistant.check.turns import number_text
from assistant.errors import BadInput


def begin(draft: Draft) -> None:
    """Record who wears what, say the caution, ask the first step. BadInput for an item set apart before."""
    check, start = draft.ground.check, draft.start
    items = {item.id: number_text(start.items.get(item.id)) for item in check.items}
    apart = [[item, number_text(number)] for item, number in start.apart]
    for item, number in items.items():
        if number is not None and [item, number] in apart:
            raise BadInput(f"the {check.item(item).name} {number} was set apart", "Take another, then start again.")
    draft.add(
        "check_started", check=check.id, digest=check.digest, items=items, apart=apart,
        diver=start.diver, by=draft.said.by,
    )  # fmt: skip
    draft.say.append(check.caution)
    ask_next(draft)


def ignore(draft: Draft) -> None:
    """Nothing follows, nothing is recorded."""


def ask_again(draft: Draft) -> None:
    """The standing question once more."""
    ask(draft, draft.progress.question, "repeat")


def explain(draft: Draft) -> None:
    """The longer words of the step, or of the fault whose replacement is awaited."""
    question = draft.progress.question
    if question.what == "step":
        draft.say.append(draft.step.explain)
        ask(draft, question, "explain", aloud=False)
        return
    pending = draft.progress.pending
    if pending is not None:
        answer = draft.progress.answers.get(pending.step)
        if answer is not None:
            draft.say.append(draft.ground.check.step(pending.step).fault(answer.code).say)
    ask(draft, question, "explain")


def tell_where(draft: Draft) -> None:
    """Which step, how many done; then the question again."""
    draft.say.append(draft.ground.speech.where(draft.progress))
    ask(draft, draft.progress.question, "where")


def tell_where_waiting(draft: Draft) -> None:
    """Which step, without ending the pause."""
    draft.say.append(draft.ground.speech.where(draft.progress))


MOVES: dict[str, Callable[[Draft], None]] = {
    move.__name__: move
    for move in (
        ignore, begin, take_pass, take_absent, take_fault, take_reading, agree, deny, take_swap, take_no_spare,
        ask_replacement, take_back_fault, go_back, correct, leave_open, doubt, silence, pause, break_off, carry_on,
        go_on, stop, ask_again, explain, tell_where, tell_where_waiting, remind, take_note, keep_note, keep_late_note,
        drop_note, take_back_end,
    )
}  # fmt: skip
