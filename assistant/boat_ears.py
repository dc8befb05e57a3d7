"""First names kept out of the hashed record: what was heard goes into it, and a name must stay removable."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from assistant.app import Ears
from assistant.check.turns import Expects, Fact
from assistant.events import Doubted
from assistant.language.expected import Expected
from assistant.record import Clip

LEFT_OUT = "(name)"


class Names:
    """The first names of a trip; numbers are no names."""

    def __init__(self, names: Iterable[str]) -> None:
        self._names = frozenset(name.lower() for name in names if not name.isdecimal())

    def left_out(self, text: str) -> str:
        """The words without these names."""
        return " ".join(LEFT_OUT if word in self._names else word for word in text.split())


class Discreet:
    """Ears whose doubts hold no name. What was understood is the check's own words, or the group's business."""

    def __init__(self, ears: Ears, names: Names) -> None:
        self._ears, self._names = ears, names

    @property
    def by(self) -> str:
        """How answers come in."""
        return self._ears.by

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        """The next fact, without a name in what was not understood."""
        fact = self._ears.hear(expects, expected)
        return replace(fact, text=self._names.left_out(fact.text)) if isinstance(fact, Doubted) else fact

    def note(self, window_s: float) -> Clip | None:
        """A spoken note; its sound is a clip, which can be removed."""
        return self._ears.note(window_s)

    def reopen(self) -> bool:
        """Try to open the microphone again."""
        return self._ears.reopen()
