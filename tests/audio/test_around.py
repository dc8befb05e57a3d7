"""How much voice lies outside the words of a reading: a hedge before it, a denial behind it, talk further away."""

from __future__ import annotations

import pytest

from assistant.events import Word
from audio.around import Around, voice_around

WORDS = (Word("mask", 0.40, 0.70, 1.0), Word("okay", 0.70, 1.00, 1.0))
QUIET, VOICE, FAR = (False, -60.0), (True, -20.0), (True, -32.0)
FRAMES_A_TENTH = 5

# name, (frame, tenths of a second)…, before, after
ROWS = [
    ("nothing but the words", [(QUIET, 4), (VOICE, 6), (QUIET, 4)], 0.0, 0.0),
    ("a hedge before", [(VOICE, 10), (QUIET, 4)], 0.34, 0.0),
    ("a denial behind", [(QUIET, 4), (VOICE, 10)], 0.0, 0.34),
    ("a pause, then a denial", [(QUIET, 4), (VOICE, 6), (QUIET, 1), (VOICE, 3)], 0.0, 0.3),
    ("talk further away", [(FAR, 4), (VOICE, 6), (FAR, 8)], 0.0, 0.0),
    ("sound without a voice", [((False, -20.0), 4), (VOICE, 6), ((False, -20.0), 8)], 0.0, 0.0),
    ("word times a little short", [(QUIET, 3), (VOICE, 1), (VOICE, 6), (QUIET, 4)], 0.04, 0.0),
]


@pytest.mark.parametrize(("parts", "before_s", "after_s"), [row[1:] for row in ROWS], ids=[row[0] for row in ROWS])
def test_voice_outside_the_words_is_counted(
    parts: list[tuple[tuple[bool, float], int]], before_s: float, after_s: float
) -> None:
    frames = [frame for frame, tenths in parts for _ in range(tenths * FRAMES_A_TENTH)]
    found = voice_around(WORDS, [is_voice for is_voice, _ in frames], [level_db for _, level_db in frames])
    assert found == Around(pytest.approx(before_s), pytest.approx(after_s))


def test_without_words_all_voice_is_before_them() -> None:
    assert voice_around((), [True] * 50, [-20.0] * 50) == Around(pytest.approx(1.0), 0.0)
