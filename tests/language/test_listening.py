"""What may be heard at each moment: meanings, care, slots, and that no word string means two things."""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest

from assistant.check.steps import Check, Step
from assistant.errors import GrammarError
from assistant.events import Care, Listening, Match
from assistant.language.commands import shipped_commands
from assistant.language.expected import value_of
from assistant.language.listening import (
    Line,
    Listed,
    for_confirm,
    for_note,
    for_number,
    for_replacement,
    for_start,
    for_step,
    for_waiting,
)
from assistant.language.phrases import expand, parse, spoken_words
from assistant.language.rules import with_numbers
from assistant.language.sequence import load

COMMANDS = shipped_commands()
CHECK: Check = load(Path(str(files("grammars") / "en/checks/rental.toml")), lambda word: True)


def heard(listening: Listening, said: str) -> tuple[str, Care, dict[str, str]] | None:
    match = listening.match(spoken_words(said))
    return (match.meaning, match.care, dict(match.slots)) if match else None


STEP_ROWS = [
    ("inflator", "adds gas and shuts off", ("pass", Care.FIRM)),
    ("inflator", "inflator sticks", ("fault:sticks", Care.WEIGHTY)),
    ("inflator", "keeps inflating", ("fault:sticks", Care.WEIGHTY)),
    ("inflator", "adds gas", None),
    ("inflator", "adds gas and shuts off not", None),
    ("inflator", "not fitted", ("command:absent", Care.WEIGHTY)),
    ("inflator", "stop the check", ("command:stop", Care.PLAIN)),
    ("inflator", "where are we", ("command:where", Care.PLAIN)),
    ("inflator", "correct that", ("command:correct", Care.PLAIN)),
    ("inflator", "swapped", None),
    ("inflator", "yes that's right", None),
    ("pressure", "one nine five bar", ("reading", Care.NUMBER)),
    ("pressure", "two hundred", ("reading", Care.NUMBER)),
    ("pressure", "pressure too low", ("fault:low_pressure", Care.WEIGHTY)),
    ("pressure", "bar", None),
    ("pressure", "one nine", None),
]


@pytest.mark.parametrize(("step", "said", "expected"), STEP_ROWS, ids=[f"{r[0]}: {r[1]}" for r in STEP_ROWS])
def test_step(step: str, said: str, expected: tuple[str, Care] | None) -> None:
    found = heard(for_step(CHECK, CHECK.step(step), COMMANDS), said)
    assert (found[:2] if found else None) == expected


def test_reading_reports_its_number() -> None:
    match = for_step(CHECK, CHECK.step("pressure"), COMMANDS).match(("one", "ninety", "five", "bar"))
    assert match is not None
    assert match.slots["pressure"] == "one ninety five"


OTHER_ROWS = [
    ("start", "start the check", ("start", Care.PLAIN, {})),
    ("start", "stop the check", None),
    ("replacement", "swapped", ("swapped", Care.PLAIN, {})),
    ("replacement", "swapped unmarked", ("unmarked", Care.PLAIN, {"unmarked": "unmarked"})),
    ("replacement", "no spare", ("no_spare", Care.PLAIN, {"spare": "spare"})),
    ("replacement", "nothing left", ("no_spare", Care.PLAIN, {})),
    ("replacement", "fourteen", None),
    ("replacement", "repeat", ("command:repeat", Care.PLAIN, {})),
    ("number", "unmarked", ("unmarked", Care.PLAIN, {"unmarked": "unmarked"})),
    ("waiting", "carry on", ("command:carry_on", Care.PLAIN, {})),
    ("waiting", "stop the check", ("command:stop", Care.PLAIN, {})),
    ("waiting", "repeat", None),
    ("confirm", "yes confirmed", ("yes", Care.FINAL, {})),
    ("confirm", "yes that's right", ("yes", Care.FINAL, {})),
    ("confirm", "no that's wrong", ("no", Care.PLAIN, {})),
    ("confirm", "yes", None),
    ("confirm", "that's right", None),
    ("confirm", "that's wrong", None),
    ("confirm", "wrong number", ("no", Care.PLAIN, {})),
]
MOMENTS: dict[str, Listening] = {
    "start": for_start(CHECK, COMMANDS),
    "replacement": for_replacement(CHECK, COMMANDS),
    "number": for_number(CHECK, COMMANDS),
    "waiting": for_waiting(CHECK, COMMANDS),
    "confirm": for_confirm(CHECK, COMMANDS),
}


@pytest.mark.parametrize(("moment", "said", "expected"), OTHER_ROWS, ids=[f"{r[0]}: {r[1]}" for r in OTHER_ROWS])
def test_other_moments(moment: str, said: str, expected: tuple[str, Care, dict[str, str]] | None) -> None:
    assert heard(MOMENTS[moment], said) == expected


@pytest.mark.parametrize(("moment", "said"), [("replacement", "swapped number one four"), ("number", "one four")])
def test_numbers_of_replacements(moment: str, said: str) -> None:
    found = heard(MOMENTS[moment], said)
    assert found is not None
    assert (found[0], found[1], found[2]["number"]) == ("number", Care.NUMBER, "one four")


def test_only_where_a_number_is_asked_for_a_figure_may_answer_alone() -> None:
    lone = {moment: listening.lone for moment, listening in MOMENTS.items()}
    figures = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
    assert set(figures) < set(lone["number"])
    for word in lone["number"]:
        match = MOMENTS["number"].match((word,))
        assert match is not None
        assert (match.meaning, match.care, match.slots["number"]) == ("number", Care.NUMBER, word)
    assert {value_of("number", word)[0] for word in lone["number"]} == set(range(10))
    assert not any(lone[moment] for moment in MOMENTS if moment != "number")


def test_note_listens_for_nothing() -> None:
    note: Listening = for_note()
    assert (note.phrases, note.match(("stop",)), note.goes_on(())) == ((), None, False)
    assert not note.nears_firm(("stop",))


@pytest.mark.parametrize("step", CHECK.steps, ids=[step.id for step in CHECK.steps])
def test_every_phrase_of_every_step_means_what_it_was_written_for(step: Step) -> None:
    listening = for_step(CHECK, step, COMMANDS)
    rules = with_numbers(CHECK.rules)
    written = [(phrase, "reading" if "$air" in phrase else "pass") for phrase in step.passes]
    written += [(phrase, f"fault:{fault.code}") for fault in step.faults for phrase in fault.phrases]
    for phrase, meaning in written:
        for words in expand(parse(phrase), rules):
            match = listening.match(words)
            assert match is not None
            assert match.meaning == meaning


def test_decoys_are_doubts_and_never_answers() -> None:
    listening = for_step(CHECK, CHECK.step("inflator"), COMMANDS, [("adds gas and never shuts off", "negated")])
    assert heard(listening, "adds gas and never shuts off") == ("doubt:negated", Care.NEVER, {})
    assert heard(listening, "adds gas and shuts off") == ("pass", Care.FIRM, {})


CLASHES = [
    ("decoy is an answer", [("[it] never stops", "negated")], '"never stops" would mean both fault:sticks'),
    ("decoy is a pass", [("adds gas [and] shuts off", "near")], '"adds gas and shuts off" would mean both pass'),
    ("decoy is a command", [("stop the check", "near")], '"stop the check" would mean both command:stop'),
    ("two decoys", [("gas stops", "near"), ("gas stops", "negated")], '"gas stops" would mean both doubt:near'),
    ("decoy of silence", [("[gas] [stops]", "near")], 'silence would satisfy "[gas] [stops]"'),
]


@pytest.mark.parametrize(("decoys", "message"), [row[1:] for row in CLASHES], ids=[row[0] for row in CLASHES])
def test_double_meanings_are_refused(decoys: list[tuple[str, str]], message: str) -> None:
    with pytest.raises(GrammarError) as caught:
        for_step(CHECK, CHECK.step("inflator"), COMMANDS, decoys)
    assert message in str(caught.value)
    assert str(caught.value).startswith('step "inflator": ')
    assert caught.value.mend


def test_the_same_meaning_twice_is_no_clash() -> None:
    lines = [Line("it leaks", "fault:leaks", Care.PLAIN), Line("[it] leaks", "fault:leaks", Care.PLAIN)]
    assert Listed(lines, {}).match(("it", "leaks")) == Match(("it", "leaks"), "fault:leaks", Care.PLAIN)


@pytest.mark.parametrize("moment", ["start", "replacement", "waiting", "confirm"])
def test_phrases_are_whole_answers_and_always_the_same(moment: str) -> None:
    listening = MOMENTS[moment]
    assert [text for text in listening.phrases if listening.match(tuple(text.split())) is None] == []
    assert len(set(listening.phrases)) == len(listening.phrases) > 0
    assert all(text == text.lower() for text in listening.phrases)


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("", True),
        ("one", True),
        ("one ninety", True),  # five
        ("two hundred forty five", True),  # p s i
        ("one ninety five bar", True),  # temperature thirty
        ("one ninety five bar temperature thirty degrees", False),
        ("two hundred and", True),
        ("explain", False),  # "explain that" is the same
        ("explain that", False),
        ("blue", False),
    ],
)
def test_goes_on_to_something_else(words: str, expected: bool) -> None:
    assert for_step(CHECK, CHECK.step("pressure"), COMMANDS).goes_on(tuple(words.split())) is expected


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("", False),
        ("inflator works", False),
        ("inflator works and shuts", True),
        ("inflator works and shuts off", True),
        ("inflator works and shuts off okay", False),
        ("inflator sticks", False),
        ("inflator", False),  # "inflator sticks" is one word more, and a fault
    ],
)
def test_nears_a_firm_phrase(words: str, expected: bool) -> None:
    assert for_step(CHECK, CHECK.step("inflator"), COMMANDS).nears_firm(tuple(words.split())) is expected


def test_a_swap_may_go_on_to_its_number() -> None:
    listening = MOMENTS["replacement"]
    assert [listening.goes_on(tuple(text.split())) for text in ("swapped", "swapped number nine")] == [True, True]


def test_a_word_of_a_pass_turns_nothing_around() -> None:
    """ "Off" tells of bad kit, but not where a pass ends in it; decoys beside the pass change nothing in that."""
    inflator = for_step(CHECK, CHECK.step("inflator"), COMMANDS, [("adds gas and never shuts off", "negated")])
    gauge = for_step(CHECK, CHECK.step("gauge_zero"), COMMANDS)
    words = ("off", "never", "stuck", "gas")
    assert [word for word in words if inflator.turns((word,))] == ["never", "stuck"]
    assert [word for word in words if gauge.turns((word,))] == ["off", "never", "stuck"]


@pytest.mark.parametrize("step", CHECK.steps, ids=[step.id for step in CHECK.steps])
def test_a_fault_may_be_said_where_an_answer_of_its_step_is_read_back(step: Step) -> None:
    back = for_confirm(CHECK, COMMANDS, step=step)
    for fault in step.faults:
        words = next(iter(expand(parse(fault.phrases[0]), with_numbers(CHECK.rules, CHECK.language))))
        match = back.match(words)
        assert match is not None
        assert (match.meaning, match.care) == (f"fault:{fault.code}", Care.WEIGHTY)
    assert heard(back, "yes confirmed") == ("yes", Care.FINAL, {})
    assert not [line for line in back.lines if line.meaning in ("pass", "reading")]


def test_a_fault_that_is_also_a_no_ends_no_check() -> None:
    """The checker of sequences refuses such a file; a check that is begun with one goes on, without faults there."""
    step = CHECK.step("hoses")
    clashing = replace(step, faults=(replace(step.faults[0], phrases=("wrong number",)), *step.faults[1:]))
    back = for_confirm(CHECK, COMMANDS, step=clashing)
    assert heard(back, "wrong number") == ("no", Care.PLAIN, {})
    assert heard(back, "yes confirmed") == ("yes", Care.FINAL, {})
