"""The negated forms of a phrase, built systematically: what a diver may say who means the opposite.

No parser of English: words are put in, exchanged or prefixed at every place where that could be a sentence,
and what is no sentence costs a decoy nobody says. Each form has a kind, so that a reader may weigh them.
This file knows neither sounds nor files.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from enum import StrEnum
from typing import Final

Words = tuple[str, ...]


class Kind(StrEnum):
    """How a negated form came about. The first two leave every word of the phrase as it was."""

    INSERTED = "inserted"  # "adds gas and never stops"
    APPENDED = "appended"  # "all hoses look sound except one"
    CONTRACTED = "contracted"  # "is steady": "isn't steady"; "stops": "doesn't stop"
    EXCHANGED = "exchanged"  # "all hoses": "no hoses"; "both": "neither"; "and": "but not"
    PREFIXED = "prefixed"  # "steady": "unsteady", and "and steady", which sounds nearly the same


INSERTED: Final[tuple[Words, ...]] = (
    ("not",),
    ("never",),
    ("no",),
    ("isn't",),
    ("aren't",),
    ("won't",),
    ("doesn't",),
    ("don't",),
    ("didn't",),
    ("hardly",),
    ("is", "not"),
    ("does", "not"),
    ("did", "not"),
    ("will", "not"),
)
APPENDED: Final[tuple[Words, ...]] = (("not",), ("never",), ("no",), ("except", "one"), ("but", "one"), ("no", "good"))
CONTRACTED: Final[dict[str, tuple[Words, ...]]] = {
    "is": (("isn't",), ("ain't",)),
    "are": (("aren't",), ("ain't",)),
    "was": (("wasn't",),),
    "were": (("weren't",),),
    "has": (("hasn't",),),
    "have": (("haven't",),),
    "does": (("doesn't",),),
    "do": (("don't",),),
    "did": (("didn't",),),
    "can": (("can't",), ("cannot",)),
    "will": (("won't",),),
    "would": (("wouldn't",),),
    "it's": (("it", "isn't"),),
}
EXCHANGED: Final[dict[str, tuple[Words, ...]]] = {
    "every": (("not", "every"), ("no",)),
    "everything": (("nothing",), ("not", "everything")),
    "both": (("neither",), ("not", "both")),
    "always": (("never",), ("not", "always")),
    "and": (("but", "not"), ("but", "won't"), ("but", "doesn't"), ("but", "never"), ("or",), ("nor",)),
    "with": (("without",),),
    "in": (("not", "in"), ("out", "of")),
    "any": (("no",),),
    "some": (("no",),),
    # a phrase that holds a negation is negated by losing it, and "no cuts" is also heard as "know cuts"
    "no": ((), ("know",)),
    "not": ((), ("knot",)),
    "never": ((),),
    "nothing": (("something",),),
    "without": (("with",),),
}
PREFIXES: Final = ("un", "in", "im", "dis", "non")
_VERB_BEFORE: Final[tuple[Words, ...]] = (
    ("doesn't",),
    ("won't",),
    ("don't",),
    ("didn't",),
    ("does", "not"),
    ("did", "not"),
    ("will", "not"),
    ("can't",),
)
_NO_VERBS: Final = frozenset({"gas", "its", "is", "was", "has", "does", "as", "us", "this", "hiss", "yes"})


def negations(words: Words, knows: Callable[[str], bool]) -> Iterator[tuple[Words, Kind]]:
    """Every negated form of a phrase, each once, of which the model knows all words.

    words: one phrase, lower case. knows: whether the recogniser's model has a word.
    Yields (words, kind); never the phrase itself.
    """
    seen = {words}
    for form, kind in _forms(words, knows):
        if form not in seen and all(knows(word) for word in form):
            seen.add(form)
            yield form, kind


def _forms(words: Words, knows: Callable[[str], bool]) -> Iterator[tuple[Words, Kind]]:
    """Kinds in order of danger, so that a form reached in two ways carries the graver kind."""
    for place, word in enumerate(words):
        before, after = words[:place], words[place + 1 :]
        yield from ((form, Kind.PREFIXED) for form in _prefixed(before, word, after))
        for new in _contracted(word, knows):
            yield (*before, *new, *after), Kind.CONTRACTED
            if before and before[-1] == "and":
                yield (*before[:-1], "but", *new, *after), Kind.CONTRACTED
        yield from (((*before, *new, *after), Kind.EXCHANGED) for new in _exchanged(word, after))
    for place in range(len(words)):
        yield from (((*words[:place], *new, *words[place:]), Kind.INSERTED) for new in INSERTED)
    yield from (((*words, *new), Kind.APPENDED) for new in APPENDED)


def _prefixed(before: Words, word: str, after: Words) -> Iterator[Words]:
    for prefix in PREFIXES:
        if word.startswith(prefix) and len(word) > len(prefix) + 2:
            yield (*before, word.removeprefix(prefix), *after)
        yield (*before, prefix + word, *after)
        if before and before[-1] in {"and", "in", "an"}:
            yield (*before[:-1], prefix + word, *after)


def _contracted(word: str, knows: Callable[[str], bool]) -> Iterator[Words]:
    yield from CONTRACTED.get(word, ())
    for base in _bases(word):
        if knows(base):
            yield from ((*before, base) for before in _VERB_BEFORE)


def _bases(word: str) -> tuple[str, ...]:
    """What a form in -s or -ed may be of: "stops": "stop"; "purged": "purge", "purg". Nouns come along, harmlessly."""
    if word in _NO_VERBS or len(word) < 4:
        return ()
    if word.endswith("ies") or word.endswith("ied"):
        return (word[:-3] + "y",)
    if word.endswith("es"):
        return (word[:-1], word[:-2])
    if word.endswith("s") and not word.endswith("ss"):
        return (word[:-1],)
    if word.endswith("ed"):
        doubled = (word[:-3],) if word[-3] == word[-4] else ()
        return (word[:-1], word[:-2], *doubled)
    return ()


def _exchanged(word: str, after: Words) -> Iterator[Words]:
    if word == "all":
        yield ("not", "all")
        if after and after[0].endswith("s"):
            yield ("no",)
    yield from EXCHANGED.get(word, ())
