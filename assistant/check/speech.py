"""The session's sentences: the reply texts filled with the names of steps, items and faults.

Wording lives in the replies file and in the sequence; here is only which text is said
with which names. A replies file without one of KEYS is refused before a check begins.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assistant.check.progress import Progress, Question, settled
from assistant.check.steps import Check, Fault, Step
from assistant.check.turns import Judged, Number, Numbers, Spoken
from assistant.check.verdict import RANKS, Reason, Verdict
from assistant.errors import GrammarError

OWN_WORDS = ("early", "too_loud", "too_faint", "near", "unsteady", "too_long", "noise", "more")  # and again
KEYS = (
    *OWN_WORDS, *(f"reason_{rank}" for rank in RANKS), "more_reasons", "no_phrase", "known_wrong", "out_of_place",
    "passed", "absent", "noted_fault", "third_time", "left_open", "left_open_last", "coming_back",
    "another", "ask_replacement", "ask_number", "replaced", "replaced_unmarked", "same_again", "on_another",
    "no_spare",
    "confirm", "confirm_pass", "confirm_absent", "confirm_fault", "denied", "denied_pass",
    "reading_odd", "reading_unit", "reading_unclear", "reading_refused", "judged_fault", "judged_again",
    "not_understood_1", "not_understood_2", "silent", "silent_waiting", "waiting", "carrying_on",
    "cannot_be_absent", "where", "corrected", "corrected_fault", "nothing_to_correct", "went_back", "at_first_step",
    "note_speak", "note_kept", "note_empty", "stopped", "resumed", "expired", "verdict_ready", "verdict_hold",
    "set_apart_list", "returned_sound", "returned_faulty",
)  # fmt: skip
SPOKEN_REASONS = 3  # more than three nobody keeps in mind; the record has them all


class Speech:
    """Sentences for one check. `spoken(value, unit)` gives a number in words, figure by figure."""

    def __init__(self, check: Check, replies: Mapping[str, str], spoken: Spoken) -> None:
        missing = [key for key in KEYS if key not in replies]
        if missing:
            raise GrammarError(f"no reply for {', '.join(missing)}", "Add these keys to the replies file.")
        self._check, self._replies, self._spoken = check, replies, spoken

    def text(self, key: str, **names: object) -> str:
        """One reply with its names filled in; a name the text does not use is not said."""
        return self._replies[key].format(**names)

    def holds_prompt(self, key: str) -> bool:
        """Whether the reply says the standing question itself."""
        return "{prompt}" in self._replies[key]

    def name(self, question: Question) -> str:
        """The name of the step asked, or of the item awaited."""
        by_step = bool(question.step) and question.what != "replacement"
        return self._check.step(question.step).name if by_step else self._check.item(question.item).name

    def question(self, question: Question) -> str:
        """What is asked while this question stands."""
        if question.what == "step":
            return self._check.step(question.step).prompt
        if question.what == "replacement":
            return self.text("ask_replacement", another=self.another(question.item))
        if question.what == "number":
            return self.text("ask_number")
        if question.step and not question.numbers:
            return self._answer(self._check.step(question.step), question.meaning)
        if question.step:
            numbers = self.numbers(self._check.step(question.step), dict(question.numbers))
            return self.text("confirm", reading=numbers)
        return self.text("confirm", reading=self.item(question.item, question.value))

    def _answer(self, step: Step, meaning: str) -> str:
        kind, _, code = meaning.partition(":")
        if kind == "fault":
            return self.text("confirm_fault", fault=step.fault(code).name)
        return self.text("confirm_absent" if kind == "absent" else "confirm_pass", name=step.name)

    def another(self, item: str) -> str:
        """What replaces an item, in words: "another jacket"."""
        named = self._check.item(item)
        return named.another or self.text("another", item=named.name)

    def spoken(self, value: float, unit: str) -> str:
        """A value in words, figure by figure."""
        return self._spoken(value, unit)

    def numbers(self, step: Step, numbers: Numbers) -> str:
        """The numbers of a step's reading in words, each after what it is where there are several."""
        said = [number for number in step.reading.numbers if number.name in numbers] if step.reading else []
        return ", ".join(f"{each.say} {self._spoken(numbers[each.name], each.unit)}".strip() for each in said)

    def judged(self, step: Step, numbers: Numbers, judged: Judged) -> str:
        """The verdict of a reading in one sentence, with its number and the reason."""
        names = {name: self._spoken(*fact) if isinstance(fact, tuple) else fact for name, fact in judged.names.items()}
        judge = step.reading.judge if step.reading else ""
        text = self.text(f"{judge}_{judged.finding}", reading=self.numbers(step, numbers), **names)
        return text[:1].upper() + text[1:]

    def number(self, number: Number) -> str:
        """An item's number in words."""
        return self._spoken(int(number), "number") if number and number.isdecimal() else str(number)

    def passed(self, step: Step) -> tuple[str, ...]:
        """The echo of a pass: spoken for critical steps only, to keep the check short."""
        return (self.text("passed", name=step.name),) if step.critical else ()

    def fault(self, fault: Fault, verdict: str = "") -> str:
        """A fault repeated by name, or the verdict of the reading that showed it; then its instruction."""
        if verdict:
            return self.text("judged_fault", verdict=verdict, say=fault.say)
        return self.text("noted_fault", fault=fault.name, say=fault.say)

    def replaced(self, item: str, number: Number) -> str:
        """The new item repeated with its number."""
        key = "replaced_unmarked" if number is None else "replaced"
        return self.text(key, item=self._check.item(item).name, number=self.number(number))

    def doubt(self, question: Question, why: str, times: int) -> tuple[str, ...]:
        """A short re-prompt, different each time, with two example answers where words were not understood."""
        if why in OWN_WORDS or why == "out_of_place":
            return self.with_question(why, question)
        if question.what != "step":
            return self.with_question("known_wrong" if why != "no_phrase" else "no_phrase", question)
        good, bad = self._check.step(question.step).examples
        again = self.text(f"not_understood_{times}", good=good, bad=bad)
        return (again,) if why == "no_phrase" else (self.text("known_wrong"), again)

    def with_question(self, key: str, question: Question, **names: object) -> tuple[str, ...]:
        """A reply and the question, which the reply may hold itself."""
        prompt = self.question(question)
        text = self.text(key, prompt=prompt, **names)
        return (text,) if self.holds_prompt(key) else (text, prompt)

    def where(self, progress: Progress) -> str:
        """The step that stands and how many are to go."""
        steps = self._check.steps
        ids = [step.id for step in steps]
        at = ids.index(progress.question.step) + 1 if progress.question.step else 0
        to_go = sum(not settled(progress, step_id) for step_id in ids)
        return self.text("where", number=at, count=len(steps), name=self.name(progress.question), open=to_go)

    def verdict(self, verdict: Verdict, apart: Sequence[tuple[str, Number]]) -> tuple[str, ...]:
        """The verdict, what was set apart, and only with READY the closing words about the dive:
        after HOLD they could be taken for leave to dive."""
        items = ", ".join(self.item(item, number) for item, number in apart)
        listed = (self.text("set_apart_list", items=items),) if items else ()
        if self._check.after_dive:
            return (*self.returned(verdict), *listed, self._check.closing)
        if verdict.ready:
            return (self.text("verdict_ready", count=len(self._check.steps)), *listed, self._check.closing)
        return (self.text("verdict_hold", reasons=self.reasons(verdict)), *listed)

    def returned(self, verdict: Verdict) -> tuple[str, ...]:
        """How a return check ends: it says nothing of another dive."""
        if verdict.ready:
            return (self.text("returned_sound", count=len(self._check.steps)),)
        named = tuple(reason for reason in verdict.reasons if reason.kind != "no_spare")
        return (self.text("returned_faulty", reasons=self.reasons(Verdict(False, named))),)

    def item(self, item: str, number: Number) -> str:
        """An item's name with its number where it has one."""
        name = self._check.item(item).name
        return name if number is None else f"{name} {self.number(number)}"

    def reasons(self, verdict: Verdict) -> str:
        """The worst reasons in words, and how many more there are."""
        texts = [self.reason(reason) for reason in verdict.reasons[:SPOKEN_REASONS]]
        more = len(verdict.reasons) - SPOKEN_REASONS
        return ", ".join([*texts, self.text("more_reasons", count=more)] if more > 0 else texts)

    def reason(self, reason: Reason) -> str:
        """One reason in words."""
        step = self._check.step(reason.step) if reason.step else None
        fault = step.fault(reason.code).name if step and reason.code else ""
        item = self._check.item(reason.item).name if reason.item else ""
        return self.text(f"reason_{reason.kind}", name=step.name if step else "", fault=fault, item=item)
