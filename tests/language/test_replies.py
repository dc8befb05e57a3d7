"""Replies: every one renders, none ends in words that are an answer, and a file with a gap is refused by name."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from assistant.check.steps import Check, Step
from assistant.errors import GrammarError
from assistant.language.commands import shipped_commands
from assistant.language.listening import Listed, for_confirm, for_number, for_start, for_step, for_waiting
from assistant.language.phrases import spoken_words
from assistant.language.replies import FIELDS, load_replies, shipped_replies
from assistant.language.sequence import load

SHIPPED = Path(str(files("grammars") / "en/replies.toml"))
CHECK = load(Path(str(files("grammars") / "en/checks/rental.toml")), lambda word: True)


COMMANDS = shipped_commands()
ALWAYS: list[Listed] = [make(CHECK, COMMANDS) for make in (for_start, for_number, for_waiting, for_confirm)]
LISTENINGS = {step.id: for_step(CHECK, step, COMMANDS) for step in CHECK.steps}


def facts(check: Check, step: Step) -> dict[str, str]:
    """Real names and examples; sentences of the sequence file stand as one plain word (the checker judges those)."""
    return {
        "name": step.name, "good": step.examples[0], "bad": step.examples[1], "item": check.item(step.item).name,
        "another": check.item(step.item).another or f"another {check.item(step.item).name}",
        "items": "cylinder four", "number": "one four", "count": "25", "open": "3", "reading": "one nine five bar",
        "limit": "one eight zero bar", "verdict": "Low.",
        "problem": "Lower than the lowest.", "mend": "Say them again.", "plan": "two one percent",
        "tolerance": "one percent", "deepest": "three three metres", "depth": "one eight metres",
        "last": "june two zero two six", "dip": "two bar", "back": "two bar", "fall": "two bar",
        "minutes": "one two minutes", "wait": "eight minutes", "left": "five minutes", "gross": "two zero litres",
        "hidden": "four litres", "drop": "two bar", "rise": "two bar",
        "low": "zero", "high": "three three zero bar", "other": "two nine zero zero p s i", "mix": "air",
        "first": "january one nine five zero", "now": "june two zero two six", "least": "three zero bar",
        "prompt": "Prompt.", "fault": "fault", "say": "Instruction.", "reasons": "reasons",
    }  # fmt: skip


@pytest.mark.parametrize("key", FIELDS)
def test_every_reply_renders_and_none_is_its_own_answer(key: str) -> None:
    for step in CHECK.steps:
        said = shipped_replies().say(key, **facts(CHECK, step))
        assert "{" not in said
        assert said[0].isupper()
        words = spoken_words(said)
        endings = [words[at:] for at in range(len(words))]
        for listening in (*ALWAYS, LISTENINGS[step.id]):
            assert [ending for ending in endings if listening.match(ending)] == []


def test_is_a_mapping_of_templates() -> None:
    replies = shipped_replies()
    assert set(replies) == set(FIELDS)
    assert len(replies) == len(FIELDS)
    assert replies["passed"].format(name="Hoses") == "Hoses passed."


def test_the_three_ways_of_not_understanding_differ() -> None:
    replies = shipped_replies()
    assert len({replies[f"not_understood_{n}"] for n in (1, 2, 3)}) == 3


@pytest.mark.parametrize(
    ("old", "new", "message", "mend"),
    [
        ('passed = "{name} passed."\n', "", "reply.passed: is missing", "Write it with {name}."),
        ('"{name} passed."', '"Passed."', "reply.passed: does not say {name}", "Write it with {name}."),
        ('"{name} passed."', '"{name} passed {who}."', "reply.passed: asks for {who}", "Write it with {name}."),
        ('"{name} passed."', '"{name passed."', "reply.passed: cannot be filled in", "Close every brace."),
        ('"{name} passed."', '"{name:>9} passed."', "reply.passed: formats a field", "bare name"),
        ('"{name} passed."', '" "', "reply.passed: is empty", "Write what is said."),
        ('passed = "', 'pased = "x"\npassed = "', "reply.pased: is no reply that kitcall gives", "spelling"),
        ('"{name} passed."', "7", "reply.passed: ", "Put that right."),
        ('early = "Please speak after me."', "", "reply.early: is missing", "Write it, without fields."),
    ],
    ids=["reply missing", "field missing", "field unknown", "brace open", "format", "empty", "reply unknown",
         "no text", "reply without fields missing"],
)  # fmt: skip
def test_refusals(tmp_path: Path, old: str, new: str, message: str, mend: str) -> None:
    text = SHIPPED.read_text("utf-8")
    assert text.count(old) == 1
    path = tmp_path / "replies.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(GrammarError) as caught:
        load_replies(path)
    assert str(caught.value).startswith(f"{path}: {message}")
    assert mend in caught.value.mend
