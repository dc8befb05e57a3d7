"""Every word that kitcall ships to be heard is in the recogniser's model."""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest
import vosk

from assistant.language.commands import load_commands
from assistant.language.files import grammar_file
from assistant.language.group import load_group
from assistant.language.sequence import load

CHECKS = sorted(Path(str(files("grammars") / "en/checks")).glob("*.toml"))


@pytest.fixture(scope="module")
def knows(model_folder: Path) -> Callable[[str], bool]:
    vosk.SetLogLevel(-1)
    model = vosk.Model(str(model_folder))
    return lambda word: bool(model.vosk_model_find_word(word) >= 0)


def test_commands_and_answers(knows: Callable[[str], bool]) -> None:
    assert load_commands(grammar_file("commands.toml"), knows).commands


@pytest.mark.parametrize("path", CHECKS, ids=[path.stem for path in CHECKS])
def test_sequences_and_number_words(path: Path, knows: Callable[[str], bool]) -> None:
    assert load(path, knows).steps


def test_group_commands(knows: Callable[[str], bool]) -> None:
    words = {word for each in load_group(grammar_file("group.toml"))[0] for text in each.phrases
             for word in re.findall(r"(?<![$\w])[a-z]+", text)}  # fmt: skip
    assert sorted(word for word in words if not knows(word)) == []


def test_a_word_it_lacks_is_lacking(knows: Callable[[str], bool]) -> None:
    assert not knows("ferrule")  # or the tests above would prove nothing
