"""What is said in the benchmark, class by class: right answers, and everything that must not pass.

Right answers are spoken from the sequence itself. What is no answer comes from files written by hand
beside this one and from rules (twists.py) that know nothing of the grammar's own decoys. What a sentence means
is asked of the step's listening: a negation that is a listed fault is expected as that fault.
Halves: a sentence that is no answer belongs to "tuning" or "scoring" by the hash of its text, never to both.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from twists import asked, drawn, hedged, negated, neighbours, rank, readings

from assistant.check.steps import Check, Step
from assistant.events import Care
from assistant.language import sound
from assistant.language.commands import Commands
from assistant.language.listening import Listed, for_step
from assistant.language.phrases import Rules, Words, expand, spoken_words
from assistant.language.rules import number_nodes, parse_once

HALVES = ("tuning", "scoring")
PRESSURE = "pressure"  # the step whose readings are spoken
RIGHT = ("pass", "reading", "fault", "command")
WRONG = ("negation", "question", "hedge", "near_far", "near_bad", "near_else", "same_sound", "talk")


@dataclass(frozen=True, slots=True)
class Sentence:
    """`expected` is the meaning it has in the step's grammar, "" when it is no answer."""

    cls: str
    step: str
    text: str
    expected: str


def half_of(text: str) -> str:
    """The half that a text which is no answer belongs to."""
    return HALVES[rank("half", text) % 2]


def spaced(items: Sequence[Words], count: int) -> list[str]:
    """At most `count` of the items, evenly spaced, first and last among them."""
    if len(items) > count:
        items = [items[round(at)] for at in np.linspace(0, len(items) - 1, count)]
    return [" ".join(words) for words in items]


class Sayings:
    """All sentences of one check."""

    def __init__(self, check: Check, commands: Commands) -> None:
        self._check, self._commands = check, commands
        texts = {**commands.rules, **check.rules}
        numbers = number_nodes(check.language)
        self._rules: Rules = {**numbers, **{name: parse_once(each) for name, each in texts.items()}}
        self.listening: dict[str, Listed] = {step.id: for_step(check, step, commands) for step in check.steps}
        self.clashes: list[Sentence] = []

    def right(self, each: int = 3) -> list[Sentence]:
        """Pass phrases in up to nine forms each, fault phrases in up to `each`, readings, commands."""
        found = []
        for step in self._check.steps:
            found += [Sentence("pass", step.id, text, self._meaning(step, text)) for text in self.passes(step)]
            if step.id == PRESSURE:
                found += [Sentence("reading", step.id, text, "reading") for text in readings()]
            for fault in step.faults:
                for phrase in fault.phrases:
                    forms = spaced(expand(parse_once(phrase), self._rules), each)
                    found += [Sentence("fault", step.id, text, f"fault:{fault.code}") for text in forms]
        steps = [step.id for step in self._check.steps]
        for command in self._commands.commands:
            for phrase in command.phrases:
                for words in expand(parse_once(phrase), self._rules):
                    text = " ".join(words)
                    step_id = steps[rank("command", text) % len(steps)]
                    found.append(Sentence("command", step_id, text, f"command:{command.id}"))
        return list(dict.fromkeys(found))

    def _meaning(self, step: Step, text: str) -> str:
        """ "pass", or "reading" where the pass holds a number ("label says air")."""
        match = self.listening[step.id].match(spoken_words(text))
        assert match is not None
        return match.meaning

    def passes(self, step: Step, each: int = 9) -> list[str]:
        """The pass phrases of a step in up to `each` forms of each line; none for a step answered by a number."""
        lines = [parse_once(phrase) for phrase in step.passes]
        return [
            text
            for node in lines
            for text in spaced(expand(node, self._rules), each)
        ]

    def wrong(self, half: str, each: int = 10) -> list[Sentence]:
        """Everything of one half that must not pass; `each` is how many of a class are made by rule at a step."""
        made = []
        for step in self._check.steps:
            made += [(cls, step.id, text) for cls, text in self._wrong_at(step, half, each)]
        for text in read("talk").get("any", []):
            steps = sorted(self._check.steps, key=lambda step: rank("talk", step.id, text))[:2]
            made += [("talk", step.id, text) for step in steps if half_of(text) == half]
        judged = (self._judged(cls, step_id, text) for cls, step_id, text in dict.fromkeys(made))
        return [sentence for sentence in judged if sentence]

    def _wrong_at(self, step: Step, half: str, each: int) -> Iterator[tuple[str, str]]:
        by_hand = [
            *(("negation", text) for text in read("negations").get(step.id, [])),
            *(("question", text) for text in read("questions").get(step.id, [])),
            *(("talk", text) for text in read("talk").get(step.id, [])),
            *self._near_by_hand(step),
        ]
        yield from ((cls, text) for cls, text in by_hand if half_of(text) == half)
        heads = self.passes(step, 2)
        for cls, make in (("negation", negated), ("question", asked), ("hedge", hedged)):
            texts = [text for head in heads for text in make(head) if half_of(text) == half]
            yield from ((cls, text) for text in drawn(texts, each, step.id + cls))
        allowed = [tuple(text.split()) for text in self.passes(step, 60)]
        for cls, low, high in (("near_else", 1, 2), ("near_far", 3, 6)):
            texts = [text for text in neighbours(heads, allowed, low, high) if half_of(text) == half]
            yield from ((cls, text) for text in drawn(texts, each, step.id + cls))

    def _near_by_hand(self, step: Step) -> Iterator[tuple[str, str]]:
        """Classed by how far they are from the passes as these are now: 0, 1 to 2, or more phonemes."""
        allowed = [tuple(text.split()) for text in self.passes(step, 60)]
        for table in ("bad", "else"):
            for text in read("near", table).get(step.id, []) if allowed else []:
                far = int(sound.distances([spoken_words(text)], allowed, 3).min())
                far_class = "negation" if table == "bad" else "near_far"
                yield "same_sound" if far == 0 else f"near_{table}" if far < 3 else far_class, text

    def _judged(self, cls: str, step_id: str, text: str) -> Sentence | None:
        """The sentence with what it means; None, and kept in `clashes`, when the grammar lists it as a pass."""
        match = self.listening[step_id].match(spoken_words(text))
        meaning = match.meaning if match and match.care is not Care.NEVER else ""
        if meaning in ("pass", "reading"):
            self.clashes.append(Sentence(cls, step_id, text, meaning))
            return None
        return Sentence(cls, step_id, text, meaning)


@cache
def read(name: str, table: str = "") -> dict[str, list[str]]:
    """Step id -> sentences, from one of the hand-written files, or from one table of it."""
    with Path(__file__).with_name(f"{name}.toml").open("rb") as file:
        content = tomllib.load(file)
    return dict(content[table] if table else content)
