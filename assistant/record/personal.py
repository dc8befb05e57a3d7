"""Personal words and voice clips, kept apart from the hashed events so that they can be removed.

An event holds only the digest. Words get a salt of their own each time, so that
after removal nobody can find the name by trying names. A removed value reads as
REMOVED, and the chain of hashes still holds.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

REMOVED = "removed"
PERSONAL_KEYS = frozenset({"diver"})  # facts of these names are personal even when nobody wrapped them
SALT_BYTES = 16


@dataclass(frozen=True, slots=True)
class Personal:
    """Words about a person, to be kept apart. Wrap a fact's value in it before appending."""

    text: str


@dataclass(frozen=True, slots=True)
class Clip:
    """A voice note: a whole WAV file's bytes, its rate and its length."""

    wav: bytes
    rate_hz: int
    seconds: float

    @property
    def digest(self) -> str:
        """SHA-256 of the WAV bytes, 64 hex digits; what the event names it by."""
        return hashlib.sha256(self.wav).hexdigest()


@dataclass(frozen=True, slots=True)
class Words:
    """One row of the table of personal words."""

    digest: str
    salt: bytes
    text: str


def digest_of(salt: bytes, text: str) -> str:
    """SHA-256 of salt and UTF-8 words, 64 hex digits."""
    return hashlib.sha256(salt + text.encode("utf-8", "surrogateescape")).hexdigest()


def take_apart(facts: Mapping[str, object], salt: Callable[[], bytes]) -> tuple[dict[str, object], list[Words]]:
    """The facts with every personal value replaced by its digest, and the words taken out."""
    words: list[Words] = []

    def replaced(key: str, value: object) -> object:
        if isinstance(value, str) and value and key in PERSONAL_KEYS:
            value = Personal(value)
        if isinstance(value, Personal):
            fresh = salt()
            words.append(Words(digest_of(fresh, value.text), fresh, value.text))
            return {"personal": words[-1].digest}
        if isinstance(value, Mapping):
            return {name: replaced(str(name), inner) for name, inner in value.items()}
        if isinstance(value, list | tuple):
            return [replaced("", inner) for inner in value]
        return value

    return {name: replaced(name, value) for name, value in facts.items()}, words


def digests_in(value: object) -> Iterator[str]:
    """Every digest of personal words that these facts name."""
    if isinstance(value, Mapping):
        if set(value) == {"personal"}:
            yield str(value["personal"])
        else:
            for inner in value.values():
                yield from digests_in(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from digests_in(inner)


def put_together(value: object, words: Mapping[str, str]) -> object:
    """The facts with the words filled in again; REMOVED where they are gone."""
    if isinstance(value, Mapping):
        if set(value) == {"personal"}:
            return words.get(str(value["personal"]), REMOVED)
        return {name: put_together(inner, words) for name, inner in value.items()}
    if isinstance(value, list):
        return [put_together(inner, words) for inner in value]
    return value
