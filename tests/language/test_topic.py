"""What a recogniser without a list wrote down: could it be meant for the answers in force at all?"""

from __future__ import annotations

import pytest

from assistant.language.commands import shipped_commands
from assistant.language.files import grammar_file
from assistant.language.fillers import everyday, fillers
from assistant.language.group import with_group
from assistant.language.listening import for_group, for_step
from assistant.language.sequence import load
from assistant.language.topic import Topic

BREATHS = Topic(["breathing", "dry", "and", "needle", "okay", "needle", "drops"], everyday())
PRESSURE = Topic(["gauge", "reads", "nine", "hundred", "bar", "repeat", "that", "what", "does", "mean"], everyday())
WRITTEN = {
    "the answer": (BREATHS, "breathing dry and needle okay", True),
    "spelled another way": (BREATHS, "breathing dried needles okay", True),
    "most of it": (BREATHS, "the needle drops on me", True),
    "half of it": (BREATHS, "needle drawn", False),
    "one word among many": (BREATHS, "and the needle is still there for you", False),
    "a short answer of everyday words": (PRESSURE, "repeat that", True),
    "the same words in talk": (PRESSURE, "is that what it is", False),
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


def test_small_words_of_a_shipped_step_are_no_topic() -> None:
    """ "The", "is" and "to" stand in some answer of every step, and in any talk."""
    check = load(grammar_file("checks/rental.toml"), lambda word: True)
    band = for_step(check, check.step("band"), shipped_commands(), fillers=fillers())
    assert not band.is_about(("that", "rival", "is", "mine"))
    assert not band.is_about(("is", "the", "bar", "open", "yet"))
    assert band.is_about(("the", "band", "is", "slack"))


@pytest.mark.parametrize(
    "said", ["he works and never stops", "the band is over there", "come over here", "wait for us", "save it for later"]
)
def test_what_is_told_of_people_and_places_is_not_for_us(said: str) -> None:
    check = load(grammar_file("checks/rental.toml"), lambda word: True)
    stops = for_step(check, check.step("inflator"), shipped_commands(), fillers=fillers())
    assert not stops.is_about(tuple(said.split()))


@pytest.mark.parametrize("said", ["it leaks", "no air", "not okay", "they are cracked", "band is slack", "carry on"])
def test_a_short_report_and_any_listed_answer_are_for_us(said: str) -> None:
    check = load(grammar_file("checks/rental.toml"), lambda word: True)
    band = for_step(check, check.step("band"), shipped_commands(), fillers=fillers())
    assert band.is_about(tuple(said.split()))


@pytest.mark.parametrize("said", ["please repeat", "stop check", "stop the check please", "please wait a moment"])
def test_a_command_said_a_little_otherwise_is_for_us(said: str) -> None:
    check = load(grammar_file("checks/rental.toml"), lambda word: True)
    band = for_step(check, check.step("band"), shipped_commands(), fillers=fillers())
    assert band.is_about(tuple(said.split()))


def test_where_commands_alone_are_asked_for_one_of_their_words_will_do() -> None:
    check = load(grammar_file("checks/rental.toml"), lambda word: True)
    group = for_group(check, with_group(shipped_commands(), check), fillers=fillers())
    assert group.is_about(("diver", "five", "please"))
