"""However a check begins, its record holds the diver, the numbers of the kit, and how it began."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from assistant.check.turns import Expects, Fact, Start
from assistant.ears import KeyboardEars
from assistant.language.expected import Expected

STOP = "stop the check"
KIT = {"cylinder": "31", "regulator": "12", "jacket": "7"}  # what the fixture `hold` gives the check


class KeyPressed(KeyboardEars):
    """Somebody presses the key beside the microphone, then types: MicrophoneEars gives this fact for it."""

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        return Start(by="key") if expects.kind == "start" else super().hear(expects, expected)


def typed(*lines: str) -> KeyboardEars:
    left = iter(lines)
    return KeyboardEars(lambda prompt: next(left))


@pytest.mark.parametrize(
    ("ears", "at_once", "by"),
    [
        (typed("start the check", STOP), False, "typed"),
        (typed("", STOP), False, "typed"),
        (KeyPressed(lambda prompt: STOP), False, "key"),
        (typed(STOP), True, "typed"),
    ],
    ids=["start phrase", "empty line", "key", "at once"],
)
def test_record_holds_diver_and_numbers(hold: Callable[..., Any], ears: KeyboardEars, at_once: bool, by: str) -> None:
    held = hold(ears, at_once)
    (began,) = held.of("check_started")
    worn = {item: number for item, number in began.facts["items"].items() if number is not None}
    assert (began.facts["diver"], worn, began.facts["by"]) == ("4", KIT, by)
