"""A turn in the making: what it stands on, where it would lead, and how it ends.

A draft thinks ahead on its own copy of the bookkeeping; the session is not touched. A
turn ends with exactly one record that says what is now asked (or paused, or judged),
and that record names its row of the table and keeps the words spoken.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from assistant.check.meaning import Said
from assistant.check.progress import Progress, Question, evolve, next_question
from assistant.check.speech import Speech
from assistant.check.steps import Check, Step
from assistant.check.turns import Facts, Judge, Record, Stamped, Start, Taken, ValueOf
from assistant.check.verdict import Verdict, judge, strike_out


@dataclass(frozen=True)
class Ground:
    """What a session stands on and never changes."""

    check: Check
    needs: Mapping[str, frozenset[str]]
    speech: Speech
    value_of: ValueOf
    judge: Judge


@dataclass
class Draft:
    """One turn in the making: `progress` is where the session would be after `records`."""

    ground: Ground
    progress: Progress
    entries: tuple[Stamped, ...]
    said: Said
    start: Start
    now_s: float
    taken: Taken = field(default_factory=dict)
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

    def all_entries(self) -> list[Stamped]:
        """The session's records with those of this turn."""
        return [*self.entries, *((record, self.now_s) for record in self.records)]

    def tell(self, key: str, **names: object) -> None:
        """One reply to say."""
        self.say.append(self.ground.speech.text(key, **names))

    def heard(self) -> Facts:
        """How an answer came in, for the record."""
        return {"heard": self.said.text, "by": self.said.by}


def tell_and_ask(draft: Draft, key: str, question: Question, because: str, **names: object) -> None:
    """End the turn with a reply and the question, which the reply may hold itself."""
    draft.say.extend(draft.ground.speech.with_question(key, question, **names))
    ask(draft, question, because, aloud=False)


def ask(draft: Draft, question: Question, because: str = "", aloud: bool = True) -> None:
    """End the turn with this question."""
    if aloud:
        draft.say.append(draft.ground.speech.question(question))
    facts: dict[str, Any] = {"what": question.what, "step": question.step, "item": question.item}
    if question.what == "confirm":
        facts |= {"numbers": dict(question.numbers)} if question.numbers else {"value": question.value}
        facts |= {"meaning": question.meaning} if question.meaning else {}
    draft.close("asked", **facts, because=because)


def ask_next(draft: Draft, because: str = "") -> None:
    """End the turn with the next question, or with the verdict when there is none."""
    question = next_question(draft.ground.check, draft.ground.needs, draft.progress)
    if question is None:
        conclude(draft)
        return
    if question.what == "step" and draft.progress.left.get(question.step):
        draft.tell("coming_back")
    ask(draft, question, because)


def conclude(draft: Draft) -> None:
    """Nothing is left to ask: give the verdict, unless only age speaks against READY; then ask that again."""
    verdict = judge(draft.ground.check, draft.all_entries(), draft.now_s)
    if verdict.ready or any(reason.kind != "expired" for reason in verdict.reasons):
        give_verdict(draft, verdict)
        return
    for reason in verdict.reasons:
        draft.add("withdrawn", what="answered", step=reason.step, item="", because="expired")
    draft.tell("expired", name=draft.ground.check.step(verdict.reasons[0].step).name)
    ask_next(draft, "expired")


def give_verdict(draft: Draft, verdict: Verdict) -> None:
    """End the session with what the records say, never with what the bookkeeping thinks."""
    apart = [r.facts for r, _ in strike_out(draft.all_entries()) if r.kind == "set_apart"]
    draft.say.extend(draft.ground.speech.verdict(verdict, [(f["item"], f["number"]) for f in apart]))
    reasons = [{"kind": r.kind, "step": r.step, "item": r.item, "code": r.code} for r in verdict.reasons]
    words = ("sound", "faulty") if draft.ground.check.after_dive else ("ready", "hold")
    draft.close("verdict_given", verdict=words[0] if verdict.ready else words[1], reasons=reasons)
