"""The second recogniser's tokens: GPT-2's pieces of words, and text in them and back.

The rank of a token in its list is its number, and which two neighbours are joined first. The 50,256 of them are kept as
one string, sorted, and looked up in it: a table of objects takes 20 MB.
Source: Sennrich et al. 2016, "Neural machine translation of rare words with subword units", and GPT-2's own rule for
splitting text; checked against another reader of the same list in tests/audio/test_tokens.py.
"""

from __future__ import annotations

import re
from array import array
from bisect import bisect_left
from collections.abc import Iterable
from functools import lru_cache
from itertools import accumulate, pairwise

# A word with the space before it, a number, signs, or spaces: of any script, once `_plainly` has put ASCII for it.
PIECE = re.compile(r"'(?:[sdmt]|ll|ve|re)| ?[a-zA-Z]+| ?[0-9]+| ?[^\sa-zA-Z0-9]+|\s+(?!\S)|\s+", re.ASCII)


class Tokens:
    """The list, as read. `lines`: one token each, in the order of their numbers, every byte written as a letter."""

    def __init__(self, lines: list[str]) -> None:
        numbers = sorted(range(len(lines)), key=lines.__getitem__)
        self._numbers = array("H", numbers)  # of the tokens, sorted
        self._all = "".join(lines[number] for number in numbers)
        self._starts = array("I", accumulate((len(lines[number]) for number in numbers), initial=0))
        self._places = array("H", bytes(2 * len(lines)))  # of each number, among the sorted
        for place, number in enumerate(numbers):
            self._places[number] = place
        self._encode_piece = lru_cache(4096)(self._join)

    def encode(self, text: str) -> list[int]:
        """The numbers of its tokens; none for no text."""
        pieces = (text[found.start() : found.end()] for found in PIECE.finditer(_plainly(text)))
        return [number for piece in pieces for number in self._encode_piece(piece)]

    def decode(self, numbers: Iterable[int]) -> str:
        """The text; bytes that are no UTF-8 become U+FFFD."""
        letters = "".join(self._token(self._places[number]) for number in numbers)
        return bytes(BYTES[letter] for letter in letters).decode("utf-8", errors="replace")

    def _token(self, place: int) -> str:
        return self._all[self._starts[place] : self._starts[place + 1]]

    def _rank(self, token: str) -> int:
        """Its number, or one above all where there is no such token."""
        place = bisect_left(range(len(self._numbers)), token, key=self._token)
        found = place < len(self._numbers) and self._token(place) == token
        return self._numbers[place] if found else len(self._numbers)

    def _join(self, piece: str) -> tuple[int, ...]:
        """Single bytes, of which again and again the two neighbours of the lowest rank are joined."""
        parts = [LETTERS[byte] for byte in piece.encode("utf-8")]
        while len(parts) > 1:
            ranks = [self._rank(one + other) for one, other in pairwise(parts)]
            best = min(ranks)
            if best == len(self._numbers):
                break
            at = ranks.index(best)
            parts[at : at + 2] = [parts[at] + parts[at + 1]]
        return tuple(self._rank(part) for part in parts)


def _plainly(text: str) -> str:
    """As long as the text, with a letter, a figure, a space or a sign of ASCII for each of another script's."""
    return text if text.isascii() else "".join(map(_plain_kind, text))


def _plain_kind(letter: str) -> str:
    if letter.isascii():
        return letter
    if letter.isalpha():
        return "a"
    return "0" if letter.isnumeric() else "\n" if letter.isspace() else "."


def _byte_letters() -> dict[str, int]:
    """GPT-2's letters for bytes: what can be seen stands for itself, U+0100 and what follows for the others."""
    shown = [*range(33, 127), *range(161, 173), *range(174, 256)]
    hidden = [byte for byte in range(256) if byte not in shown]
    return {chr(byte): byte for byte in shown} | {chr(256 + at): byte for at, byte in enumerate(hidden)}


BYTES = _byte_letters()
LETTERS = {byte: letter for letter, byte in BYTES.items()}
