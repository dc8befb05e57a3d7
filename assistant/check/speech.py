"""The session's sentences: the reply texts filled with the names of steps, items and faults.

Wording lives in the replies file and in the sequence; here is only which text is said
with which names. A replies file without one of KEYS is refused before a check begins.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.check.progress import Progress, Question, settled
from assistant.check.steps import Check, Fault, Step
from assistant.check.turns import Number, Spoken
from assistant.check.verdict import Verdict
from assistant.errors import GrammarError

KEYS = (
    "ready", "passed", "noted_fault", "absent", "ask_replacement", "ask_number", "replaced", "replaced_unmarked",
    "no_spare", "refused_number", "third_time", "not_understood_1", "not_understood_2", "not_understood_3",
    "not_understood_swap", "not_understood_number", "not_understood_confirm", "left_open", "coming_back", "silent",
    "waiting", "carrying_on", "cannot_be_absent", "where", "corrected", "nothing_to_correct", "went_back",
    "at_first_step", "note_speak", "note_kept", "stopped", "resumed", "verdict_ready", "verdict_hold", "expired",
    "too_loud", "too_faint", "early", "near", "reading_back", "reading_confirm", "number_confirm",
    "reading_implausible", "bad_number", "reason_fault", "reason_no_spare", "reason_unchecked", "reason_open",
    "reason_expired", "reason_stopped", "reason_more",
)  # fmt: skip
SPOKEN_REASONS = 3  # more than three nobody keeps in mind; the record has them all
OWN_WORDS = ("too_loud", "too_faint", "early", "near")  # doubts with a sentence of their own


class Speech:
    """Sentences for one check. `spoken(value, unit)` gives a number in words, figure by figure."""

    def __init__(self, check: Check, replies: Mapping[str, str], spoken: Spoken) -> None:
        missing = [key for key in KEYS if key not in replies]
        if missing:
            raise GrammarError(f"no reply for {', '.join(missing)}", "Add these keys to the replies file.")
        self._check, self._replies, self._spoken = check, replies, spoken

    def text(self, key: str, **names: object) -> str:
        """One reply with its names filled in."""
        return self._replies[key].format(**names)

    def passed(self, step: Step) -> tuple[str, ...]:
        """The echo of a pass: spoken for critical steps only, to keep the check short."""
        return (self.text("passed", step=step.name),) if step.critical else ()

    def question(self, question: Question) -> str:
        """What is asked while this question stands."""
        if question.what == "step":
            return self._check.step(question.step).prompt
        item = self._check.item(question.item).name
        if question.what == "confirm" and not question.step:
            return self.text("number_confirm", item=item, number=self.number(question.value))
        if question.what == "confirm":
            return self.text("reading_confirm", reading=self.reading(self._check.step(question.step), question.value))
        return self.text("ask_number" if question.what == "number" else "ask_replacement", item=item)

    def reading(self, step: Step, value: Any) -> str:
        """The value of a step's reading in words."""
        return self._spoken(value, step.reading.unit if step.reading else "number")

    def number(self, number: Number) -> str:
        """An item's number in words."""
        digits = number is not None and number.isdecimal()
        return self._spoken(int(number), "number") if digits and number else str(number)

    def fault(self, fault: Fault) -> tuple[str, ...]:
        """A fault is repeated by name, then its instruction."""
        return (self.text("noted_fault", fault=fault.name), fault.say)

    def replaced(self, item: str, number: Number) -> str:
        """The new item is repeated with its number."""
        name = self._check.item(item).name
        if number is None:
            return self.text("replaced_unmarked", item=name)
        return self.text("replaced", item=name, number=self.number(number))

    def doubt(self, question: Question, why: str, times: int) -> str:
        """A short re-prompt, different each time, with two example answers at a step's first doubt."""
        if why in OWN_WORDS:
            return self.text(why)
        if question.what in ("replacement", "number", "confirm"):
            key = {"replacement": "not_understood_swap", "number": "not_understood_number"}
            return self.text(key.get(question.what, "not_understood_confirm"))
        if times == 1:
            first, second = self._check.step(question.step).examples
            return self.text("not_understood_1", first=first, second=second)
        return self.text("not_understood_2" if times == 2 else "not_understood_3")

    def where(self, progress: Progress) -> str:
        """The step that stands and how many are done."""
        done = sum(settled(progress, step.id) for step in self._check.steps)
        total = len(self._check.steps)
        question = progress.question
        name = self._check.step(question.step).name if question.step else self._check.item(question.item).name
        return self.text("where", step=name, done=done, total=total, left=total - done)

    def verdict(self, verdict: Verdict) -> tuple[str, ...]:
        """The verdict; the closing words about the dive only with READY, since HOLD is no leave to dive."""
        if verdict.ready:
            return (self.text("verdict_ready"), self._check.closing)
        if verdict.reasons[0].kind == "expired":
            return (self.text("expired"), self.text("verdict_hold", reasons=self.reasons(verdict)))
        return (self.text("verdict_hold", reasons=self.reasons(verdict)),)

    def reasons(self, verdict: Verdict) -> str:
        """The worst reasons in words, and how many more there are."""
        texts = [self.reason(r.kind, r.step, r.item, r.code) for r in verdict.reasons[:SPOKEN_REASONS]]
        more = len(verdict.reasons) - SPOKEN_REASONS
        if more > 0:
            texts.append(self.text("reason_more", number=more))
        return " ".join(texts)

    def reason(self, kind: str, step_id: str, item: str, code: str) -> str:
        """One reason in words."""
        step = self._check.step(step_id).name if step_id else ""
        name = self._check.item(item).name if item else ""
        if kind in ("fault", "fault_critical"):
            return self.text("reason_fault", fault=self._check.step(step_id).fault(code).name, step=step)
        key = {"open_critical": "reason_open", "not_started": "reason_open"}.get(kind, f"reason_{kind}")
        return self.text(key, step=step, item=name)
