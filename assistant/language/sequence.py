"""Sequence files: a check as a centre writes it, read into assistant.check.steps or refused.

Shape first (pydantic), then what refers to what, then the phrases: notation, words the recogniser
lacks, examples that mean what they should. Sound and nearness are the checker's work. Every refusal
names `file:line` or `file: key` and says what to do; a file is taken whole or not at all.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from assistant.check.steps import Check, Fault, Item, Number, Reading, Remedy, Step
from assistant.errors import GrammarError
from assistant.language.files import key_path, line_of, parse_toml, read_bytes, validate
from assistant.language.matching import Matcher
from assistant.language.phrases import Node, Words, rule_names, spoken_words, words_of
from assistant.language.rules import join_rules, numbers_file, parse_once, refuse_unknown_words
from assistant.language.shapes import FaultShape, ReadingShape, SequenceShape, StepShape

Key = str | int


def load(path: Path, knows: Callable[[str], bool]) -> Check:
    """A sequence file as a Check.

    path: the TOML file; knows: whether the recogniser's model has a word, spelled in lower case.
    Returns the Check with the SHA-256 of the file's bytes as `digest`; its `rules` hold the file's own
    rules, in notation (the number rules are the same for every file). Raises GrammarError (PhraseError
    for notation) with place and mend; the guide then runs the check they had before, or mends the file.
    Checked in tests/language/test_sequence.py by one row for each refusal.
    """
    raw = read_bytes(path)
    data = parse_toml(raw, path)
    reader = _Reader(path, raw.decode("utf-8"), data, validate(data, SequenceShape, path))
    reader.check_references()
    reader.check_order()
    reader.check_phrases(knows)
    reader.check_examples()
    return reader.build(hashlib.sha256(raw).hexdigest())


class _Reader:
    """One file being read: its place, its text and its shape, asked by every rule in turn."""

    def __init__(self, path: Path, text: str, data: dict[str, Any], shape: SequenceShape) -> None:
        self._path, self._text, self._data, self._shape = path, text, data, shape
        self._rules: dict[str, Node] = {}

    def refuse(self, message: str, mend: str, *location: Key) -> GrammarError:
        return GrammarError(message, mend, f"{self._path}: {key_path(location, self._data)}")

    def check_references(self) -> None:
        """Ids once, and every item, step and fault that is named exists."""
        self._once([item.id for item in self._shape.item], "item")
        self._once([step.id for step in self._shape.step], "step")
        items = [item.id for item in self._shape.item]
        steps = [step.id for step in self._shape.step]
        for at, step in enumerate(self._shape.step):
            self._once([fault.code for fault in step.fault], "step", at, "fault")
            self._known([step.item, *step.also], items, "item", at, "item")
            self._known(step.after, steps, "step", at, "after")
            for nth, fault in enumerate(step.fault):
                self._known([fault.item or step.item], items, "item", at, "fault", nth, "item")
                self._check_fault(fault, at, nth)
            self._check_passes(step, at)
            if step.reading:
                self._check_reading(step, step.reading, at)

    def _once(self, names: list[str], *location: Key) -> None:
        for at, name in enumerate(names):
            if name in names[:at]:
                raise self.refuse(f'"{name}" is there twice', "Give one of them another name.", *location, at)

    def _known(self, named: Iterable[str], known: list[str], what: str, at: int, *location: Key) -> None:
        for name in named:
            if name not in known:
                mend = f"Add it, or use one of: {', '.join(known)}."
                raise self.refuse(f'no {what} "{name}"', mend, "step", at, *location)

    def _check_fault(self, fault: FaultShape, at: int, nth: int) -> None:
        if not fault.say.strip():
            mend = "Say in one sentence what the diver does now."
            raise self.refuse("a fault without an instruction", mend, "step", at, "fault", nth, "say")
        if fault.remedy not in set(Remedy):
            mend = f"Use one of: {', '.join(Remedy)}."
            raise self.refuse(f'no remedy "{fault.remedy}"', mend, "step", at, "fault", nth, "remedy")

    def _check_passes(self, step: StepShape, at: int) -> None:
        if not step.passes and not (step.reading and step.reading.needed):
            mend = "Give it a phrase; only a step whose reading is needed may do without."
            raise self.refuse("a step that nothing passes", mend, "step", at, "pass")

    def _check_reading(self, step: StepShape, reading: ReadingShape, at: int) -> None:
        where: tuple[Key, ...] = ("step", at, "reading")
        kinds = numbers_file(self._shape.check.language).kind
        names = [number.name for number in reading.number]
        self._once(names, *where, "number")
        for nth, number in enumerate(reading.number):
            if number.kind not in kinds:
                mend = f"Use one of: {', '.join(kinds)}."
                raise self.refuse(f'no kind of number "{number.kind}"', mend, *where, "number", nth, "kind")
            if number.low > number.high:
                mend = "Give the lowest value that can be, then the highest."
                raise self.refuse("low is above high", mend, *where, "number", nth)
        codes = [fault.code for fault in step.fault]
        for finding, code in reading.faults.items():
            self._known([code], codes, "fault", at, "reading", "faults", finding)
        if reading.since:
            before = [each.id for each in self._shape.step if each.reading and each.id in step.after]
            self._known([reading.since], before, "reading of a step in after,", at, "reading", "since")
        held = [("reading", "phrases", phrase) for phrase in reading.phrases]
        held += [("pass", "", phrase) for phrase in step.passes if reading.needed]
        for key, inner, phrase in held:
            if not set(names) & set(rule_names(parse_once(phrase, self._line(phrase, step.id)))):
                mend = f"Put ${names[0]} in it: this step is answered by a number."
                location: tuple[Key, ...] = (key, inner) if inner else (key,)
                raise self.refuse(f'"{phrase}" holds no number', mend, "step", at, *location)

    def check_order(self) -> None:
        """No step waits, directly or by way of others, for itself."""
        after = {step.id: step.after for step in self._shape.step}
        closed: set[str] = set()
        while ready := [name for name, needs in after.items() if name not in closed and closed.issuperset(needs)]:
            closed.update(ready)
        for at, step in enumerate(self._shape.step):
            if step.id not in closed:
                stuck = ", ".join(name for name in after if name not in closed)
                mend = f"Break the circle between: {stuck}."
                raise self.refuse("can never be reached: it waits for itself", mend, "step", at, "after")

    def check_phrases(self, knows: Callable[[str], bool]) -> None:
        """Notation, rules, and words the recogniser has; all words it lacks are named at once."""
        self._rules = join_rules(self._shape.rules, self._path, self._text, self._shape.check.language)
        words = set[str]().union(*(words_of(node, self._rules) for node in self._rules.values()))
        for phrase in self._shape.check.start:
            words |= words_of(parse_once(phrase, self._line(phrase)), self._rules, self._line(phrase))
        for step in self._shape.step:
            for phrase in (*good_phrases(step), *(each for fault in step.fault for each in fault.phrases)):
                where = self._line(phrase, step.id)
                words |= words_of(parse_once(phrase, where), self._rules, where)
        refuse_unknown_words(words, knows, self._path, self._text)

    def check_examples(self) -> None:
        """The first example is a pass, the second a fault of the same step."""
        for at, step in enumerate(self._shape.step):
            faults = [phrase for fault in step.fault for phrase in fault.phrases]
            for nth, (phrases, what) in enumerate(((good_phrases(step), "pass"), (faults, "fault"))):
                if not self._matches(step.examples[nth], phrases):
                    mend = f"Give a sentence that one of the step's {what} phrases allows."
                    problem = f'"{step.examples[nth]}" is no {what} of this step'
                    raise self.refuse(problem, mend, "step", at, "examples", nth)

    def _matches(self, example: str, phrases: list[str]) -> bool:
        words: Words = spoken_words(example)
        return Matcher([parse_once(phrase) for phrase in phrases], self._rules).match(words) is not None

    def build(self, digest: str) -> Check:
        """The value; called after every rule has agreed."""
        check = self._shape.check
        return Check(
            id=check.id,
            title=check.title,
            language=check.language,
            digest=digest,
            valid_s=check.valid_minutes * 60,
            caution=check.caution,
            closing=check.closing,
            start=tuple(check.start),
            items=tuple(Item(item.id, item.name, item.another) for item in self._shape.item),
            steps=tuple(_build_step(step, check.language) for step in self._shape.step),
            rules=dict(self._shape.rules),
            after_dive=check.after_dive,
        )

    def _line(self, phrase: str, step_id: str = "") -> str:
        after = f'"{step_id}"' if step_id else ""
        return f"{self._path}:{line_of(self._text, phrase, after)}"


def _build_step(step: StepShape, language: str) -> Step:
    return Step(
        id=step.id,
        name=step.name,
        item=step.item,
        touches=tuple(dict.fromkeys((step.item, *step.also))),
        prompt=step.prompt,
        explain=step.explain,
        critical=step.critical,
        may_be_absent=step.absent,
        after=tuple(step.after),
        passes=tuple(step.passes),
        faults=tuple(_build_fault(fault, step.item) for fault in step.fault),
        examples=(step.examples[0], step.examples[1]),
        reading=_build_reading(step.reading, language) if step.reading else None,
    )


def _build_reading(reading: ReadingShape, language: str) -> Reading:
    kinds = numbers_file(language).kind
    return Reading(
        judge=reading.judge,
        phrases=tuple(reading.phrases),
        numbers=tuple(Number(unit=kinds[each.kind].unit, **each.model_dump()) for each in reading.number),
        faults=dict(reading.faults),
        needed=reading.needed,
        since=reading.since,
    )


def good_phrases(step: StepShape) -> list[str]:
    """Phrases that pass the step, or may when their number is judged good."""
    return [*step.passes, *(step.reading.phrases if step.reading else ())]


def _build_fault(fault: FaultShape, item: str) -> Fault:
    return Fault(
        code=fault.code,
        name=fault.name,
        item=fault.item or item,
        phrases=tuple(fault.phrases),
        say=fault.say,
        remedy=Remedy(fault.remedy),
    )
