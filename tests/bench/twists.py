"""Sentences made by rule from a pass phrase: denied, asked, hedged, or sounding nearly like it.

Written without a look at the grammar's own decoys, so that the two can be held against each other.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from functools import cache

import wordfreq

from assistant.language import sound

Words = tuple[str, ...]

NUMBERS = """
    one nine five | one ninety five | a hundred and ninety five | two hundred | two ten | two hundred and ten | ninety
    two oh five | two hundred thirty | one eighty | a hundred and eighty | two twenty | two thirty two | three hundred
    fifty | one fifty | a hundred and fifteen | two forty | one seventy five | one hundred eighty five | two thirteen
    two hundred five | one nine zero | two zero zero | two one five | two twenty five | one sixty | two thirty
    a hundred and sixteen | one ninety
"""
READ_OUT = ("{} bar", "gauge reads {}", "we have {} bar", "{}", "gauge reads {} bar")


def readings() -> list[str]:
    """Pressures as people read them out."""
    numbers = [number.strip() for line in NUMBERS.strip().splitlines() for number in line.split("|")]
    framed = [READ_OUT[at % len(READ_OUT)].format(number) for at, number in enumerate(numbers)]
    return framed + [f"{number} bar" for number in numbers]


def rank(*parts: str) -> int:
    """A number drawn from the text itself, the same on every machine."""
    return int.from_bytes(hashlib.sha256("|".join(parts).encode()).digest()[:8])


def drawn(texts: Iterable[str], count: int, seed: str) -> list[str]:
    """At most `count` of the texts, drawn by hash: adding texts elsewhere never changes a draw of others."""
    return sorted(dict.fromkeys(texts), key=lambda text: rank(seed, text))[:count]


VERBS = {
    "stops": "stop", "adds": "add", "goes": "go", "works": "work", "closes": "close", "opens": "open", "lets": "let",
    "vents": "vent", "stays": "stay", "holds": "hold", "breathes": "breathe", "reads": "read", "says": "say",
    "matches": "match", "rests": "rest", "sits": "sit", "looks": "look", "blows": "blow", "drops": "drop",
    "shuts": "shut",
}  # fmt: skip
PLAIN = {"look", "fit", "purge", "stop", "hold", "work", "close", "shut"}
PAST = {"opened": "open", "closed": "close", "purged": "purge", "stopped": "stop", "blew": "blow"}
STATES = {
    "good", "sound", "tight", "clean", "whole", "seated", "present", "firm", "open", "quiet", "full", "hard", "dry",
    "still", "strong", "fitting", "right", "fitted", "on", "charged", "free", "packed", "held", "labelled", "fine",
    "steady", "okay", "solid", "running", "there",
}  # fmt: skip
PREFIXED = STATES & {"sound", "clean", "seated", "firm", "steady", "fitted", "charged", "packed", "labelled"}
BEFORE = ("not", "no", "never", "it isn't true that", "I don't think", "it is not", "none", "hardly", "I can't say")
AFTER = ("not", "no", "except one", "but one", "no good", "not really", "not at all", "I don't think so",
         "but it leaks", "only sometimes", "not quite", "never", "apart from this one", "until I let go")  # fmt: skip


def negated(text: str) -> Iterator[str]:
    """A pass phrase denied in the ways people do: helper verbs, contractions, prefixes, exceptions."""
    words = text.split()
    yield from (f"{before} {text}" for before in BEFORE)
    yield from (f"{text} {after}" for after in AFTER)
    for at, word in enumerate(words):
        head, tail = words[:at], words[at + 1 :]
        yield from (" ".join([*head, swap, *tail]) for swap in _denied(word))
    for link in ("but not", "but doesn't", "but never", "and not", "but won't", "without"):
        if " and " in text:
            yield text.replace(" and ", f" {link} ", 1)


def _denied(word: str) -> Iterator[str]:
    if word in VERBS:
        yield from (f"{no} {VERBS[word]}" for no in ("doesn't", "won't", "can't", "does not", "will not"))
        yield from (f"never {word}", f"hardly {word}")
    if word in PLAIN:
        yield from (f"{no} {word}" for no in ("don't", "won't", "never", "do not", "can't"))
    if word in PAST:
        yield from (f"{no} {PAST[word]}" for no in ("didn't", "did not", "won't"))
        yield from (f"never {word}", f"hasn't {word}")
    if word in STATES:
        yield from (f"{no} {word}" for no in ("not", "isn't", "is not", "aren't", "never", "hardly", "wasn't"))
    if word in PREFIXED:
        yield ("in" if word == "firm" else "un") + word
    if word in ("all", "every", "both"):
        yield from {"all": ("not all", "no"), "every": ("not every", "no"), "both": ("neither", "not both")}[word]


def asked(text: str) -> Iterator[str]:
    """Questions that hold a pass phrase."""
    yield from (
        frame.format(text)
        for frame in (
            "did you say {}", "do I say {}", "should I say {}", "what if {}", "are you sure {}", "does {} count",
            "how do I know {}", "is it {}", "when do I say {}", "why {}", "who said {}", "can I just say {}",
            "what does {} mean", "is that what you call {}", "would you say {}", "{} is that right", "{} yes or no",
        )
    )  # fmt: skip


def hedged(text: str) -> Iterator[str]:
    """A pass phrase said without being sure."""
    yield from (
        frame.format(text)
        for frame in (
            "maybe {}", "I think {}", "probably {}", "{} I think", "{} maybe", "{} I guess", "almost {}", "nearly {}",
            "{} sort of", "I hope {}", "{} more or less", "I'm not sure {}", "could be {}", "{} mostly",
            "{} if you ask me", "perhaps {}", "{} probably", "{} but look again", "I suppose {}", "it seems {}",
            "kind of {}", "{} most of the time", "{} or maybe not", "let's say {}",
        )
    )  # fmt: skip


@cache
def common_words() -> tuple[str, ...]:
    """The 4,000 commonest English words that have a known sound."""
    known = set(sound.dictionary_words())
    words = (word for word in wordfreq.top_n_list("en", 6000) if word in known and word.isalpha() and len(word) > 1)
    return tuple(list(words)[:4000])


@cache
def _distances(word: str) -> tuple[int, ...]:
    table = sound.distances([(word,)], [(other,) for other in common_words()], 6)
    return tuple(int(value) for value in table[0])


def neighbours(heads: Sequence[str], allowed: Sequence[Words], low: int, high: int) -> list[str]:
    """The heads with one word exchanged for a common one, `low` to `high` phonemes from every allowed phrase."""
    made: dict[Words, None] = {}
    for head in heads:
        words = tuple(head.split())
        for at, word in enumerate(words):
            if word in ("and", "the", "a", "its"):
                continue
            near = [other for other, far in zip(common_words(), _distances(word), strict=True) if low <= far <= high]
            for other in drawn(near, 60, f"{head}{at}{low}"):
                made[(*words[:at], other, *words[at + 1 :])] = None
    texts = list(made)
    if not texts:
        return []
    nearest = sound.distances(texts, list(allowed), high + 1).min(axis=1)
    return [" ".join(text) for text, far in zip(texts, nearest, strict=True) if low <= far <= high]
