"""The table is total, what it names exists, and the picture is drawn from it."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.check import meaning
from assistant.check.moves import MOVES
from assistant.check.session import LISTENS, machine
from assistant.check.table import LINES, TABLE, Sign, State, draw, look_up
from assistant.errors import UnknownTurn
from assistant.events import Care, Heard, Match


def test_total_over_state_and_sign() -> None:
    assert set(TABLE) == {(state, sign) for state in State for sign in Sign}


def test_every_follow_is_a_move_and_every_move_is_used() -> None:
    assert {row.follow for row in TABLE.values()} == set(MOVES)


def test_every_line_is_laid_out() -> None:
    assert sum(len(states) * len(signs) for states, signs, _, _ in LINES) == len(TABLE)


def test_every_state_listens() -> None:
    assert set(LISTENS) == set(State)


def test_unknown_pair_raises() -> None:
    with pytest.raises(UnknownTurn, match="no row for the sign 'sung' in the state"):
        look_up(State.ASKING, "sung")  # type: ignore[arg-type]


@pytest.mark.parametrize("words", ["fault", "command:dance", "sung", "fault:", ""])
def test_unknown_meaning_raises(words: str) -> None:
    with pytest.raises(UnknownTurn, match="nothing is known of the meaning"):
        meaning.read(Heard(Match(("x",), words, Care.PLAIN)), "voice")


def test_machine_has_the_rows_of_the_table() -> None:
    arrows = {
        (transition.source, name, transition.dest)
        for name, event in machine().events.items()
        for transitions in event.transitions.values()
        for transition in transitions
    }
    assert arrows == {(row.state.name, row.sign.value, to.name) for row in TABLE.values() for to in row.to}


def test_picture_has_every_arrow_once() -> None:
    lines = draw().splitlines()
    arrows = {
        (str(row.state), str(to))
        for row in TABLE.values()
        for to in row.to
        if to is not row.state and (row.follow != "doubt" or row.sign is Sign.DOUBTED)
    }
    drawn = [tuple(line.split(" : ")[0].strip().split(" --> ")) for line in lines[1:]]
    assert sorted(drawn) == sorted([*arrows, ("[*]", "idle"), ("closed", "[*]")])


def test_picture_in_the_documentation_is_the_one_drawn() -> None:
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"```mermaid\n{draw()}```" in text

