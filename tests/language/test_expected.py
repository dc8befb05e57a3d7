"""Which listenings a check keeps: the latest, and never one more than it may; and what a denied number means there."""

from __future__ import annotations

import weakref
from collections.abc import Callable
from dataclasses import replace

import pytest

from assistant.check.turns import Expects
from assistant.events import Listening
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.files import grammar_file
from assistant.language.sequence import load

CHECK = load(grammar_file("checks/rental.toml"), lambda word: True)


@pytest.mark.parametrize("kept", [1, 2, 3])
def test_the_latest_are_kept_and_the_oldest_goes_before_another_is_built(
    kept: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    expected = Expected(CHECK, shipped_commands(), lambda word: False, lambda words: {}, kept=kept)
    built: list[tuple[str, weakref.ref[Listening]]] = []
    most = 0

    def build(kind: str, step_id: str) -> Listening:
        nonlocal most
        most = max(most, sum(each() is not None for _, each in built) + 1)
        listening = build_one(kind, step_id)
        built.append((kind, weakref.ref(listening)))
        return listening

    build_one = expected._build
    monkeypatch.setattr(expected, "_build", build)
    for kind in ("confirm", "waiting", "confirm", "confirm", "start", "confirm", "waiting"):
        expected.at(Expects(kind))
    again = {1: ["confirm", "start", "confirm", "waiting"], 2: ["start", "waiting"], 3: ["start"]}[kept]
    assert [kind for kind, _ in built] == ["confirm", "waiting", *again]
    assert most == kept


@pytest.mark.parametrize(
    ("step", "said", "meaning"),
    [
        ("pressure", "two hundred bar", "reading"),
        ("pressure", "we have one nine zero", "reading"),
        ("pressure", "it isn't two hundred", "doubt:denied"),
        ("pressure", "we don't have one ninety bar", "doubt:denied"),
        ("pressure", "less than twenty four hundred p s i", "doubt:denied"),
        ("pressure", "gauge reads nearly two hundred", "doubt:denied"),
        ("contents_label", "label says thirty two", "reading"),
        ("contents_label", "label isn't thirty two", "doubt:denied"),
        ("contents_label", "label says maybe thirty two percent", "doubt:denied"),
        ("test_stamp", "stamp doesn't say march twenty twenty four", "doubt:denied"),
    ],
)
def test_a_number_that_is_denied_is_known_to_be_no_answer(step: str, said: str, meaning: str) -> None:
    expected = Expected(CHECK, shipped_commands(), lambda word: True, lambda words: {})
    match = expected.for_step(step).match(tuple(said.split()))
    assert match is not None
    assert match.meaning == meaning


READINGS = {
    "a fault that is a denied number": ("gauge reads $pressure", "gauge reads less than fifty", "fault:low"),
    "a reading that holds such a word": ("gauge reads [almost] $pressure", "gauge reads almost fifty", "reading"),
    "a number named in a tag": ("gauge {$pressure} reads $pressure", "maybe gauge reads fifty", "doubt:denied"),
    "a number amid brackets": ("gauge reads (bar | $pressure)", "maybe gauge reads fifty", "doubt:denied"),
    "two ways": ("gauge reads $pressure | all $pressure", "gauge reads fifty", "reading"),
}


@pytest.mark.parametrize(("phrase", "said", "meaning"), READINGS.values(), ids=READINGS.keys())
def test_what_a_centre_lists_is_an_answer_though_it_sounds_like_a_denial(phrase: str, said: str, meaning: str) -> None:
    match = altered(phrase, lambda word: True).match(tuple(said.split()))
    assert match is not None
    assert match.meaning == meaning


def test_denials_that_the_model_does_not_know_are_left_out() -> None:
    words = {"gauge", "reads", "bar"}
    match = altered("gauge reads $pressure", words.__contains__).match(("gauge", "reads", "fifty"))
    assert match is not None
    assert match.meaning == "reading"


def altered(phrase: str, knows: Callable[[str], bool]) -> Listening:
    """The shipped pressure step with that reading alone, and a fault of a low number."""
    step = CHECK.step("pressure")
    assert step.reading is not None
    low = replace(step.faults[0], code="low", phrases=("gauge reads less than fifty",))
    step = replace(step, reading=replace(step.reading, phrases=(phrase,)), faults=(low,))
    check = replace(CHECK, steps=tuple(step if each.id == step.id else each for each in CHECK.steps))
    return Expected(check, shipped_commands(), knows, lambda words: {}).for_step("pressure")
