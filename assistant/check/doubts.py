"""What follows on no answer: another re-prompt, a step left open, a pause. Never an answer.

Each function takes the draft of a turn; those in the table's `follow` column end it.
"""

from __future__ import annotations

from assistant.check.draft import Draft, ask, ask_next, tell_and_ask
from assistant.check.faults import is_fault_read_back, note_read_back
from assistant.check.progress import Question

PATIENCE = 3  # the doubt at which a step is left open, or a swap waits for carry on


def doubt(draft: Draft) -> None:
    """Something was said that is no answer here: ask again in other words, at last leave it open."""
    why = draft.said.why or "out_of_place"
    note_doubt(draft, why)
    question, times = draft.progress.question, draft.progress.doubts
    if times >= PATIENCE:
        give_up(draft)
        return
    draft.say.extend(draft.ground.speech.doubt(question, why, times))
    ask(draft, question, "doubt", aloud=False)


def note_doubt(draft: Draft, why: str) -> None:
    """Record the doubt against the question that stands."""
    question = draft.progress.question
    draft.add("doubted", what=question.what, step=question.step, item=question.item, why=why, **draft.heard())


def refuse_answer(draft: Draft, key: str, question: Question | None = None, **names: object) -> None:
    """An answer that cannot be taken: say why and ask again (another question when one is given); it is a doubt."""
    note_doubt(draft, key)
    if draft.progress.doubts >= PATIENCE:
        give_up(draft)
        return
    tell_and_ask(draft, key, question or draft.progress.question, "doubt", **names)


def give_up(draft: Draft) -> None:
    """The third doubt: a step is left open; a swap waits, because a number is never guessed; a fault that was read
    back, and that nobody denied, is noted."""
    if is_fault_read_back(draft):
        note_read_back(draft, {"heard": draft.progress.question.value})
        return
    if not draft.progress.question.step or draft.progress.question.what == "replacement":
        pause_for(draft, "not_understood")
        return
    leave_step_open(draft, "not_understood")


def leave_step_open(draft: Draft, why: str) -> None:
    """Leave the standing step open: to come back to at the end, the second time for good."""
    step = draft.step
    draft.add("left_open", step=step.id, why=why, **draft.heard())
    draft.tell("left_open" if draft.progress.left[step.id] == 1 else "left_open_last", name=step.name)
    ask_next(draft)


def silence(draft: Draft) -> None:
    """Nobody spoke: ask once more, then wait."""
    if draft.progress.silences:
        pause_for(draft, "silence", "silent_waiting")
        return
    tell_and_ask(draft, "silent", draft.progress.question, "silence")


def pause_for(draft: Draft, why: str, key: str = "waiting", question: Question | None = None) -> None:
    """Wait until carry on; then the question that stands is asked again, or the one given."""
    draft.tell(key)
    about = {} if question is None else {"what": question.what, "step": question.step, "item": question.item}
    draft.close("paused", why=why, by=draft.said.by, **about)
