"""Which listenings a check keeps: the latest, and never one more than it may."""

from __future__ import annotations

import weakref

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
        ("pressure", "it isn't two hundred", "doubt:negated"),
        ("pressure", "we don't have one ninety bar", "doubt:negated"),
        ("pressure", "less than twenty four hundred p s i", "doubt:negated"),
        ("pressure", "gauge reads nearly two hundred", "doubt:negated"),
        ("contents_label", "label says thirty two", "reading"),
        ("contents_label", "label isn't thirty two", "doubt:negated"),
        ("contents_label", "label says maybe thirty two percent", "doubt:negated"),
        ("test_stamp", "stamp doesn't say march twenty twenty four", "doubt:negated"),
    ],
)
def test_a_number_that_is_denied_is_known_to_be_no_answer(step: str, said: str, meaning: str) -> None:
    expected = Expected(CHECK, shipped_commands(), lambda word: True, lambda words: {})
    match = expected.for_step(step).match(tuple(said.split()))
    assert match is not None
    assert match.meaning == meaning
