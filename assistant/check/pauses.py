"""What follows when the check stops for a while or for good: wait, note, crash, stop.

Each function takes the draft of a turn; those in the table's `follow` column end it.
"""

from __future__ import annotations

from assistant.check.doubts import pause_for
from assistant.check.draft import Draft, conclude, give_verdict, tell_and_ask
from assistant.check.progress import anew, standing_question
from assistant.check.verdict import judge


def pause(draft: Draft) -> None:
    """The diver asked to wait."""
    pause_for(draft, "asked")


def break_off(draft: Draft) -> None:
    """A part failed: wait without a word, the application says what failed and how to mend it."""
    draft.close("paused", why="broken", part=draft.said.code, problem=draft.said.text)


def carry_on(draft: Draft) -> None:
    """The question that stood before the pause is asked again; what had been read back, from the start."""
    draft.add("resumed", **draft.heard())
    tell_and_ask(draft, "carrying_on", anew(draft.progress.question), "carry_on")


def go_on(draft: Draft) -> None:
    """After a crash: say so, and ask again what was not answered."""
    draft.add("continued")
    question = standing_question(draft.ground.check, draft.ground.needs, draft.progress)
    if question is None:
        conclude(draft)
    else:
        tell_and_ask(draft, "resumed", question, "continued", name=draft.ground.speech.name(question))


def stop(draft: Draft) -> None:
    """The check ends here; what it knows is judged, and a stopped check is HOLD."""
    draft.add("stopped", step="", item="", **draft.heard())
    draft.tell("stopped")
    give_verdict(draft, judge(draft.ground.check, draft.all_entries(), draft.now_s))


def take_note(draft: Draft) -> None:
    """The next thing said is kept as sound."""
    question = draft.progress.question
    draft.tell("note_speak")
    draft.close("asked", what="note", step=question.step, item=question.item, because="note")


def keep_note(draft: Draft) -> None:
    """The note lies in the store; back to the question."""
    keep_late_note(draft)
    tell_and_ask(draft, "note_kept", anew(draft.progress.question), "note")


def drop_note(draft: Draft) -> None:
    """Nothing was kept; back to the question."""
    tell_and_ask(draft, "note_empty", anew(draft.progress.question), "note")


def keep_late_note(draft: Draft) -> None:
    """A note that came when none was awaited is kept all the same."""
    question = draft.progress.question
    draft.add("noted", step=question.step, item=question.item, clip=draft.said.code)


def remind(draft: Draft) -> None:
    """Something was said in a pause: it is no answer; say how the pause ends."""
    draft.tell("waiting")
