"""What a diver may say that only resembles a pass: its negations, and its soundalikes.

Negations go into the ear's own phrase list, with a meaning of their own (no answer), so that "doesn't
stop" is heard as what it is. Soundalikes, each pass phrase with one word changed for a word that sounds
nearly the same, go into a second list, the rivals: a pass counts only where the sound is nearer to it
than to them. Findings behind both: tests/bench/bench_hearing.py.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache, cached_property
from pathlib import Path

import numpy as np

from assistant.check.steps import Check, Step
from assistant.errors import GrammarError
from assistant.language.commands import Commands
from assistant.language.files import Strict, grammar_file, read_shape
from assistant.language.listening import for_step
from assistant.language.negation import faulty_words, negations
from assistant.language.phrases import Words, expand
from assistant.language.rules import number_nodes, parse_once
from assistant.language.sound import dictionary_words, distances, missing_sounds, phonemes

Knows = Callable[[str], bool]
NEGATED = "negated"
LIKE_AND = "aren't"  # sounds nearly like "and", and nobody says "band tight aren't cylinder solid"
COMMON_WORDS = Path("/usr/share/dict/american-english-small")  # Debian wamerican-small: SCOWL up to size 35
MOST_PASSES = 400  # word strings of one step's passes; a sequence with more is refused by the checker
NEAR_SHORT, NEAR_LONG = 1, 2  # phonemes: how far a soundalike may be from a word of up to 3, and of more
SHORT = 3
NEAR_FAULTY = 2  # and a word that a diver says of bad kit, whatever the length


class Decoys:
    """The decoys and rivals of one check's steps. `knows` tells whether the model has a word."""

    def __init__(self, check: Check, commands: Commands, knows: Knows) -> None:
        self._check, self._commands, self._knows = check, commands, knows

    def negated(self, step: Step) -> list[tuple[str, str]]:
        """Phrases known to be no answer of this step, each with the reason."""
        listed = for_step(self._check, step, self._commands)
        forms = dict.fromkeys(
            form
            for words in pass_strings(self._check, step)
            for form, _ in negations(words, self._knows, self._check.language)
        )
        return [(" ".join(form), NEGATED) for form in forms if not (listed.match(form) or listed.match(_joined(form)))]

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
        sounding = sorted(word for word in words if not missing_sounds((word,)))
        common = common_words()
        faulty = faulty_words(self._check.language)
        known = [word for word in dictionary_words() if (word in common or word in faulty) and self._knows(word)]
        apart = distances([(word,) for word in sounding], [(word,) for word in known], max(NEAR_LONG, NEAR_FAULTY))
        far = np.array([NEAR_FAULTY if word in faulty else 0 for word in known])
        return {
            word: tuple(known[at] for at in np.flatnonzero((row > 0) & (row <= np.maximum(far, reach(word)))))
            for word, row in zip(sounding, apart, strict=True)
        }


def _joined(form: Words) -> Words:
    return tuple("and" if word == LIKE_AND else word for word in form)


@cache
def common_words() -> frozenset[str]:
    """Everyday English words. A rare name may sound nearer to a voice than the word that was said, so the
    rivals are words that people say. GrammarError when the list is not installed."""
    try:
        lines = COMMON_WORDS.read_text(encoding="utf-8").splitlines()
    except OSError as problem:
        mend = "Install it: sudo apt-get install wamerican-small"
        raise GrammarError(f"the list of everyday words is missing: {COMMON_WORDS}", mend) from problem
    return frozenset(word for word in lines if word.isalpha() and word.islower())


class FillersFile(Strict):
    """The shape of fillers.toml: words with white space between."""

    hedges: str
    questions: str
    talk: str


@cache
def fillers(language: str = "en") -> tuple[str, ...]:
    """Everyday words, in the order of fillers.toml, each once."""
    file = read_shape(grammar_file("fillers.toml", language), FillersFile)
    return tuple(dict.fromkeys((file.hedges + " " + file.questions + " " + file.talk).split()))


def reach(word: str) -> int:
    """How many phonemes a soundalike of this word may be away."""
    return NEAR_SHORT if min(len(sound) for sound in phonemes(word)) <= SHORT else NEAR_LONG


def pass_strings(check: Check, step: Step) -> Iterator[Words]:
    """Every word string of this step's pass phrases; those of a reading are judged and read back instead."""
    nodes = {**number_nodes(check.language), **{name: parse_once(text) for name, text in check.rules.items()}}
    for phrase in step.passes:
        yield from expand(parse_once(phrase), nodes, MOST_PASSES)
