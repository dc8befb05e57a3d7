"""The negated forms of a phrase, built systematically: what a diver may say who means the opposite.

No parser of English: words are put in, exchanged or prefixed at every place where that could be a sentence,
and what is no sentence costs a decoy nobody says. Which words, says grammars/<language>/negations.toml. Each form
has a kind, so that a reader may weigh it. This file knows no sounds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from enum import StrEnum
from functools import cache

from assistant.language.files import Strict, grammar_file, read_shape

Words = tuple[str, ...]
Knows = Callable[[str], bool]


NEUTRAL = frozenset({"is", "are", "does", "did", "will", "but", "good", "one", "it"})  # negate only beside others


class Kind(StrEnum):
    """How a negated form came about. The first two leave every word of the phrase as it was."""

    INSERTED = "inserted"  # "adds gas and never stops"
    APPENDED = "appended"  # "all hoses look sound except one"
    CONTRACTED = "contracted"  # "is steady": "isn't steady"; "stops": "doesn't stop"
    EXCHANGED = "exchanged"  # "all hoses": "no hoses"; "both": "neither"; "and": "but not"
    OPPOSITE = "opposite"  # "stops": "sticks"; "good": "no good"
    PREFIXED = "prefixed"  # "steady": "unsteady", and "and steady", which sounds nearly the same


class NegationsFile(Strict):
    """The shape of negations.toml; every string is words with spaces between."""

    inserted: list[str]
    appended: list[str]
    before_number: list[str]
    faulty: str
    before_verb: list[str]
    no_verbs: list[str]
    never_prefixed: list[str]
    sounds_as_un: list[str]
    prefixed: dict[str, str]
    contracted: dict[str, list[str]]
    exchanged: dict[str, list[str]]
    opposites: dict[str, list[str]]


@cache
def negations_file(language: str = "en") -> NegationsFile:
    """negations.toml as shipped. Raises GrammarError as files.read_shape does."""
    return read_shape(grammar_file("negations.toml", language), NegationsFile)


def negations(words: Words, knows: Knows, language: str = "en") -> Iterator[tuple[Words, Kind]]:
    """Every negated form of a phrase, each once, of which the model knows all words.

    words: one phrase, lower case. knows: whether the recogniser's model has a word.
    Yields (words, kind), never the phrase itself; a form that comes about in two ways has the graver kind.
    Checked in tests/language/test_negation.py.
    """
    seen = {words}
    for form, kind in _forms(words, knows, negations_file(language)):
        if form not in seen and all(knows(word) for word in form):
            seen.add(form)
            yield form, kind


@cache
def turning_words(language: str = "en") -> frozenset[str]:
    """Every word that is put into a phrase to negate it: "not", "won't", "never", …"""
    file = negations_file(language)
    contracted = (form for forms in file.contracted.values() for form in forms)
    said = (*file.inserted, *file.appended, *file.before_verb, *contracted)
    return frozenset(word for form in said for word in form.split()) - NEUTRAL


@cache
def faulty_words(language: str = "en") -> frozenset[str]:
    """What a diver says of bad kit: "stuck", "leaks", "old", …"""
    return frozenset(negations_file(language).faulty.split())


def _forms(words: Words, knows: Knows, file: NegationsFile) -> Iterator[tuple[Words, Kind]]:
    for place in range(len(words)):
        yield from ((form, Kind.PREFIXED) for form in _prefixed(words, place, file))
        yield from ((form, Kind.CONTRACTED) for form in _contracted(words, place, knows, file))
        yield from ((form, Kind.EXCHANGED) for form in _exchanged(words, place, file))
    for place, word in enumerate(words):
        yield from ((_with(words, place, place + 1, new), Kind.OPPOSITE) for new in file.opposites.get(word, ()))
    for place in range(len(words)):
        yield from ((_with(words, place, place, new), Kind.INSERTED) for new in file.inserted)
    yield from ((_with(words, len(words), len(words), new), Kind.APPENDED) for new in file.appended)


def _with(words: Words, start: int, end: int, new: str) -> Words:
    """The words with those from start to end (exclusive) exchanged for new ones."""
    return (*words[:start], *new.split(), *words[end:])


def _prefixed(words: Words, place: int, file: NegationsFile) -> Iterator[Words]:
    word = words[place]
    if word.startswith("un") and len(word) > 4:
        yield _with(words, place, place + 1, word.removeprefix("un"))
    found = [file.prefixed[word]] if word in file.prefixed else []
    if len(word) > 2 and "un" + word not in file.never_prefixed:
        found.append("un" + word)
    for new in found:
        yield _with(words, place, place + 1, new)
        if place and words[place - 1] in file.sounds_as_un:
            yield _with(words, place - 1, place + 1, new)


def _contracted(words: Words, place: int, knows: Knows, file: NegationsFile) -> Iterator[Words]:
    """ "is" as "isn't", and verbs: "stops" as "doesn't stop", "and stops" as "but doesn't stop" too."""
    word = words[place]
    yield from (_with(words, place, place + 1, new) for new in file.contracted.get(word, ()))
    for base in _bases(word, file):
        for before in file.before_verb if knows(base) else ():
            yield _with(words, place, place + 1, f"{before} {base}")
            if place and words[place - 1] == "and":
                yield _with(words, place - 1, place + 1, f"but {before} {base}")


def _bases(word: str, file: NegationsFile) -> tuple[str, ...]:
    """What a form in -s or -ed may be of: "stops": "stop"; "purged": "purge", "purg". Nouns come along, harmlessly."""
    if word in file.no_verbs or len(word) < 4:
        return ()
    if word.endswith(("ies", "ied")):
        return (word[:-3] + "y",)
    if word.endswith("es"):
        return (word[:-1], word[:-2])
    if word.endswith("s") and not word.endswith("ss"):
        return (word[:-1],)
    if word.endswith("ed"):
        doubled = (word[:-3],) if word[-3] == word[-4] else ()
        return (word[:-1], word[:-2], *doubled)
    return ()


def _exchanged(words: Words, place: int, file: NegationsFile) -> Iterator[Words]:
    word = words[place]
    if word == "all" and not (place + 1 < len(words) and words[place + 1].endswith("s")):
        return  # "all quiet" has no "no quiet"
    yield from (_with(words, place, place + 1, new) for new in file.exchanged.get(word, ()))
