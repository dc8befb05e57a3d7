"""What a diver may say that only resembles a pass: its negations, and its soundalikes.

Negations go into the ear's own phrase list, with a meaning of their own (no answer), so that "doesn't
stop" is heard as what it is. Soundalikes, each pass phrase with one word changed for a word that sounds
nearly the same, go into a second list, the rivals: a pass counts only where the sound is nearer to it
than to them. Findings behind both: tests/bench/bench_hearing.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator
from functools import cached_property

from assistant.check.steps import Check, Step
from assistant.language.commands import Commands
from assistant.language.fillers import fillers
from assistant.language.listening import DENIED, for_step
from assistant.language.negation import negations, negations_file
from assistant.language.phrases import Words, expand, rule_names
from assistant.language.rules import parse_once, with_numbers
from assistant.language.soundalikes import Soundalikes, find_soundalikes

Knows = Callable[[str], bool]
NEGATED = "negated"
LIKE_AND = "aren't"  # sounds nearly like "and", and nobody says "band aren't cylinder okay"
MOST_PASSES = 400  # word strings of one step's passes; a sequence with more is refused by the checker
Find = Callable[[Collection[str]], Soundalikes]  # words in, what sounds like each


class Decoys:
    """The decoys and rivals of one check's steps. `knows`: does the model have a word; `find`: what sounds alike."""

    def __init__(self, check: Check, commands: Commands, knows: Knows, find: Find = find_soundalikes) -> None:
        self._check, self._commands, self._knows, self._find = check, commands, knows, find

    def negated(self, step: Step) -> list[tuple[str, str]]:
        """Phrases known to be no answer of this step, each with the reason."""
        listed = for_step(self._check, step, self._commands)
        forms = dict.fromkeys(
            form
            for words in pass_strings(self._check, step)
            for form, _ in negations(words, self._knows, self._check.language)
        )
        said = [" ".join(form) for form in forms if not (listed.match(form) or listed.match(_joined(form)))]
        return [(phrase, NEGATED) for phrase in said] + [(phrase, DENIED) for phrase in self._denied_numbers(step)]

    def _denied_numbers(self, step: Step) -> Iterator[str]:
        """ "It isn't two hundred", "label isn't thirty two": each way to read out one number, denied."""
        if step.reading is None:
            return
        numbers = {number.name for number in step.reading.numbers}
        before = negations_file(self._check.language).before_number
        known = [denial for denial in before if all(map(self._knows, denial.split()))]
        for phrase in step.reading.phrases if known else ():
            read = [name for name in rule_names(parse_once(phrase)) if name in numbers]
            if len(read) == 1:
                yield _denied(phrase, read[0], f"({' | '.join(known)})")

    def rivals(self, step: Step) -> tuple[str, ...]:
        """Each pass phrase, and each with one word changed for each of its soundalikes."""
        forms = (form for words in pass_strings(self._check, step) for form in self._changed(words))
        return tuple(dict.fromkeys(" ".join(form) for form in forms))

    def fillers(self, step: Step) -> tuple[str, ...]:
        """Everyday words, without those that sound nearly like a word of this step's passes: the rivals have these."""
        own = {word for form in pass_strings(self._check, step) for word in form}
        alike = {other for word in own for other in self._soundalikes.get(word, ())}
        return tuple(word for word in fillers(self._check.language) if word not in alike)

    def _changed(self, words: Words) -> Iterator[Words]:
        yield words
        for place, word in enumerate(words):
            for other in self._soundalikes.get(word, ()):
                yield (*words[:place], other, *words[place + 1 :])

    @cached_property
    def _soundalikes(self) -> dict[str, tuple[str, ...]]:
        """For every word of every pass phrase the model's words that sound nearly like it."""
        words = {word for step in self._check.steps for form in pass_strings(self._check, step) for word in form}
        found = self._find(sorted(words))
        return {word: tuple(other for other in others if self._knows(other)) for word, others in found.items()}


def _denied(phrase: str, number: str, denials: str) -> str:
    """The phrase with one of the denials before it, or right before the number where that stands in no bracket."""
    head, found, tail = re.split(rf"(\${number}\b)", phrase, maxsplit=1)
    is_closed = all(head.count(left) == head.count(right) for left, right in ("()", "[]"))
    if not (head.strip() and is_closed) or any(mark in phrase for mark in ("{", "/*", "//")):
        return f"{denials} ({phrase})"
    return f"({denials} ({head}) | [{head}] {denials}) ({found}{tail})"


def _joined(form: Words) -> Words:
    return tuple("and" if word == LIKE_AND else word for word in form)


def pass_strings(check: Check, step: Step) -> Iterator[Words]:
    """Every word string of this step's pass phrases; those of a reading are judged and read back instead."""
    nodes = with_numbers(check.rules, check.language)
    for phrase in step.passes:
        yield from expand(parse_once(phrase), nodes, MOST_PASSES)
