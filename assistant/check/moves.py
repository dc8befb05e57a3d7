"""What follows on each row of the table: the records of the turn and the words to say.

Every function takes a Draft and adds to it; the name in the table's `follow` column is
the function's name. A turn ends with exactly one record that says what is now asked (or
paused, or judged); a turn without records changes nothing. Nothing here touches the
session: the draft thinks ahead on its own copy of the bookkeeping.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from assistant.check import swaps
from assistant.check.meaning import Said
from assistant.check.progress import Progress, Question, askable, evolve, next_question, standing_question
from assistant.check.speech import Speech
from assistant.check.steps import Check, Reading, Remedy, Step
from assistant.check.table import Sign
from assistant.check.turns import Facts, Number, Record, Stamped, Start, ValueOf, number_text
from assistant.check.verdict import judge
from assistant.errors import BadInput

PATIENCE = 3  # the doubt at which a step is left open, or a swap waits for carry on
STUBBORN = 3  # the same fault, put right in place so often, is the item's own


@dataclass(frozen=True)
class Ground:
    """What a session stands on and never changes."""

    check: Check
    needs: Mapping[str, frozenset[str]]
    speech: Speech
    value_of: ValueOf


@dataclass
class Draft:
    """One turn in the making: `progress` is where the session would be after `records`."""

    ground: Ground
    progress: Progress
    entries: tuple[Stamped, ...]
    said: Said
    start: Start
    now_s: float
    records: list[Record] = field(default_factory=list)
    say: list[str] = field(default_factory=list)

    @property
    def step(self) -> Step:
        """The step that the standing question is about."""
        return self.ground.check.step(self.progress.question.step)

    def add(self, kind: str, **facts: Any) -> None:
        """One record more, and the bookkeeping after it."""
        record = Record(kind, facts)
        self.records.append(record)
        self.progress = evolve(self.ground.check, self.progress, record, self.now_s)

    def close(self, kind: str, **facts: Any) -> None:
        """The record that ends the turn: it names its row and keeps the words spoken."""
        self.add(kind, **facts, turn=self.said.sign.value, said=list(self.say))

    def tell(self, key: str, **names: object) -> None:
        """One reply to say."""
        self.say.append(self.ground.speech.text(key, **names))

    def heard(self) -> Facts:
        """How an answer came in, for the record."""
        return {"heard": self.said.text, "by": self.said.by}


def ask(draft: Draft, question: Question, because: str = "", aloud: bool = True) -> None:
    """End the turn with this question."""
    if aloud:
        draft.say.append(draft.ground.speech.question(question))
    facts: dict[str, Any] = {"what": question.what, "step": question.step, "item": question.item}
    if question.what == "confirm":
        facts["value"] = question.value
    draft.close("asked", **facts, because=because)


def ask_next(draft: Draft, because: str = "") -> None:
    """End the turn with the next question, or with the verdict when there is none."""
    question = next_question(draft.ground.check, draft.ground.needs, draft.progress)
    if question is None:
        give_verdict(draft)
        return
    if question.what == "step" and draft.progress.left.get(question.step):
        draft.tell("coming_back")
    ask(draft, question, because)


def give_verdict(draft: Draft) -> None:
    """End the session with what the records say, never with what the bookkeeping thinks."""
    entries = [*draft.entries, *((record, draft.now_s) for record in draft.records)]
    verdict = judge(draft.ground.check, entries, draft.now_s)
    if draft.said.sign is not Sign.STOP:
        draft.say.extend(draft.ground.speech.verdict(verdict))
    reasons = [{"kind": r.kind, "step": r.step, "item": r.item, "code": r.code} for r in verdict.reasons]
    draft.close("verdict_given", verdict="ready" if verdict.ready else "hold", reasons=reasons)


def ignore(draft: Draft) -> None:
    """Nothing follows, nothing is recorded."""


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
    draft.tell("ready")
    ask_next(draft)


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
        refuse_answer(draft, "cannot_be_absent", step=step.name)
        return
    draft.add("answered", step=step.id, outcome="absent", **draft.heard())
    draft.tell("absent", step=step.name)
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


def note_fault(draft: Draft, code: str, **reading: Any) -> None:
    """Record the fault; set its item apart where it is to be swapped; ask for the replacement or go on.

    A fault that is put right in place and comes three times in a row is not put right:
    then its item is set apart as well.
    """
    step = draft.step
    fault = step.fault(code)
    draft.add("answered", step=step.id, outcome="fault", code=code, **reading, **draft.heard())
    draft.say.extend(draft.ground.speech.fault(fault))
    stubborn = fault.remedy is Remedy.REPEAT and draft.progress.answers[step.id].times >= STUBBORN
    if stubborn:
        draft.tell("third_time", item=draft.ground.check.item(fault.item).name)
    if stubborn or fault.remedy is Remedy.SWAP:
        number = draft.progress.on.get(fault.item)
        draft.add("set_apart", item=fault.item, number=number, step=step.id, code=code)
    if fault.remedy is Remedy.REPEAT and not stubborn:
        ask(draft, Question("step", step.id, step.item), "fault", aloud=True)
        return
    ask_next(draft)


def take_reading(draft: Draft) -> None:
    """A number read out: asked again when it cannot be meant, read back when it could be another."""
    reading = draft.step.reading
    if reading is None:
        doubt(draft)
        return
    try:
        value, others = draft.ground.value_of(reading.kind, spoken_number(draft.said.slots, reading.kind))
    except BadInput:
        refuse_answer(draft, "bad_number")
        return
    if unclear(others):
        ask(draft, Question("confirm", draft.step.id, draft.step.item, value))
        return
    judge_reading(draft, reading, value)


def unclear(others: tuple[Any, ...]) -> bool:
    """Whether the words could have been another number."""
    return bool(others)


def spoken_number(slots: Mapping[str, str], kind: str) -> str:
    """The words of the number: the slot of its kind, else the only slot; BadInput when there is none."""
    if kind in slots:
        return slots[kind]
    if len(slots) == 1:
        return next(iter(slots.values()))
    raise BadInput("no number was said", "Say the number alone.")


def judge_reading(draft: Draft, reading: Reading, value: Any) -> None:
    """Read the value back, then pass, fault or ask again by the bounds of the step."""
    if not reading.plausible_low <= value <= reading.plausible_high:
        refuse_answer(draft, "reading_implausible", reading=draft.ground.speech.reading(draft.step, value))
        return
    draft.tell("reading_back", reading=draft.ground.speech.reading(draft.step, value))
    code = out_of_bounds(reading, value)
    if code:
        note_fault(draft, code, value=value, unit=reading.unit)
        return
    step = draft.step
    draft.add("answered", step=step.id, outcome="passed", value=value, unit=reading.unit, **draft.heard())
    draft.say.extend(draft.ground.speech.passed(step))
    ask_next(draft)


def out_of_bounds(reading: Reading, value: Any) -> str:
    """The fault of a value below `low` or above `high`, or an empty string."""
    if reading.low is not None and value < reading.low:
        return reading.low_fault
    if reading.high is not None and value > reading.high:
        return reading.high_fault
    return ""


def agree(draft: Draft) -> None:
    """The number that was read back is the one meant."""
    question = draft.progress.question
    if not question.step:
        replace_item(draft, question.value)
    elif draft.step.reading is not None:
        judge_reading(draft, draft.step.reading, question.value)


def deny(draft: Draft) -> None:
    """The number read back was another: ask for it again."""
    question = draft.progress.question
    what = "step" if question.step else "number"
    ask(draft, Question(what, question.step, question.item), "denied")


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
        value, others = draft.ground.value_of("number", spoken_number(slots, "number"))
    except BadInput:
        refuse_answer(draft, "bad_number")
        return
    number = number_text(value)
    if unclear(others):
        ask(draft, Question("confirm", "", item, number))
        return
    replace_item(draft, number)


def replace_item(draft: Draft, number: Number) -> None:
    """Put the replacement on the diver and ask its steps from the first; refuse what was set apart."""
    item = draft.progress.question.item
    if swaps.refused(draft.progress.apart, item, number):
        name = draft.ground.check.item(item).name
        draft.tell("refused_number", item=name, number=draft.ground.speech.number(number))
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


def take_back_fault(draft: Draft) -> None:
    """No replacement is in place yet: the fault and the setting apart are withdrawn, the step is asked again."""
    pending = draft.progress.pending
    if pending is not None:
        withdraw_answer(draft, pending.step, pending.item)


def withdraw_answer(draft: Draft, step_id: str, item: str = "") -> None:
    """Withdraw the step's answer, with the item set apart by it, and ask the step again."""
    step = draft.ground.check.step(step_id)
    because = draft.said.sign.value
    draft.add("withdrawn", what="answered", step=step_id, item=item, because=because, **draft.heard())
    draft.tell("went_back" if draft.said.sign is Sign.GO_BACK else "corrected", step=step.name)
    ask(draft, Question("step", step_id, step.item), because)


def go_back(draft: Draft) -> None:
    """Reopen the step answered last of those that can be asked now; its answer is withdrawn."""
    ground, progress = draft.ground, draft.progress
    for step_id in reversed(list(progress.answers)):
        if step_id != progress.question.step and askable(progress, ground.check.step(step_id), ground.needs):
            withdraw_answer(draft, step_id)
            return
    draft.tell("at_first_step")
    ask(draft, progress.question, "repeat")


def correct(draft: Draft) -> None:
    """Take back the last act: an answer, a replacement, a missing spare or a step left open."""
    act = draft.progress.last
    if act is None:
        draft.tell("nothing_to_correct")
        ask(draft, draft.progress.question, "repeat")
    elif act.what == "answered":
        withdraw_answer(draft, act.step)
    else:
        draft.add("withdrawn", what=act.what, step=act.step, item=act.item, because="correct", **draft.heard())
        name = draft.ground.check.step(act.step).name if act.step else draft.ground.check.item(act.item).name
        draft.tell("corrected", step=name)
        reopen(draft, act.step)


def reopen(draft: Draft, step_id: str) -> None:
    """Ask this step, or without one the replacement that is awaited again."""
    if step_id:
        ask(draft, Question("step", step_id, draft.ground.check.step(step_id).item), "correct")
    else:
        ask_replacement(draft, "correct")


def leave_open(draft: Draft) -> None:
    """Leave the step open for later; a replacement's number cannot be left open, so there it is a doubt."""
    if not draft.progress.question.step:
        doubt(draft)
        return
    draft.add("left_open", step=draft.step.id, why="asked", **draft.heard())
    draft.tell("left_open", step=draft.step.name)
    ask_next(draft)


def doubt(draft: Draft) -> None:
    """Something was said that is no answer here: ask again in other words, at last leave it open."""
    why = draft.said.why or "out_of_place"
    note_doubt(draft, why)
    question, times = draft.progress.question, draft.progress.doubts
    if times >= PATIENCE:
        give_up(draft)
        return
    draft.say.append(draft.ground.speech.doubt(question, why, times))
    aloud = question.what != "step" or times > 1 or why in ("early", "too_loud", "too_faint", "near")
    ask(draft, question, "doubt", aloud=aloud)


def note_doubt(draft: Draft, why: str) -> None:
    """Record the doubt against the question that stands."""
    question = draft.progress.question
    draft.add("doubted", what=question.what, step=question.step, item=question.item, why=why, **draft.heard())


def refuse_answer(draft: Draft, key: str, **names: object) -> None:
    """An answer that cannot be taken: say why and ask again; it counts as a doubt."""
    note_doubt(draft, key)
    if draft.progress.doubts >= PATIENCE:
        give_up(draft)
        return
    draft.tell(key, **names)
    ask(draft, draft.progress.question, "doubt")


def give_up(draft: Draft) -> None:
    """The third doubt: a step is left open; a swap waits, because a number is never guessed."""
    if not draft.progress.question.step or draft.progress.question.what == "replacement":
        pause_for(draft, "not_understood")
        return
    step = draft.step
    draft.add("left_open", step=step.id, why="not_understood")
    draft.tell("not_understood_3")
    draft.tell("left_open", step=step.name)
    ask_next(draft)


def silence(draft: Draft) -> None:
    """Nobody spoke: ask once more, then wait."""
    if draft.progress.silences:
        pause_for(draft, "silence")
        return
    draft.tell("silent")
    ask(draft, draft.progress.question, "silence")


def pause(draft: Draft) -> None:
    """The diver asked to wait."""
    pause_for(draft, "asked")


def pause_for(draft: Draft, why: str) -> None:
    """Wait until carry on."""
    draft.tell("waiting")
    draft.close("paused", why=why, by=draft.said.by)


def break_off(draft: Draft) -> None:
    """A part failed: wait without a word, the application says what failed and how to mend it."""
    draft.close("paused", why="broken", part=draft.said.code, problem=draft.said.text)


def carry_on(draft: Draft) -> None:
    """The question that stood before the pause is asked again."""
    draft.add("resumed", **draft.heard())
    draft.tell("carrying_on")
    ask(draft, draft.progress.question, "carry_on")


def go_on(draft: Draft) -> None:
    """After a crash: say so, and ask again what was not answered."""
    draft.add("continued")
    draft.tell("resumed")
    question = standing_question(draft.ground.check, draft.ground.needs, draft.progress)
    if question is None:
        give_verdict(draft)
    else:
        ask(draft, question, "continued")


def stop(draft: Draft) -> None:
    """The check ends here; what it knows is judged, and a stopped check is HOLD."""
    draft.add("stopped", by=draft.said.by, heard=draft.said.text)
    draft.tell("stopped")
    give_verdict(draft)


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


def remind(draft: Draft) -> None:
    """Something was said in a pause: it is no answer; say how the pause ends."""
    draft.tell("waiting")


def take_note(draft: Draft) -> None:
    """The next thing said is kept as sound."""
    question = draft.progress.question
    draft.tell("note_speak")
    draft.close("asked", what="note", step=question.step, item=question.item, because="note")


def keep_note(draft: Draft) -> None:
    """The note lies in the store; back to the question."""
    keep_late_note(draft)
    draft.tell("note_kept")
    ask(draft, draft.progress.question, "note")


def keep_late_note(draft: Draft) -> None:
    """A note that came when none was awaited is kept all the same."""
    question = draft.progress.question
    draft.add("noted", step=question.step, item=question.item, clip=draft.said.code)


MOVES: dict[str, Callable[[Draft], None]] = {
    move.__name__: move
    for move in (
        ignore, begin, take_pass, take_absent, take_fault, take_reading, agree, deny, take_swap, take_no_spare,
        ask_replacement, take_back_fault, go_back, correct, leave_open, doubt, silence, pause, break_off, carry_on,
        go_on, stop, ask_again, explain, tell_where, tell_where_waiting, remind, take_note, keep_note, keep_late_note,
    )
}  # fmt: skip
