"""What follows on numbers read out: asked again when they cannot be, read back when they could be others, judged.

Only a judge that says "good" passes; a finding that the sequence gives no fault is asked again, never passed, and
one that came too early waits for "carry on" and is read again.
Each function takes the draft of a turn; those in the table's `follow` column end it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from assistant.check.answers import pass_step
from assistant.check.doubts import doubt, note_doubt, pause_for, refuse_answer
from assistant.check.draft import Draft, ask
from assistant.check.faults import is_undenied, note_fault
from assistant.check.progress import Question
from assistant.check.steps import Number, Reading
from assistant.check.turns import Earlier, Facts, Judged, Numbers, ValueOf
from assistant.errors import BadInput

Said = tuple[Number, float, tuple[float, ...]]  # a number, its value, what else it could be


def take_reading(draft: Draft) -> None:
    """Numbers read out: asked again when one cannot be meant, read back when one could be another."""
    reading = draft.step.reading
    if reading is None:
        doubt(draft)
        return
    try:
        said = list(spoken_numbers(reading, draft.said.slots, draft.ground.value_of))
    except BadInput:
        refuse_answer(draft, "reading_unclear")
        return
    odd = next(((number, value) for number, value, _ in said if not plausible(number, value)), None)
    if odd is not None:
        refuse_number(draft, reading, *odd)
        return
    numbers = {number.name: value for number, value, _ in said}
    if draft.said.is_unsure or is_undenied(draft) or any(unclear(others) for _, _, others in said):
        step = draft.step
        ask(draft, Question("confirm", step.id, step.item, numbers=tuple(sorted(numbers.items()))))
        return
    judge_reading(draft, reading, numbers)


def spoken_numbers(reading: Reading, slots: Mapping[str, str], value_of: ValueOf) -> Iterator[Said]:
    """The numbers of the reading that were said; BadInput when there is none, or one is no number."""
    named = [number for number in reading.numbers if number.name in slots]
    if not named:
        raise BadInput("no number was said", "Say the number alone.")
    for number in named:
        value, others = value_of(number.kind, slots[number.name])
        yield number, value, others


def unclear(others: tuple[float, ...]) -> bool:
    """Whether the words could have been another number."""
    return bool(others)


def plausible(number: Number, value: float) -> bool:
    """Whether the value can be at all; what cannot be was misheard or misread."""
    return number.low <= value <= number.high


def refuse_number(draft: Draft, reading: Reading, number: Number, value: float) -> None:
    """A number that cannot be: say it with the bounds, and with another unit in which it could, and ask again."""
    spoken = draft.ground.speech.spoken
    said, low, high = (spoken(each, number.unit) for each in (value, number.low, number.high))
    others = (each for each in reading.numbers if each.unit != number.unit and each.say == number.say)
    other = next((each for each in others if plausible(each, value)), None)
    if other is None:
        refuse_answer(draft, "reading_odd", reading=said, low=low, high=high)
    else:
        named = spoken(value, other.unit)
        refuse_answer(draft, "reading_unit", reading=said, low=low, high=high, other=named)


def judge_reading(draft: Draft, reading: Reading, numbers: Numbers) -> None:
    """Have the numbers judged: pass, fault, or ask the step again; the verdict is spoken with number and reason."""
    speech, step = draft.ground.speech, draft.step
    again = Question("step", step.id, step.item)
    try:
        judged = draft.ground.judge(reading.judge, numbers, earlier(draft, reading), draft.now_s)
    except BadInput as refusal:
        names = {"reading": speech.numbers(step, numbers), "problem": str(refusal), "mend": refusal.mend}
        refuse_answer(draft, "reading_refused", again, **names)
        return
    verdict, facts = speech.judged(step, numbers, judged), measured(reading, numbers, judged)
    if is_good(judged):
        draft.say.append(verdict)
        pass_step(draft, facts)
    elif judged.outcome == "bad" and judged.finding in reading.faults:
        note_fault(draft, reading.faults[judged.finding], verdict, facts)
    elif judged.outcome == "later":
        draft.say.append(verdict)
        note_doubt(draft, judged.finding)
        pause_for(draft, judged.finding, question=again)
    else:
        refuse_answer(draft, "judged_again", again, verdict=verdict)


def is_good(judged: Judged) -> bool:
    """Whether the judge lets it pass."""
    return judged.outcome == "good"


def earlier(draft: Draft, reading: Reading) -> Earlier | None:
    """The first of two readings: the good one that stands for the step named by `since`."""
    answer = draft.progress.answers.get(reading.since)
    if answer is None or answer.outcome != "passed" or not answer.numbers:
        return None
    return Earlier(dict(answer.numbers), answer.at_s)


def measured(reading: Reading, numbers: Numbers, judged: Judged) -> Facts:
    """What was judged, for the record; `value` and `unit` are those of the first number."""
    first = next(number for number in reading.numbers if number.name in numbers)
    return {
        "value": numbers[first.name], "unit": first.unit, "numbers": dict(numbers), "judge": reading.judge,
        "judged": judged.outcome, "finding": judged.finding, "reason": judged.reason, "settings": judged.settings,
    }  # fmt: skip
