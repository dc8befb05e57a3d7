"""A diver of the invented season: answers what is true of the kit worn, as text or aloud, and keeps the truth beside.

What it counts comes from its own eyes, never from the record; the tests compare the two.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from random import Random

from assistant.check.steps import Check
from assistant.check.turns import Expects, Fact, Start
from assistant.events import Doubted, Heard, Listening, Match, Why
from assistant.language import listening
from assistant.language.commands import Commands
from assistant.language.nodes import expand
from assistant.language.phrases import parse, spoken_words
from assistant.rehearsal.scene import ReadBack
from assistant.rehearsal.season import SeasonShape, Store, Thing


@dataclass
class Truth:
    """What really happened: faults by month, item, step, code; by item and its age; counts by month."""

    faults: Counter[tuple[str, str, str, str]] = field(default_factory=Counter)
    by_age: Counter[tuple[str, int]] = field(default_factory=Counter)
    months: Counter[tuple[str, str]] = field(default_factory=Counter)
    asked: Counter[str] = field(default_factory=Counter)
    again: Counter[str] = field(default_factory=Counter)
    minutes: dict[str, list[float]] = field(default_factory=dict)


class Phrases:
    """What to say, and what the check makes of it as text: without the decoys, which only hearing needs.

    For a pass the rehearsal's usual words are said, for a fault the first of its phrases.
    """

    def __init__(self, check: Check, commands: Commands, usual: Mapping[str, str]) -> None:
        self.check, self._commands, self.usual = check, commands, usual
        self._said: dict[tuple[str, str], str] = {}
        self._built: dict[tuple[str, str], Listening] = {}

    def at(self, expects: Expects) -> Listening:
        """What may be answered now."""
        key = (expects.kind, expects.step_id if expects.kind == "step" else "")
        if key not in self._built:
            self._built[key] = self._build(*key)
        return self._built[key]

    def _build(self, kind: str, step_id: str) -> Listening:
        if kind == "step":
            return listening.for_step(self.check, self.check.step(step_id), self._commands)
        build = {"replacement": listening.for_replacement, "number": listening.for_number,
                 "confirm": listening.for_confirm, "waiting": listening.for_waiting}  # fmt: skip
        return build[kind](self.check, self._commands)

    def match(self, words: str, expects: Expects) -> Match | None:
        """What these words mean as an answer to that question."""
        return self.at(expects).match(spoken_words(words))

    def hear(self, words: str, expects: Expects) -> Fact:
        """What the check makes of these words, typed."""
        match = self.match(words, expects)
        return Heard(match) if match else Doubted(Why.NO_PHRASE, words)

    def fault(self, step_id: str, code: str) -> str:
        """A phrase for a fault; KeyError when the step has none such."""
        if (step_id, code) not in self._said:
            found = (words for words in self._phrases_of(step_id, code)
                     if (match := self.at(Expects("step", step_id)).match(words))
                     and match.meaning == f"fault:{code}")  # fmt: skip
            self._said[step_id, code] = " ".join(next(found))
        return self._said[step_id, code]

    def _phrases_of(self, step_id: str, code: str) -> Iterator[tuple[str, ...]]:
        rules = {name: parse(text) for name, text in self.check.rules.items()}
        for phrase in self.check.step(step_id).fault(code).phrases:
            yield from expand(parse(phrase), rules)


Hear = Callable[[str, Expects], Fact]  # the words of an answer to what is heard of them


class SeasonDiver:
    """One diver with the kit given out this morning; `kit` is what is worn, `hear` how the answers come in."""

    def __init__(
        self, name: str, kit: dict[str, Thing], store: Store, worn: set[tuple[str, str]],
        today: date, shape: SeasonShape, phrases: Phrases, truth: Truth, random: Random, hear: Hear, by: str,
    ) -> None:  # fmt: skip
        self._hear, self._by = hear, by
        self.name, self.kit, self._store, self._worn = name, kit, store, worn
        self._today, self._shape, self._phrases, self._truth, self._random = today, shape, phrases, truth, random
        self._month = f"{today:%Y-%m}"
        self.swaps = 0
        self._number = ""  # of the last replacement, as it is said
        self._doubtful = ""
        self._read_back = ReadBack()
        self._has_waited = False  # a question that comes back after a wait is not asked once more

    def answer(self, expects: Expects) -> Fact:
        """What is said to this question, and what the check makes of it."""
        if expects.kind == "start":
            return Start({item: thing.number for item, thing in self.kit.items()}, self.name, self._by)
        if expects.kind == "step" and not self._has_waited:
            (self._truth.again if self._doubtful == expects.step_id else self._truth.asked)[expects.step_id] += 1
        words = self._words(expects)
        fact = self._hear(words, expects)
        self._read_back.take(expects, self._phrases.match(words, expects), fact)
        self._has_waited = expects.kind == "waiting"
        is_missed = expects.kind == "step" and not isinstance(fact, Heard)
        self._doubtful = expects.step_id if is_missed or words == self._shape.no_words else ""
        return fact

    def _words(self, expects: Expects) -> str:
        if expects.kind == "replacement":
            return self._replace(expects.item)
        if expects.kind == "number":
            return self._number
        if expects.kind == "confirm":
            return self._shape.yes_words if self._read_back.is_right else self._shape.no_words
        if expects.kind == "waiting":
            return self._shape.on_words
        if self._random.random() < self._shape.doubt_share and self._doubtful != expects.step_id:
            return self._shape.unclear_words
        return self._look(expects.step_id)

    def _look(self, step: str) -> str:
        check = self._phrases.check
        for thing in self.kit.values():
            if code := thing.wrong.get(step):
                fault = next((each for each in check.step(step).faults if each.code == code), None)
                if fault is not None and fault.item == thing.item:
                    self._find(thing, step, code)
                    return self._phrases.fault(step, code)
        return self._phrases.usual[step]

    def _find(self, thing: Thing, step: str, code: str) -> None:
        if thing.apart_since is not None:
            return  # said before, and not understood
        self._truth.faults[self._month, thing.item, step, code] += 1
        self._truth.by_age[thing.item, thing.years(self._today)] += 1
        thing.apart_since = self._today

    def _replace(self, item: str) -> str:
        other = None
        if self._random.random() >= self._shape.no_spare_share:
            other = self._store.take(item, self._today, self._worn)
        if other is None:
            self.kit.pop(item, None)
            return "no spare"
        self.kit[item] = other
        self.swaps += 1
        self._number = " ".join(NUMBER_WORDS[int(digit)] for digit in other.number)
        return f"{self._shape.swap_words} {self._number}"


NUMBER_WORDS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
