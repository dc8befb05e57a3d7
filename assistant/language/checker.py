"""Judges a sequence file: everything that would make its answers unsafe to hear, named by key, with what to do.

Notation, references, order and instructions are refused by the reader (sequence.load) and reported here like
the rest. Rules of sound are measured in phonemes; their limits are argued in closeness. The checker decides
nothing for the diver: it only refuses files, and never changes one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from assistant.check.steps import Check
from assistant.errors import GrammarError
from assistant.events import Care
from assistant.language.asking import Asking, Ear, phrase_keys
from assistant.language.commands import Commands, shipped_commands
from assistant.language.group import with_group
from assistant.language.listening import Line, command_lines
from assistant.language.phrases import Node, words_of
from assistant.language.report import Pair, Remark, Report
from assistant.language.rules import number_nodes, parse_once
from assistant.language.sequence import load
from assistant.language.sound import missing_sounds
from assistant.language.spelling import offers

Knows = Callable[[str], bool]


def judge(source: Path | Check, knows: Knows, commands: Commands | None = None) -> Report:
    """The judgement of one sequence.

    source: a sequence file, or a Check already loaded; knows: whether the recogniser's model has a word (lower
    case); commands: those in force, the shipped ones with the group's when None. Returns a Report; it raises
    nothing for a bad file, because the guide wants all of what is wrong at once. One mutant for each refusal is in
    tests/language/test_checker.py.
    """
    if isinstance(source, Check):
        return _judge_check(source, source.id, knows, commands)
    try:
        check = load(source, lambda word: True)
    except GrammarError as refused:
        where = refused.where or str(source)
        message = str(refused).removeprefix(f"{where}: ")
        return Report(str(source), (Remark(where, "file", message, refused.mend),), (), ())
    return _judge_check(check, str(source), knows, commands)


def _judge_check(check: Check, source: str, knows: Knows, commands: Commands | None) -> Report:
    commands = commands or with_group(shipped_commands(check.language), check)
    rules = {**number_nodes(check.language), **_nodes(commands.rules), **_nodes(check.rules)}
    between = Ear(_answer_lines(check, commands), rules)
    askings = [Asking(source, check, at, step, commands, rules, between, knows) for at, step in enumerate(check.steps)]
    refusals = list(_refuse_words(check, source, knows))
    warnings: list[Remark] = []
    pairs: list[Pair] = []
    for asking in askings:
        refusals += asking.refuse()
        pairs += asking.pairs
        warnings += [asking.remark_pair(pair) for pair in asking.pairs if pair.standing == "warned"]
    for key, text in (("check.caution", check.caution), ("check.closing", check.closing)):
        refusals += between.refuse_ending(f"{source}: {key}", text)
    pairs.sort(key=lambda pair: (pair.distance, pair.standing == "apart"))
    return Report(source, tuple(refusals), tuple(warnings), tuple(pairs))


def _refuse_words(check: Check, source: str, knows: Knows) -> Iterator[Remark]:
    """Words that the model or the dictionary of sounds lacks, each once, at the first key that uses it."""
    rules = _nodes(check.rules)
    named: set[str] = set()
    for key, text in _all_phrases(check):
        for word in sorted(words_of(parse_once(text), {**number_nodes(check.language), **rules})):
            where = f"{source}: {key}"
            if word not in named and not knows(word):
                yield Remark(where, "word", f'the recogniser does not know "{word}".', _offer(word, knows))
            elif word not in named and missing_sounds([word]):
                mend = "Use another word: how near it is to other phrases cannot be measured."
                yield Remark(where, "sound", f'the dictionary of sounds lacks "{word}".', mend)
            named.add(word)


def _offer(word: str, knows: Knows) -> str:
    found = offers(word, knows)
    if not found:
        return "It can never hear it; use another word."
    listed = ", ".join(f'"{each}"' for each in found)
    return f"Write it otherwise: {listed}; or use another word."


def _all_phrases(check: Check) -> Iterator[tuple[str, str]]:
    yield from ((f"rules.{name}", text) for name, text in check.rules.items())
    yield from ((f"check.start[{nth}]", text) for nth, text in enumerate(check.start))
    for at, step in enumerate(check.steps):
        yield from phrase_keys(at, step).items()


def _nodes(rules: dict[str, str]) -> dict[str, Node]:
    return {name: parse_once(text) for name, text in rules.items()}


def _answer_lines(check: Check, commands: Commands) -> list[Line]:
    """The conversation's own answers, the start phrase and the commands: in force between the steps."""
    answers = [Line(text, each.id, Care.PLAIN) for each in commands.answers for text in each.phrases]
    start = [Line(text, "start", Care.PLAIN) for text in check.start]
    return [*start, *answers, *command_lines(commands.commands)]
