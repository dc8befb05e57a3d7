"""Everyday words that are in no answer: the recogniser is shown them, so that talk is heard as talk."""

from __future__ import annotations

from functools import cache

from assistant.language.files import Strict, grammar_file, read_shape
from assistant.language.rules import numbers_file
from assistant.language.sound import distances, missing_sounds

NEAR_FIGURE = 2  # phonemes


class FillersFile(Strict):
    """The shape of fillers.toml: words with white space between."""

    hedges: str
    questions: str
    talk: str
    small: str
    persons: str


@cache
def fillers(language: str = "en") -> tuple[str, ...]:
    """Everyday words, in the order of fillers.toml, each once."""
    file = read_shape(grammar_file("fillers.toml", language), FillersFile)
    return tuple(dict.fromkeys((file.hedges + " " + file.questions + " " + file.talk).split()))


@cache
def everyday(language: str = "en") -> frozenset[str]:
    """All words that stand in any talk: those of `fillers`, and the small words of grammar beside them."""
    file = read_shape(grammar_file("fillers.toml", language), FillersFile)
    return frozenset((*fillers(language), *file.small.split()))


@cache
def persons(language: str = "en") -> frozenset[str]:
    """Words for people, of whom an answer does not tell."""
    return frozenset(read_shape(grammar_file("fillers.toml", language), FillersFile).persons.split())


@cache
def fillers_beside_figures(language: str = "en") -> tuple[str, ...]:
    """Everyday words, without those at most two phonemes from a figure: where a number may stand alone, "for" would
    be heard for "four", and "to" for "two". "Oh" is let be: half of the small words are near it."""
    worth = numbers_file(language).words
    figures = [(word,) for word, value in worth.items() if value < 10 and word not in ("a", "oh")]
    words = [word for word in fillers(language) if word not in worth and not missing_sounds((word,))]
    near = distances(figures, [(word,) for word in words], NEAR_FIGURE).min(axis=0) <= NEAR_FIGURE
    dropped = {word for word, is_near in zip(words, near, strict=True) if is_near}
    return tuple(word for word in fillers(language) if word not in dropped)
