"""The group's commands: each is heard with what it names, none is another's, none lends a pass its words."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.check.turns import Expects
from assistant.errors import GrammarError
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.files import grammar_file
from assistant.language.group import FIELDS, GROUP_IDS, group_replies, load_group, with_group, with_return
from assistant.language.listening import for_group
from assistant.language.phrases import spoken_words
from assistant.language.sequence import load

FILE = Path(str(grammar_file("group.toml")))
CHECK = load(Path(str(grammar_file("checks/rental.toml"))), lambda word: True)
COMMANDS = with_group(shipped_commands(), CHECK, ("Anna", "Joe"))
GROUP = for_group(CHECK, COMMANDS)
EXPECTED = Expected(CHECK, COMMANDS, lambda word: True)
ALONE = Expected(CHECK, shipped_commands(), lambda word: True)


@pytest.mark.parametrize(
    ("said", "meaning", "slots"),
    [
        ("next diver", "next", {}),
        ("diver five", "diver", {"any_diver": "five"}),
        ("diver fifteen", "diver", {"any_diver": "fifteen"}),
        ("go to diver anna", "diver", {"any_diver": "anna"}),
        ("who is left", "left", {}),
        ("who is on hold and why", "holds", {}),
        ("swap with diver three", "swap", {"any_diver": "three"}),
        ("swap the regulator set with diver joe", "swap", {"any_diver": "joe", "any_item": "regulator set"}),
        ("take diver four off the trip", "off", {"any_diver": "four"}),
        ("put diver four back on the trip", "back", {"any_diver": "four"}),
        ("is the boat ready", "boat", {}),
        ("leave the group", "end", {}),
    ],
)
def test_heard_between_divers_and_at_every_question(said: str, meaning: str, slots: dict[str, str]) -> None:
    moments = [Expects(kind, step.id) for step in CHECK.steps for kind in ("step", "confirm")]
    moments += [Expects(kind) for kind in ("replacement", "number", "confirm", "waiting", "nothing", "group")]
    for moment in moments:
        match = EXPECTED.at(moment).match(spoken_words(said))
        assert match is not None, moment
        assert match.meaning == f"command:{meaning}"
        assert {name: match.slots[name] for name in ("any_diver", "any_item") if name in match.slots} == slots
    if meaning != "end":
        assert [m for m in moments[:-1] if ALONE.at(m).match(spoken_words(said))] == []


def test_the_return_is_heard_between_divers_and_before_a_check_alone() -> None:
    said = spoken_words("we are back from the dive")
    moments = [Expects(kind, step.id) for step in CHECK.steps for kind in ("step", "confirm")]
    moments += [Expects(kind) for kind in ("start", "replacement", "number", "confirm", "waiting", "nothing", "group")]
    heard = [moment.kind for moment in moments if EXPECTED.at(moment).match(said)]
    assert heard == ["start", "group"]
    on_the_box = Expected(CHECK, with_return(shipped_commands()), lambda word: True)
    assert [moment.kind for moment in moments if on_the_box.at(moment).match(said)] == ["start", "group"]
    assert [moment.kind for moment in moments if ALONE.at(moment).match(said)] == []


NOT_SAID = [
    "back", "back from", "the dive", "back on the dive", "diver", "diver mia", "diver hundred", "boat ready", "ready",
    "next", "swap with three",
]  # fmt: skip


@pytest.mark.parametrize("said", NOT_SAID)
def test_not_heard(said: str) -> None:
    assert GROUP.match(spoken_words(said)) is None


def test_words_of_the_group_stay_talk_at_a_step() -> None:
    """A pass of a step gains nothing from the group's words: "is" in a better reading doubts it as before."""
    for step in CHECK.steps:
        alone, group = ALONE.for_step(step.id), EXPECTED.for_step(step.id)
        talk = ("who", "is", "next", "diver", "boat", "take", "back", "trip", "on", "off", "left")
        assert [word for word in talk if alone.is_talk((word,))] == [w for w in talk if group.is_talk((w,))]


@pytest.mark.parametrize("key", FIELDS)
def test_no_reply_ends_in_an_answer(key: str) -> None:
    names = {"diver": "four", "other": "six", "one": "two", "divers": "two, five", "holder": "six", "count": "4",
             "trip": "North reef", "standing": "ready", "left": "2", "reasons": "Mask, strap torn", "holds": "holds",
             "why": "why", "minutes": "three two", "depth": "one eight", "item": "regulator set one two"}  # fmt: skip
    words = spoken_words(group_replies().say(key, **{n: names[n] for n in FIELDS[key].split()}))
    endings = [words[at:] for at in range(len(words))]
    kinds = ("start", "group", "confirm", "replacement", "waiting", "nothing")  # a number's question is repeated
    for kind in kinds:
        assert [ending for ending in endings if EXPECTED.at(Expects(kind)).match(ending)] == []


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('id = "boat"', 'id = "ship"', ': command: command "boat" is missing'),
        ('id = "boat"', 'id = "left"', ': command: command "left" is there twice'),
        ('id = "returned"', 'id = "gone"', ': answer: answer "returned" is missing'),
        ('nobody = "', 'nobody = "{diver} ', ": reply.nobody: asks for {diver}"),
        ("\nnobody = ", "\nsomebody = ", ": reply.nobody: is missing"),
    ],
    ids=["missing", "twice", "answer", "field", "reply missing"],
)
def test_file_refusals(tmp_path: Path, old: str, new: str, message: str) -> None:
    path = tmp_path / "group.toml"
    path.write_text(FILE.read_text("utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(GrammarError) as caught:
        load_group(path)
    assert str(caught.value).startswith(f"{path}{message}")
    assert caught.value.mend


def test_ids() -> None:
    assert tuple(command.id for command in load_group(FILE)[0]) == GROUP_IDS


def test_items_the_model_lacks_cannot_be_named() -> None:
    commands = with_group(shipped_commands(), CHECK, (), lambda word: word != "fins")
    assert "fins" not in commands.rules["any_item"].split(" | ")
