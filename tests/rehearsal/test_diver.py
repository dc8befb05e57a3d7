"""The demo's diver is honest: what is read back and was not said is denied, and said again.

Its ear and voice stand in here: a wrong hearing cannot be ordered from the real ones.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from assistant.check.turns import Expects, Fact
from assistant.events import Care, Doubted, Heard, Listening, Match, Why
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.files import grammar_file
from assistant.language.sequence import load
from assistant.rehearsal.diver import Diver
from assistant.rehearsal.scene import is_same, load_scene

CHECK = load(grammar_file("checks/rental.toml"), lambda word: True)
EXPECTED = Expected(CHECK, shipped_commands(), lambda word: True, lambda words: {})
RIGHT = Heard(Match(("mask", "and", "strap", "okay"), "pass", Care.FIRM, is_unsure=True))
OTHERWISE = Heard(Match(("mask", "fine"), "pass", Care.FIRM, {"fine": "fine"}, is_unsure=True))
MOULD = Heard(Match(("black", "mould"), "fault:mould", Care.WEIGHTY, is_unsure=True))
DOUBT = Doubted(Why.NO_PHRASE, "mumble")
YES, NO = "yes confirmed", "no that's wrong"


class Mute:
    def render(self, text: str) -> tuple[np.ndarray[tuple[int], np.dtype[np.int16]], int]:
        return np.full(16_000, 100, np.int16), 16_000


class Hears:
    """Hears what it is told to, whatever is said."""

    def __init__(self, facts: list[Fact]) -> None:
        self._facts = iter(facts)

    def listen(self, frames: Iterator[object], listening: Listening, window_s: float) -> Fact:
        return next(self._facts)


CASES = {
    "right": ([("step", RIGHT)], YES),
    "something else": ([("step", MOULD)], NO),
    "right, the second time": ([("step", DOUBT), ("step", RIGHT)], YES),
    "the yes was not understood": ([("step", RIGHT), ("confirm", DOUBT)], YES),
    "the no was not understood": ([("step", MOULD), ("confirm", DOUBT)], NO),
    "a fault heard in the yes": ([("step", RIGHT), ("confirm", MOULD)], NO),
    "the same in other words": ([("step", OTHERWISE)], YES),
}


@pytest.mark.parametrize(("heard", "answer"), CASES.values(), ids=CASES.keys())
def test_what_was_not_said_is_denied(heard: list[tuple[str, Fact]], answer: str) -> None:
    said: list[str] = []
    ear = Hears([*(fact for _, fact in heard), DOUBT])
    diver = Diver(load_scene(CHECK), Mute(), ear, said.append)  # type: ignore[arg-type]
    for kind in (*(kind for kind, _ in heard), "confirm"):
        diver.hear(Expects(kind, "mask", window_s=8.0), EXPECTED)
    assert said[-1] == answer


def test_a_turn_of_the_file_waits_until_it_was_heard_as_said() -> None:
    scene, said = load_scene(CHECK), list[str]()
    turn = next(turn for turn in scene.shape.turn if turn.at not in ("replacement", "confirm"))
    wrong = Heard(Match(("something", "else"), "fault:other", Care.WEIGHTY, is_unsure=True))
    diver = Diver(scene, Mute(), Hears([wrong, DOUBT, DOUBT]), said.append)  # type: ignore[arg-type]
    for kind in ("step", "confirm", "step"):
        diver.hear(Expects(kind, turn.at, window_s=8.0), EXPECTED)
    assert said == [turn.say, NO, turn.say]


def test_a_number_that_was_denied_is_said_alone() -> None:
    """The turn for the replacement stands until its number was heard; the next replacement has another."""
    scene = load_scene(CHECK)
    turns = [turn.say for turn in scene.shape.turn if turn.at == "replacement"]
    asked = EXPECTED.at(Expects("number"))
    five, nine = (Heard(replace(match, is_unsure=True)) for words in ("swapped number five", turns[0])
                  if (match := asked.match(tuple(words.split()))))  # fmt: skip
    said: list[str] = []
    diver = Diver(scene, Mute(), Hears([five, DOUBT, nine, DOUBT, DOUBT]), said.append)  # type: ignore[arg-type]
    for kind in ("replacement", "confirm", "number", "confirm", "replacement"):
        diver.hear(Expects(kind, item="jacket", window_s=8.0), EXPECTED)
    assert said == [turns[0], NO, turns[0], YES, turns[1]]


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("one ninety bar", "gauge reads one nine zero", True),
        ("one ninety bar", "one nineteen bar", False),
        ("one ninety bar", "pressure too low", False),
    ],
)
def test_numbers_are_the_same_by_value(one: str, other: str, expected: bool) -> None:
    said, heard = (EXPECTED.for_step("pressure").match(tuple(words.split())) for words in (one, other))
    assert said is not None
    assert is_same(said, heard) == expected
