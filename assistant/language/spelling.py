"""Other ways to write a word: for one that the recogniser's model lacks as words, as letters, or spelled otherwise.

Offers only, of which a person decides which is meant. Candidates are dictionary words that the model knows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import Final

from rapidfuzz import fuzz, process
from rapidfuzz.distance import Levenshtein

from assistant.language.sound import dictionary_words

MOST_OFFERS: Final = 4
_NEAR_ENOUGH: Final = 80  # rapidfuzz ratio, 0..100: one letter in five may differ
_ALIKE: Final = 80
_LONGEST_ABBREVIATION: Final = 5
_SHORTEST_PART: Final = 3  # letters; below that nearly anything splits ("tr im ix")


def offers(word: str, knows: Callable[[str], bool]) -> tuple[str, ...]:
    """Spellings that the model knows, the likeliest first, at most MOST_OFFERS.

    word: lower case, not known to the model. knows: whether the model has a word.
    Returns strings of one or more words ("free flow", "b c d"), none when nothing is near.
    """
    found = [*_parts(word, knows), *_letters(word, knows), *_near(word, knows)]
    return tuple(dict.fromkeys(found))[:MOST_OFFERS]


def _parts(word: str, knows: Callable[[str], bool]) -> list[str]:
    """The word as two words, at its hyphen or wherever both halves are words; the most even split first."""
    if "-" in word.strip("-"):
        parts = [part for part in word.split("-") if part]
        return [" ".join(parts)] if all(knows(part) for part in parts) else []
    places = range(_SHORTEST_PART, len(word) - _SHORTEST_PART + 1)
    splits = [(word[:place], word[place:]) for place in sorted(places, key=lambda place: abs(2 * place - len(word)))]
    return [f"{head} {tail}" for head, tail in splits if _is_word(head, knows) and _is_word(tail, knows)]


def _is_word(word: str, knows: Callable[[str], bool]) -> bool:
    return knows(word) and word in _known_to_dictionary()


def _letters(word: str, knows: Callable[[str], bool]) -> list[str]:
    if not word.isalpha() or len(word) > _LONGEST_ABBREVIATION or set(word) & set("aeiouy"):
        return []
    return [" ".join(word)] if all(knows(letter) for letter in word) else []


def _near(word: str, knows: Callable[[str], bool]) -> list[str]:
    close = process.extract(word, dictionary_words(), scorer=fuzz.ratio, score_cutoff=_NEAR_ENOUGH, limit=20)
    known = [candidate for candidate, _score, _place in close if knows(candidate)]
    return sorted(known, key=lambda known_word: (Levenshtein.distance(word, known_word), len(known_word) < len(word)))


def is_like(word: str, others: Iterable[str]) -> bool:
    """True when the word is one of the others, or is spelled much like one: "gage" and "gauge", "bars" and "bar"."""
    return process.extractOne(word, others, scorer=fuzz.ratio, score_cutoff=_ALIKE) is not None


@lru_cache(maxsize=1)
def _known_to_dictionary() -> frozenset[str]:
    return frozenset(dictionary_words())
