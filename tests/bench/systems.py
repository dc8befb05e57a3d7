"""The hearing systems under test, behind one call: hear(frames, step) -> Hearing.

"ear" is what kitcall ships; "plain" is vosk as a first program would use it. A further one is named on the
command line as module:function, a function of (model folder, check, commands) that gives such an object.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import Protocol

from plain_vosk import PlainVosk, flat_phrases

from assistant.check.steps import Check
from assistant.events import Hearing
from assistant.language.commands import Commands
from assistant.language.expected import Expected
from assistant.language.listening import for_step
from assistant.language.rules import number_nodes, parse_once
from audio.ear import Ear
from audio.frames import Frame
from audio.recognise import Recogniser
from audio.turn import Settings


class Hearer(Protocol):
    """Hears one answer to one step."""

    def hear(self, frames: Iterable[Frame], step: str) -> Hearing: ...


Factory = Callable[[Path, Check, Commands], Hearer]


class EarHearer:
    """The shipped ear with the listenings that the shipped program builds."""

    def __init__(self, folder: Path, check: Check, commands: Commands, settings: Settings | None = None) -> None:
        recogniser = Recogniser(folder)
        self._ear = Ear(recogniser, settings)
        self._expected = Expected(check, commands, recogniser.knows, kept=len(check.steps) + 8)

    def hear(self, frames: Iterable[Frame], step: str) -> Hearing:
        """One turn, as the program hears it; the window is longer than any trial."""
        return self._ear.listen(frames, self._expected.for_step(step), 30.0)


class PlainHearer:
    """The baseline: the same phrases, but in a flat list and without any decoys."""

    def __init__(self, folder: Path, check: Check, commands: Commands) -> None:
        self._vosk = PlainVosk(folder)
        texts = {**commands.rules, **check.rules}
        numbers = number_nodes(check.language)
        rules = {**numbers, **{name: parse_once(text) for name, text in texts.items()}}
        self._listening = {step.id: for_step(check, step, commands) for step in check.steps}
        self._phrases = partial(flat_phrases, rules=rules, number_rules=frozenset(numbers))
        self._flat: dict[str, list[str]] = {}

    def hear(self, frames: Iterable[Frame], step: str) -> Hearing:
        """One utterance, as vosk ends it."""
        if step not in self._flat:
            self._flat[step] = self._phrases(self._listening[step])
        return self._vosk.hear(frames, self._listening[step], step, self._flat[step])


BUILT_IN: dict[str, Factory] = {"ear": EarHearer, "plain": PlainHearer}


def factory(name: str) -> Factory:
    """A built-in system, or one named as module:function. Raises ValueError for neither."""
    if name in BUILT_IN:
        return BUILT_IN[name]
    module, _, function = name.partition(":")
    if not function:
        raise ValueError(f"no hearing system {name!r}; use {', '.join(BUILT_IN)} or module:function")
    made: Factory = getattr(importlib.import_module(module), function)
    return made
