"""Text in the second recogniser's tokens, beside another reader of the same list (tiktoken, MIT)."""

from __future__ import annotations

import pytest
import tiktoken
from hypothesis import given
from hypothesis import strategies as st

from audio import opinion
from audio.tokens import BYTES, Tokens

LINES = (opinion.find() / "vocabulary.txt").read_text(encoding="utf-8").split("\n")[: opinion.START - 1]
OURS = Tokens(LINES)
THEIRS = tiktoken.Encoding(
    "theirs",
    pat_str=r"'(?:[sdmt]|ll|ve|re)| ?\p{L}+| ?\p{N}+| ?[^\s\p{L}\p{N}]+|\s+(?!\S)|\s+",  # as GPT-2's makers give it
    mergeable_ranks={bytes(BYTES[letter] for letter in line): rank for rank, line in enumerate(LINES)},
    special_tokens={},
)
SAID = (
    " every hose looks fine", " It doesn't, and we're at 190.5 bar ...", "\t two\n\n spaces   at the end  ", "",
    " caf\u00e9 \u00bd \u2167 \u266a \u2019twas \u6c34", "'s 'll'dx '", "<|endoftext|>",
)  # fmt: skip


@pytest.mark.parametrize("text", SAID)
def test_same_tokens_as_another_reader(text: str) -> None:
    assert OURS.encode(text) == THEIRS.encode(text, disallowed_special=())
    assert OURS.decode(OURS.encode(text)) == text


@given(st.text(max_size=30) | st.text("abstlver' .,19\n", max_size=30))
def test_same_tokens_of_any_text(text: str) -> None:
    assert OURS.encode(text) == THEIRS.encode(text, disallowed_special=())


@given(st.lists(st.integers(0, len(LINES) - 1), max_size=12))
def test_same_text_of_any_tokens(numbers: list[int]) -> None:
    assert OURS.decode(numbers) == THEIRS.decode(numbers)
