"""Practice: what each hearing counts as, and the one piece of advice; by the real ear on the real synthesiser too."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from assistant.commands.options import Loaded
from assistant.events import Care, Doubted, Heard, Hearing, Match, Silent, Why
from assistant.practice import Saying, Tally, advise, go_through, sayings
from assistant.rehearsal.diver import frames
from audio.ear import Ear
from audio.frames import Frame

GOOD, OTHER = Saying("mask", "mask and strap okay", "pass"), Saying("mask", "mask okay and strap okay", "pass")


def heard(meaning: str) -> Heard:
    return Heard(Match(("x",), meaning, Care.FIRM))


def tally(saying: Saying, *hearings: Hearing) -> Tally:
    return go_through([saying], len(hearings), lambda _, turn: hearings[turn])[0]


PASS, FAULT = heard("pass"), heard("fault:strap")
# name, what was heard, how the advice begins
ROWS: list[tuple[str, Sequence[Hearing], str]] = [
    ("well", [PASS, PASS, PASS], "heard well"),
    ("another meaning taken once", [PASS, PASS, FAULT], "taken as fault:strap: do not use it"),
    ("another meaning outweighs doubts", [FAULT, Doubted(Why.NEAR), Silent(8.0)], "taken as fault:strap"),
    ("too faint", [PASS, Doubted(Why.TOO_FAINT), Doubted(Why.TOO_FAINT)], "hardly above the deck's noise"),
    ("clipped", [Doubted(Why.TOO_LOUD), PASS, PASS], "too loud"),
    ("nobody", [Silent(8.0), Silent(8.0), Silent(8.0)], "nothing was heard"),
    ("near, and another way is better", [PASS, Doubted(Why.NEAR), Doubted(Why.NEAR)], 'say "mask okay and strap okay"'),
]


@pytest.mark.parametrize(("hearings", "advice"), [row[1:] for row in ROWS], ids=[row[0] for row in ROWS])
def test_advice(hearings: Sequence[Hearing], advice: str) -> None:
    found = tally(GOOD, *hearings)
    assert advise(found, [found, tally(OTHER, PASS, PASS, PASS)]).startswith(advice)


def test_without_a_better_way_say_it_slower() -> None:
    found = tally(GOOD, Doubted(Why.NEAR), PASS, PASS)
    assert advise(found, [found, tally(OTHER, PASS, PASS, Doubted(Why.NEAR))]).startswith("say it slower")


def test_a_fault_is_no_better_way_to_say_a_pass() -> None:
    found, fault = tally(GOOD, Doubted(Why.NEAR)), tally(Saying("mask", "strap torn", "fault:strap"), FAULT)
    assert advise(found, [found, fault]).startswith("say it slower")


def test_every_pass_is_asked_for_and_every_fault_when_wanted(loaded: Loaded) -> None:
    mask = loaded.check.step("mask")
    assert [each.meaning for each in sayings(loaded.check, ["mask"], False)] == ["pass"] * len(mask.passes)
    assert [each.meaning for each in sayings(loaded.check, ["mask"], True)] == [
        *["pass"] * len(mask.passes), *(f"fault:{fault.code}" for fault in mask.faults),
    ]  # fmt: skip
    assert {each.step for each in sayings(loaded.check, [], False)} == {
        step.id for step in loaded.check.steps if step.passes
    }


def test_by_ear(loaded: Loaded, speak: Callable[[str, str, int], Frame]) -> None:
    """What is asked for is said, and once something else: the table tells which."""
    ear, asked = Ear(loaded.recogniser), list(sayings(loaded.check, ["last_listen"], False))

    def hear(saying: Saying, turn: int) -> Hearing:
        words = saying.words if turn == 0 else "how many steps are left"
        return ear.listen(frames(speak(words, "gmw/en-us", 150)), loaded.expected.for_step("last_listen"))

    found = go_through(asked, 2, hear)
    assert [each.wrong for each in found] == [{"command:where": 1}] * len(asked)
    assert any(each.right == 1 for each in found)
