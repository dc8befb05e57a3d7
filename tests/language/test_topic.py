"""What a recogniser without a list wrote down: could it be meant for the answers in force at all?"""

from __future__ import annotations

import pytest

from assistant.language.fillers import fillers
from assistant.language.topic import Topic

BREATHS = Topic(["breathing", "dry", "and", "needle", "okay", "needle", "drops"], fillers())
PRESSURE = Topic(["gauge", "reads", "nine", "hundred", "bar", "repeat", "that", "what", "does", "mean"], fillers())
WRITTEN = {
    "the answer": (BREATHS, "breathing dry and needle okay", True),
    "spelled another way": (BREATHS, "breathing dried needles okay", True),
    "half of it": (BREATHS, "needle drawn", True),
    "talk": (BREATHS, "can somebody help me with this zip", False),
    "talk with one of its words": (BREATHS, "the weather stays dry", False),
    "everyday words of an answer": (PRESSURE, "what does that do", False),
    "a number in figures": (PRESSURE, "195 bars", True),
    "a number where none is asked for": (BREATHS, "195", False),
    "nothing": (BREATHS, "", False),
}


@pytest.mark.parametrize(("topic", "written", "expected"), WRITTEN.values(), ids=WRITTEN.keys())
def test_what_is_meant_for_us(topic: Topic, written: str, expected: bool) -> None:
    assert topic.holds(tuple(written.split())) == expected
