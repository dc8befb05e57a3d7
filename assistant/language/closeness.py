"""Which phrases of a step sound close to its pass phrases: faults, commands, negations, bad reports by ear.

Limits, in phonemes, and why. Measured with whole phrases of one step as the recogniser's grammar and synthetic
voices (clean, 12 and 6 dB): sentences one or two phonemes from a pass phrase were taken as a pass 393 times in
2,700; negations 58 times in 2,880, nearly all of them contractions and prefixes, which are one to three phonemes;
the step's own faults never, and everyday talk never in 2,160. Confidence did not tell them apart. So:

- TOO_CLOSE: a fault, a command, or a negation that changes a word of the phrase ("isn't", "unsteady", "no hoses")
  nearer than this is refused. NEAR: nearer than this is worth another thought, and warned of.
- A negation that leaves every word and puts another in or behind ("not", "never", "no") is two phonemes away at
  least, whatever phrase is chosen, so wording cannot mend it: the hearing must know these forms as no answers. It
  is refused only where it all but vanishes, below ALL_BUT_SAME.
- An opposite ("stops", "sticks") is a word of its own, and mostly one that the step's faults teach the recogniser:
  it is warned of below TOO_CLOSE, and refused below ALL_BUT_SAME.
- A negative word at most NEAR_WORD from a word of the phrase ("no", "o"), or a word of a fault with the same
  sound, makes the phrase itself a bad report by ear.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Final

import numpy as np

from assistant.language.negation import Kind, negations
from assistant.language.report import Pair
from assistant.language.sound import Words, distances, missing_sounds

TOO_CLOSE: Final = 3
NEAR: Final = 4
ALL_BUT_SAME: Final = 2
NEAR_WORD: Final = 1
FARTHEST: Final = 6  # pairs up to here are listed in the table

_LIMITS: Final = {  # refused below, warned below
    f"negation:{Kind.INSERTED}": (ALL_BUT_SAME, ALL_BUT_SAME),
    f"negation:{Kind.APPENDED}": (ALL_BUT_SAME, ALL_BUT_SAME),
    f"negation:{Kind.OPPOSITE}": (ALL_BUT_SAME, TOO_CLOSE),
}
# Words whose sound, put for a word of a pass phrase, makes it a bad report; "o" for "no" is one phoneme.
_NEGATIVE: Final = frozenset({"no", "not", "never", "none", "won't", "don't", "can't", "isn't", "nothing"})
_SMALL: Final = frozenset({"a", "an", "the", "it", "it's", "its", "is", "in", "to", "too", "of", "for", "by"})


@dataclass(frozen=True, slots=True)
class Phrase:
    """One word string that a step's grammar holds, what it means, and the key of the phrase it is of."""

    words: Words
    meaning: str
    key: str


def close_pairs(step: str, phrases: Sequence[Phrase], knows: Callable[[str], bool], language: str = "en") -> list[Pair]:
    """For each pass phrase (by key) and each other meaning, the nearest pair of word strings, up to FARTHEST.

    phrases: all that is in force at the step, written out; the meaning "pass" or "reading" marks a pass. A reading
    has no negations: its number is judged and read back. Words without a sound are left out: they are refused
    elsewhere.
    """
    passes = [phrase for phrase in phrases if is_pass(phrase)]
    others = [phrase for phrase in phrases if not is_pass(phrase)]
    others += list(_negated([each for each in passes if each.meaning == "pass"], knows, language))
    passes, others = _sounding(passes), _sounding(others)
    table = distances([each.words for each in passes], [each.words for each in others], FARTHEST)
    nearest: dict[tuple[str, str], Pair] = {}
    for row, column in np.argwhere(table <= FARTHEST):
        pair = _pair(step, passes[row], others[column], int(table[row, column]))
        best = nearest.get((pair.key, pair.meaning))
        if best is None or pair.distance < best.distance:
            nearest[(pair.key, pair.meaning)] = pair
    return list(nearest.values())


def is_pass(phrase: Phrase) -> bool:
    """Whether hearing it lets the step pass (a reading is judged by its number, and may)."""
    return phrase.meaning in {"pass", "reading"}


def _negated(passes: Sequence[Phrase], knows: Callable[[str], bool], language: str) -> Iterator[Phrase]:
    seen = {each.words for each in passes}
    for each in passes:
        for words, kind in negations(each.words, knows, language):
            if words not in seen:
                seen.add(words)
                yield Phrase(words, f"negation:{kind}", each.key)


def _sounding(phrases: Sequence[Phrase]) -> list[Phrase]:
    return [phrase for phrase in phrases if not missing_sounds(phrase.words)]


def _pair(step: str, one: Phrase, other: Phrase, distance: int) -> Pair:
    return Pair(
        step=step,
        key=one.key,
        phrase=" ".join(one.words),
        other=" ".join(other.words),
        meaning=other.meaning,
        distance=distance,
        standing=standing(other.meaning, distance),
    )


def standing(meaning: str, distance: int) -> str:
    """What a distance in phonemes is worth: "refused", "warned" or "apart"; the limits are argued above."""
    refused_below, warned_below = _LIMITS.get(meaning, (TOO_CLOSE, NEAR))
    if distance < refused_below:
        return "refused"
    return "warned" if distance < warned_below else "apart"


def bad_reports(phrases: Sequence[Phrase]) -> Iterator[tuple[Phrase, str, str]]:
    """Pass phrases that are bad reports by ear, as (phrase, its word, the bad word it sounds like).

    Bad words are the negatives, where one phoneme is near enough ("o ring", "no ring"), and the words of the
    step's faults that no pass phrase uses, where only the same sound counts ("whole", "hole"). Readings are let
    be: what a number means is judged by its bounds.
    """
    passes = _sounding([phrase for phrase in phrases if phrase.meaning == "pass"])
    good = sorted({word for phrase in passes for word in phrase.words} - _SMALL)
    faulty = {word for phrase in phrases if phrase.meaning.startswith("fault:") for word in phrase.words}
    near = [*_near_words(good, _NEGATIVE, NEAR_WORD), *_near_words(good, faulty - _NEGATIVE - _SMALL, 0)]
    seen: set[tuple[str, str, str]] = set()
    for phrase in passes:
        for word, bad in near:
            if word in phrase.words and (phrase.key, word, bad) not in seen:
                seen.add((phrase.key, word, bad))
                yield phrase, word, bad


def _near_words(good: Sequence[str], bad: AbstractSet[str], most: int) -> Iterator[tuple[str, str]]:
    """Pairs of a good and a bad word that are at most so many phonemes apart."""
    others = [word for word in sorted(bad - set(good)) if not missing_sounds([word])]
    table = distances([(word,) for word in good], [(word,) for word in others], most)
    for row, column in np.argwhere(table <= most):
        yield good[row], others[column]
