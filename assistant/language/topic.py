"""Could this be meant for us at all? Words that a recogniser without a list wrote down, beside those of the answers.

Talk on deck is not to be asked again, or a few people chatting leave a step open. Everyday words ("is", "that", "back")
stand in any talk, so they count for nothing here, even where an answer uses them; and a recogniser without a list
spells what it hears its own way, so words spelled much alike count as one.
"""

from __future__ import annotations

from collections.abc import Iterable

from assistant.language.spelling import is_like

ENOUGH = 0.6  # of the words that are not everyday ones
LEAST = 0.3  # of all words
SHORT = 2  # so few everyday words may be an answer by themselves ("not yet"), where all of them are words of answers


class Topic:
    """The words of the answers in force. `everyday` ones count for nothing but in a short answer, and in a sentence no
    more does one word of `commands` ("wait for us"). Words of `persons` that are in no answer tell of people."""

    def __init__(
        self,
        answers: Iterable[str],
        everyday: Iterable[str],
        persons: Iterable[str] = (),
        commands: Iterable[str] = (),
    ) -> None:
        self._answers, self._everyday = frozenset(answers), frozenset(everyday)
        self._persons = frozenset(persons) - self._answers
        self._words = self._answers - self._everyday
        self._kit = self._words.difference(commands)
        self._has_numbers = "hundred" in self._answers or "nine" in self._answers

    def holds(self, words: tuple[str, ...]) -> bool:
        """True when most of the words that tell something, lower case, belong here, and some of all the words; figures
        do where a number is asked for."""
        telling = self.telling(words)
        if not telling:
            return 0 < len(words) <= SHORT and self._answers.issuperset(words)
        belonging = [word for word in telling if self._belongs(word, self._words)]
        if len(words) > SHORT and len(belonging) == 1 and not self._belongs(belonging[0], self._kit):
            return False
        return len(belonging) >= max(ENOUGH * len(telling), LEAST * len(words))

    def telling(self, words: tuple[str, ...]) -> tuple[str, ...]:
        """Those of the words that are not everyday ones."""
        return tuple(word for word in words if word not in self._everyday)

    def is_of_people(self, words: tuple[str, ...]) -> bool:
        """True where one of the words is about people."""
        return not self._persons.isdisjoint(words)

    def _belongs(self, word: str, answers: frozenset[str]) -> bool:
        return self._has_numbers if any(letter.isdigit() for letter in word) else is_like(word, answers)
