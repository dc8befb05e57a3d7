"""The rehearsal's scene as data: grammars/en/rehearsal.toml read into values.

Checked when read: every step it names is a step of the check, and every turn is spoken in a phrase the step knows.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from contextlib import suppress
from datetime import date

from assistant.check.steps import FAULT, Check
from assistant.check.turns import Expects, Fact
from assistant.errors import BadInput, GrammarError
from assistant.events import Heard, Match
from assistant.language.expected import value_of
from assistant.language.files import Place, Strict, grammar_file, read_shape
from assistant.language.rules import numbers_file

PATIENCE = 150  # answers after which the diver stops the check: a rehearsal must end


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
    day: date
    end: str
    deny: str
    hands_s: float
    snr_db: float
    seed: int
    voice: SpeakerShape
    items: dict[str, str]
    spares: dict[str, str]
    usual: dict[str, str]
    otherwise: dict[str, str]
    turn: list[TurnShape]


class ReadBack:
    """The last answer that may be read back: whether it was heard as it was said."""

    def __init__(self) -> None:
        self.is_right = True

    def take(self, expects: Expects, meant: Match | None, heard: Fact) -> None:
        """What an answer to that question means, and what was heard of it. Of answers to a reading back only a fault
        is read back in turn."""
        if isinstance(heard, Heard) and (expects.kind != "confirm" or heard.match.meaning.startswith(FAULT)):
            self.is_right = is_same(meant, heard.match)


def is_same(meant: Match | None, taken: Match) -> bool:
    """Whether what was heard is what was said: its meaning, and the values of its numbers."""
    if meant is None or meant.meaning != taken.meaning:
        return False
    one, other = _numbers(meant), _numbers(taken)
    return one.keys() == other.keys() and all(one[name] & other[name] for name in one)


def _numbers(match: Match) -> dict[str, set[tuple[str, float]]]:
    """By slot all that its words may be worth, kind and value. Left out: what holds no number, and parts of one."""
    file = numbers_file()
    found: dict[str, set[tuple[str, float]]] = {}
    for name in match.slots.keys() - (file.rules.keys() - file.kind.keys()):
        for kind in file.kind:
            with suppress(BadInput):
                value, _ = value_of(kind, match.slots[name])
                found.setdefault(name, set()).add((kind, value))
    return found


class Scene:
    """What the synthetic diver says, question by question."""

    def __init__(self, shape: SceneShape) -> None:
        self.shape = shape
        self._turns: dict[str, deque[str]] = {}
        self._asked = ("", 0)
        self._answers = 0
        for turn in shape.turn:
            self._turns.setdefault(turn.at, deque()).append(turn.say)

    @property
    def items(self) -> Mapping[str, int | str | None]:
        """Numbers of what the diver wears."""
        return dict(self.shape.items)

    @property
    def worked_s(self) -> float:
        """How long the diver's hands have worked, of which the rehearsal waits for nothing."""
        return self.shape.hands_s * self._answers

    def answer(self, expects: Expects, again: bool = False) -> str:
        """What the diver says to this question; `again` when the same was not understood a moment ago.

        A turn of the file stands until it was understood; asked again, the usual answer changes its words each time.
        """
        self._answers += 1
        if expects.kind == "start":
            return self.shape.start
        if self._answers > PATIENCE:
            return self.shape.end
        at = self.at(expects)
        self._asked = (at, self._asked[1] + 1 if again else 0)
        waiting = self._turns.get(at)
        if waiting:
            return waiting[0]
        words = self.shape.otherwise if self._asked[1] % 2 else self.shape.usual
        return words.get(at) or self.shape.usual.get(at, self.shape.lost)

    def at(self, expects: Expects) -> str:
        """What the file calls this question. A replacement's number that was denied is asked for alone, and the turn
        that told it still stands."""
        if expects.kind == "number" and self._turns.get("replacement"):
            return "replacement"
        return expects.step_id if expects.kind == "step" else expects.kind

    def understood(self, at: str) -> None:
        """What was answered to that question was understood: a turn of the file is used up."""
        waiting = self._turns.get(at)
        if waiting:
            waiting.popleft()


def load_scene(check: Check, path: Place | None = None) -> Scene:
    """The shipped scene, or the one at `path`; GrammarError names a question that the check does not ask."""
    place = path or grammar_file("rehearsal.toml", check.language)
    shape = read_shape(place, SceneShape)
    known = {step.id for step in check.steps} | {"replacement", "number", "confirm", "waiting"}
    for at in (*shape.usual, *shape.otherwise, *(turn.at for turn in shape.turn)):
        if at not in known:
            raise GrammarError(f'the check asks no "{at}"', "Use a step's id, or replacement.", f"{place}: {at}")
    return Scene(shape)
