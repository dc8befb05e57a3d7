"""The rehearsal's scene as data: grammars/en/rehearsal.toml read into values.

Checked when read: every step it names is a step of the check, and every turn is spoken in a phrase the step knows.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping

from assistant.check.steps import Check
from assistant.check.turns import Expects
from assistant.errors import GrammarError
from assistant.language.files import Place, Strict, grammar_file, read_shape


class SpeakerShape(Strict):
    """Who speaks: a voice of the synthesiser and its pace."""

    name: str
    rate_wpm: int


class TurnShape(Strict):
    """One thing to say when that question comes."""

    at: str
    say: str


class SceneShape(Strict):
    """The whole file."""

    title: str
    diver: str
    start: str
    lost: str
    snr_db: float
    seed: int
    voice: SpeakerShape
    items: dict[str, str]
    usual: dict[str, str]
    turn: list[TurnShape]


class Scene:
    """What the synthetic diver says, question by question."""

    def __init__(self, shape: SceneShape) -> None:
        self.shape = shape
        self._turns: dict[str, deque[str]] = {}
        for turn in shape.turn:
            self._turns.setdefault(turn.at, deque()).append(turn.say)

    @property
    def items(self) -> Mapping[str, int | str | None]:
        """Numbers of what the diver wears."""
        return dict(self.shape.items)

    def answer(self, expects: Expects) -> str:
        """What the diver says to this question; a turn of the file is used up, the usual answer is not."""
        if expects.kind == "start":
            return self.shape.start
        at = expects.step_id if expects.kind == "step" else expects.kind
        waiting = self._turns.get(at)
        return waiting.popleft() if waiting else self.shape.usual.get(at, self.shape.lost)


def load_scene(check: Check, path: Place | None = None) -> Scene:
    """The shipped scene, or the one at `path`; GrammarError names a question that the check does not ask."""
    place = path or grammar_file("rehearsal.toml", check.language)
    shape = read_shape(place, SceneShape)
    known = {step.id for step in check.steps} | {"replacement", "number", "confirm"}
    for at in (*shape.usual, *(turn.at for turn in shape.turn)):
        if at not in known:
            raise GrammarError(f'the check asks no "{at}"', "Use a step's id, or replacement.", f"{place}: {at}")
    return Scene(shape)
