"""The commands and the conversation's own answers, from grammars/en/commands.toml.

Commands are understood at any time; answers only where they are asked for. Phrases stay in
notation here; listening joins them with a step's own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from assistant.errors import GrammarError
from assistant.language.files import Place, Strict, grammar_file, line_of, read_bytes, read_shape
from assistant.language.phrases import words_of
from assistant.language.rules import join_rules, parse_once, refuse_unknown_words

COMMAND_IDS = (
    "repeat", "explain", "go_back", "correct", "wait", "carry_on", "absent", "note", "where", "stop", "leave_open",
    "save",
)  # fmt: skip
ANSWER_IDS = ("swapped", "number", "unmarked", "bare_number", "no_spare", "yes", "no")


@dataclass(frozen=True, slots=True)
class Command:
    """One command or answer: id, phrases in notation, and what it does in one short sentence.

    is_aside: it concerns others than this diver; its words still count as talk in what is no command.
    """

    id: str
    phrases: tuple[str, ...]
    help: str
    is_aside: bool = False


@dataclass(frozen=True, slots=True)
class Commands:
    """All of them, by purpose, in the order of the file; `rules` are those that their phrases use."""

    commands: tuple[Command, ...]
    answers: tuple[Command, ...]
    rules: dict[str, str]

    def answer(self, answer_id: str) -> Command:
        """The answer of that id; KeyError when there is none such."""
        return {answer.id: answer for answer in self.answers}[answer_id]

    def knows(self, answer_id: str) -> bool:
        """Whether there is that answer."""
        return any(answer.id == answer_id for answer in self.answers)


class _Entry(Strict):
    id: str
    phrases: list[str]
    help: str


class _File(Strict):
    rules: dict[str, str]
    command: list[_Entry]
    answer: list[_Entry]


@cache
def shipped_commands(language: str = "en") -> Commands:
    """The commands that kitcall ships."""
    return load_commands(grammar_file("commands.toml", language))


def load_commands(path: Place, knows: Callable[[str], bool] = lambda word: True) -> Commands:
    """A commands file as a value.

    knows: whether the recogniser's model has a word. Raises GrammarError, with the place and a mend, for a
    wrong shape, a missing, unknown or double id, a phrase that cannot be read, and words the model lacks.
    """
    shape, text = read_shape(path, _File), read_bytes(path).decode("utf-8")
    check_ids("command", [entry.id for entry in shape.command], COMMAND_IDS, path)
    check_ids("answer", [entry.id for entry in shape.answer], ANSWER_IDS, path)
    rules, words = join_rules(shape.rules, path, text), set[str]()
    for entry in (*shape.command, *shape.answer):
        for phrase in entry.phrases:
            where = f"{path}:{line_of(text, phrase)}"
            words |= words_of(parse_once(phrase, where), rules, where)
    refuse_unknown_words(words, knows, path, text)
    return Commands(_entries(shape.command), _entries(shape.answer), dict(shape.rules))


def _entries(entries: list[_Entry]) -> tuple[Command, ...]:
    return tuple(Command(entry.id, tuple(entry.phrases), entry.help) for entry in entries)


def check_ids(table: str, found: list[str], wanted: tuple[str, ...], path: Place) -> None:
    """Each wanted id once and no other; GrammarError with the place and what to do."""
    for entry_id in wanted:
        if found.count(entry_id) != 1:
            problem = "is missing" if entry_id not in found else "is there twice"
            raise GrammarError(f'{table} "{entry_id}" {problem}', "Have it exactly once.", f"{path}: {table}")
    for entry_id in found:
        if entry_id not in wanted:
            mend = f"Use one of: {', '.join(wanted)}."
            raise GrammarError(f'{table} "{entry_id}" is not known', mend, f"{path}: {table}")
