"""How far a check is: the bookkeeping, a frozen value that only records change.

`evolve(progress, record)` gives the next value and never touches the old one, so a
turn can be thought through before it is committed, and a replay ends where the live
session was. Nothing here decides an outcome; the verdict is judged elsewhere, from
the records and not from this.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from assistant.check import swaps
from assistant.check.steps import FAULT, Check, Remedy, Step
from assistant.check.turns import Facts, Number, Record
from assistant.errors import UnknownTurn

NOT_ANSWERED = ("silence", "doubt", "repeat", "explain", "where", "note", "carry_on", "refused")
Values = tuple[tuple[str, float], ...]  # a reading's numbers by name


@dataclass(frozen=True, slots=True)
class Answer:
    """What stands for a step; `times` counts how often in a row the same fault was named, `numbers` were read out."""

    outcome: str  # passed, absent or fault
    code: str = ""
    at_s: float = 0.0
    times: int = 1
    numbers: Values = ()


@dataclass(frozen=True, slots=True)
class Pending:
    """An item set apart whose replacement is awaited, and the step whose fault did it."""

    item: str
    step: str


@dataclass(frozen=True, slots=True)
class Question:
    """What stands to be answered: a step, a replacement, its number; or what was read back: a step's `numbers`, or as
    `value` an item's number or the words of a step's answer, with their `meaning` when that is no pass ("fault:leaks",
    "absent")."""

    what: str = ""
    step: str = ""
    item: str = ""
    value: Any = None
    numbers: Values = ()
    meaning: str = ""


def anew(question: Question) -> Question:
    """The same question as it stood before its answer was read back: a yes counts only right after the reading back,
    since a pause makes a number old, and somebody else's question may have come between."""
    if question.what != "confirm":
        return question
    return Question("step" if question.step else "number", question.step, question.item)


@dataclass(frozen=True, slots=True)
class Act:
    """The last thing that "correct that" can take back, with what it replaced."""

    what: str  # answered, replaced, no_spare, left_open, stopped
    step: str = ""
    item: str = ""
    pending: Pending | None = None
    answers: Mapping[str, Answer] = field(default_factory=dict)
    old: Number = None


@dataclass(frozen=True, slots=True)
class Progress:
    """`on`: numbers by item, also of what is `off` the diver; `answers` in the order of their time;
    `left`: how often a step was left open; `undenied`: by step the fault that was read back, and neither agreed to nor
    denied; `doubts` and `silences` at the question that stands."""

    on: Mapping[str, Number] = field(default_factory=dict)
    off: frozenset[str] = frozenset()
    apart: frozenset[tuple[str, Number]] = frozenset()
    answers: Mapping[str, Answer] = field(default_factory=dict)
    left: Mapping[str, int] = field(default_factory=dict)
    undenied: Mapping[str, str] = field(default_factory=dict)
    pending: Pending | None = None
    last: Act | None = None
    question: Question = Question()
    doubts: int = 0
    silences: int = 0


def prerequisites(check: Check) -> dict[str, frozenset[str]]:
    """For each step all steps it stands on, also through others; the check is known to have no circle."""
    direct = {s.id: s.after for s in check.steps}
    found: dict[str, frozenset[str]] = {}

    def gather(step_id: str) -> frozenset[str]:
        if step_id not in found:
            found[step_id] = frozenset(direct[step_id]).union(*(gather(a) for a in direct[step_id]))
        return found[step_id]

    for step in check.steps:
        gather(step.id)
    return found


def settled(progress: Progress, step_id: str) -> bool:
    """Whether the step is passed or allowed not fitted."""
    answer = progress.answers.get(step_id)
    return answer is not None and answer.outcome in ("passed", "absent")


def to_ask(progress: Progress, step: Step) -> bool:
    """Whether the step wants an answer: none stands, or a fault that is put right in place does."""
    answer = progress.answers.get(step.id)
    return answer is None or (answer.outcome == "fault" and step.fault(answer.code).remedy is Remedy.REPEAT)


def askable(progress: Progress, step: Step, needs: Mapping[str, frozenset[str]]) -> bool:
    """Whether the step may be asked now.

    Everything it stands on must be passed or allowed not fitted: a step may put pressure on
    what an earlier one looked at, so an open or faulted one blocks it, whatever the reason.
    Everything it touches must be on the diver. What is blocked stays open, and that is HOLD.
    """
    return swaps.worn(step, progress.off) and all(settled(progress, need) for need in needs[step.id])


def next_question(check: Check, needs: Mapping[str, frozenset[str]], progress: Progress) -> Question | None:
    """The awaited replacement; else the first step to ask; else the first left open once; else None."""
    if progress.pending:
        return Question("replacement", progress.pending.step, progress.pending.item)
    waiting = [s for s in check.steps if to_ask(progress, s) and askable(progress, s, needs)]
    for times in (0, 1):
        for step in waiting:
            if progress.left.get(step.id, 0) == times:
                return Question("step", step.id, step.item)
    return None


def standing_question(check: Check, needs: Mapping[str, frozenset[str]], progress: Progress) -> Question | None:
    """The question after an interruption: the step that stood if it can still be asked, else the next."""
    step_id = progress.question.step
    if not progress.pending and step_id:
        step = check.step(step_id)
        if to_ask(progress, step) and askable(progress, step, needs) and progress.left.get(step_id, 0) < 2:
            return Question("step", step.id, step.item)
    return next_question(check, needs, progress)


def evolve(check: Check, progress: Progress, record: Record, at_s: float) -> Progress:
    """The bookkeeping after one record made at `at_s` (wall seconds); UnknownTurn for an unknown kind."""
    try:
        change = CHANGES[record.kind]
    except KeyError:
        raise UnknownTurn(f"the record has an unknown kind {record.kind!r}", "Update kitcall.") from None
    return change(check, progress, record.facts, at_s)


def values(facts: Facts) -> Values:
    """The numbers of a record by name, in the order of the names; none when it has none."""
    return tuple(sorted(facts.get("numbers", {}).items()))


def _begin(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    apart = frozenset((item, number) for item, number in facts["apart"])
    return replace(progress, on=dict(facts["items"]), apart=apart)


def _ask(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    because = facts.get("because", "")
    silences = progress.silences + 1 if because == "silence" else 0
    if facts["what"] == "note":
        return replace(progress, silences=silences)
    understood = (facts.get("value"), values(facts), facts.get("meaning", ""))
    question = Question(facts["what"], facts["step"], facts["item"], *understood)
    kept = question == progress.question and because in NOT_ANSWERED
    is_denied = because == "denied" and progress.question.meaning.startswith(FAULT)
    undenied = without(progress.undenied, question.step) if is_denied else progress.undenied
    if question.meaning.startswith(FAULT):
        undenied = {**undenied, question.step: question.meaning}
    doubts = progress.doubts if kept else 0
    return replace(progress, question=question, silences=silences, doubts=doubts, undenied=undenied)


def without(by_step: Mapping[str, Any], step_id: str) -> dict[str, Any]:
    """The mapping without a step."""
    return {step: each for step, each in by_step.items() if step != step_id}


def _answer(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    step_id, outcome, code = facts["step"], facts["outcome"], facts.get("code", "")
    before = progress.answers.get(step_id)
    again = outcome == "fault" and before is not None and before.code == code
    answer = Answer(outcome, code, at_s, before.times + 1 if again and before else 1, values(facts))
    answers = without(progress.answers, step_id) | {step_id: answer}
    is_another = outcome == "fault" and progress.undenied.get(step_id) != f"{FAULT}{code}"
    return replace(
        progress,
        answers=answers,
        left=without(progress.left, step_id),
        undenied=progress.undenied if is_another else without(progress.undenied, step_id),
        last=Act("answered", step_id),
        doubts=0,
    )


def _set_apart(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    item = facts["item"]
    return replace(
        progress,
        off=progress.off | {item},
        apart=progress.apart | {(item, facts["number"])},
        pending=Pending(item, facts["step"]) if facts.get("replace", True) else progress.pending,
    )


def _replace(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    item = facts["item"]
    faulted = {(s, check.step(s).fault(a.code).item) for s, a in progress.answers.items() if a.outcome == "fault"}
    again = swaps.reopened(check, item, faulted)
    return replace(
        progress,
        on={**progress.on, item: facts["new"]},
        off=progress.off - {item},
        pending=None,
        answers={k: v for k, v in progress.answers.items() if k not in again},
        left={k: v for k, v in progress.left.items() if k not in again},
        last=None if facts.get("because") else taken_back_by(progress, item),
    )


def taken_back_by(progress: Progress, item: str) -> Act:
    """What "correct that" undoes of a replacement; one that came from outside the check is not the diver's to undo."""
    return Act("replaced", item=item, pending=progress.pending, answers=progress.answers, old=progress.on.get(item))


def _miss(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    return replace(progress, pending=None, last=Act("no_spare", item=facts["item"], pending=progress.pending))


def _leave_open(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    step_id = facts["step"]
    left = {**progress.left, step_id: progress.left.get(step_id, 0) + 1}
    return replace(progress, left=left, doubts=0, last=Act("left_open", step_id))


def _doubt(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    return replace(progress, doubts=progress.doubts + 1)


def _withdraw(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    return replace(UNDO[facts["what"]](progress, facts), last=None, doubts=0)


def _undo_answer(progress: Progress, facts: Facts) -> Progress:
    item = facts["item"]
    progress = replace(progress, answers=without(progress.answers, facts["step"]))
    if not item:
        return progress
    apart = progress.apart - {(item, progress.on.get(item))}
    return replace(progress, off=progress.off - {item}, apart=apart, pending=None)


def _undo_replacement(progress: Progress, facts: Facts) -> Progress:
    act = progress.last
    if act is None or act.what != "replaced":
        raise UnknownTurn("the record takes back a replacement that was not the last act", "Verify the record.")
    on = {**progress.on, act.item: act.old}
    return replace(progress, on=on, off=progress.off | {act.item}, pending=act.pending, answers=act.answers)


def _undo_no_spare(progress: Progress, facts: Facts) -> Progress:
    if progress.last is None or progress.last.what != "no_spare":
        raise UnknownTurn("the record takes back a missing spare that was not the last act", "Verify the record.")
    return replace(progress, pending=progress.last.pending)


def _undo_stop(progress: Progress, facts: Facts) -> Progress:
    return progress


def _undo_left_open(progress: Progress, facts: Facts) -> Progress:
    left = {k: v - (k == facts["step"]) for k, v in progress.left.items()}
    return replace(progress, left={k: v for k, v in left.items() if v})


def _stand(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    return progress


def _stop(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    return replace(progress, last=Act("stopped"), doubts=0, silences=0)


def _rest(check: Check, progress: Progress, facts: Facts, at_s: float) -> Progress:
    question = Question(facts["what"], facts["step"], facts["item"]) if "what" in facts else progress.question
    return replace(progress, question=question, doubts=0, silences=0)


UNDO: dict[str, Callable[[Progress, Facts], Progress]] = {
    "answered": _undo_answer,
    "replaced": _undo_replacement,
    "no_spare": _undo_no_spare,
    "left_open": _undo_left_open,
    "stopped": _undo_stop,
}
CHANGES: dict[str, Callable[[Check, Progress, Facts, float], Progress]] = {
    "check_started": _begin,
    "asked": _ask,
    "answered": _answer,
    "doubted": _doubt,
    "left_open": _leave_open,
    "withdrawn": _withdraw,
    "set_apart": _set_apart,
    "replaced": _replace,
    "no_spare": _miss,
    "paused": _rest,
    "resumed": _stand,
    "noted": _stand,
    "continued": _rest,
    "stopped": _stop,
    "verdict_given": _rest,
}
