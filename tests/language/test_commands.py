"""The commands file: every id, two words where a wrong hearing could cost an answer, refusals by name."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from assistant.errors import GrammarError
from assistant.language.commands import COMMAND_IDS, load_commands, shipped_commands
from assistant.language.phrases import expand, parse
from assistant.language.sound import distance

COMMANDS = shipped_commands()


def test_command_ids_in_the_order_of_the_file() -> None:
    assert sorted(command.id for command in COMMANDS.commands) == sorted(COMMAND_IDS)
    assert all(command.help.endswith(".") for command in (*COMMANDS.commands, *COMMANDS.answers))


@pytest.mark.parametrize("command", ["stop", "correct", "absent", "leave_open", "go_back"])
def test_commands_that_could_cost_an_answer_have_two_words(command: str) -> None:
    phrases = next(each.phrases for each in COMMANDS.commands if each.id == command)
    assert [words for phrase in phrases for words in expand(parse(phrase), {}) if len(words) < 2] == []


def test_yes_and_no_sound_far_apart() -> None:
    """Five phonemes by cmudict's pronunciations, see sound.distance."""
    yes, no = (
        [words for phrase in COMMANDS.answer(answer).phrases for words in expand(parse(phrase), {})]
        for answer in ("yes", "no")
    )
    assert [(one, other) for one in yes for other in no if distance(one, other) < 5] == []


COMMAND_FILE = Path(str(files("grammars") / "en/commands.toml"))


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('id = "stop"', 'id = "halt"', ': command: command "stop" is missing'),
        ('id = "stop"', 'id = "wait"', ': command: command "wait" is there twice'),
        ('id = "yes"', 'id = "aye"', ': answer: answer "yes" is missing'),
        ('"stop the check"', '"stop (the check"', ":"),
        ("$unmarked", "$plain", ":"),
    ],
    ids=["missing", "twice", "answer missing", "notation", "rule"],
)
def test_command_file_refusals(tmp_path: Path, old: str, new: str, message: str) -> None:
    path = tmp_path / "commands.toml"
    path.write_text(COMMAND_FILE.read_text("utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(GrammarError) as caught:
        load_commands(path)
    assert str(caught.value).startswith(f"{path}{message}")
    assert caught.value.mend


def test_command_words_the_model_lacks_are_named() -> None:
    with pytest.raises(GrammarError, match='does not know "unmarked"'):
        load_commands(COMMAND_FILE, lambda word: word != "unmarked")
