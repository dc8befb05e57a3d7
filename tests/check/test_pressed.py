"""A button gives commands and never an answer."""

from __future__ import annotations

import pytest

from assistant.check.meaning import WORDS, read
from assistant.check.table import Sign
from assistant.check.turns import Pressed
from assistant.errors import UnknownTurn

MAY = {"repeat": Sign.REPEAT, "carry_on": Sign.CARRY_ON, "wait": Sign.WAIT}


@pytest.mark.parametrize("command", [*WORDS, "fault:sticks", ""])
def test_what_a_button_may_mean(command: str) -> None:
    if command in MAY:
        said = read(Pressed(command), "voice")
        assert (said.sign, said.by, said.text) == (MAY[command], "key", "")
    else:
        with pytest.raises(UnknownTurn):
            read(Pressed(command), "voice")
