"""Could this be meant for us at all? Words that a recogniser without a list wrote down, beside those of the answers.

Talk on deck is not to be asked again, or a few people chatting leave a step open. Everyday words ("is", "that", "back")
stand in any talk, so they count for nothing here, even where an answer uses them; and a recogniser without a list
spells what it hears its own way, so words spelled much alike count as one.
"""

from __future__ import annotations

from collections.abc import Iterable

from assistant.language.spelling import is_like

ENOUGH = 0.5  # of the words


class Topic:
    """The words of the answers in force, without `everyday` ones."""

    def __init__(self, answers: Iterable[str], everyday: Iterable[str]) -> None:
        words = frozenset(answers)
        self._words, self._has_numbers = words.difference(everyday), "hundred" in words or "nine" in words

    def holds(self, words: tuple[str, ...]) -> bool:
        """True when at least half of the words, lower case, belong here; figures do where a number is asked for."""
        return bool(words) and sum(map(self._belongs, words)) >= ENOUGH * len(words)

    def _belongs(self, word: str) -> bool:
        return self._has_numbers if any(letter.isdigit() for letter in word) else is_like(word, self._words)
