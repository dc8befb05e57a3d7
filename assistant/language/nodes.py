"""Phrases as values: words, sequences, choices, repeats, rules, and what can be said of them.

Made by phrases.parse, walked by matching; nothing here reads notation or a file. Rules are
looked up by name in a mapping that the caller holds, and never contain themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from assistant.errors import PhraseError


@dataclass(frozen=True, slots=True)
class Token:
    """One word as the recogniser spells it."""

    word: str


@dataclass(frozen=True, slots=True)
class Sequence:
    """Parts one after the other; no parts at all is silence, as `( )` is."""

    parts: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """One of the options, tried in the order written."""

    options: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Repeat:
    """`part` from `low` to `high` times; `high` None means without end. `[x]` is Repeat(x, 0, 1)."""

    part: Node
    low: int
    high: int | None


@dataclass(frozen=True, slots=True)
class Rule:
    """`$name`: whatever the rule of that name says."""

    name: str


Node = Token | Sequence | Choice | Repeat | Rule
Rules = Mapping[str, Node]
Words = tuple[str, ...]


def check_rules(rules: Rules, where: str = "") -> None:
    """Refuses (PhraseError) rules that use an unknown rule, or themselves, directly or by way of others."""
    closed: set[str] = set()
    for name in rules:
        _close_rule(name, rules, (), closed, where)


def _close_rule(name: str, rules: Rules, path: tuple[str, ...], closed: set[str], where: str) -> None:
    if name in closed:
        return
    if name in path:
        ring = " -> ".join(f"${step}" for step in (*path[path.index(name) :], name))
        raise PhraseError(f"a rule uses itself: {ring}", "Write a repeat such as <1-> instead.", where)
    for used in rule_names(look_up(name, rules, where)):
        _close_rule(used, rules, (*path, name), closed, where)
    closed.add(name)


def look_up(name: str, rules: Rules, where: str = "") -> Node:
    """The rule of that name; PhraseError names the ones there are."""
    if name not in rules:
        known = ", ".join(f"${each}" for each in sorted(rules)) or "none"
        raise PhraseError(f"no rule ${name}", f"Define it, or use one of: {known}.", where)
    return rules[name]


def rule_names(node: Node) -> Iterator[str]:
    """The names of the rules that a node uses itself, in order, with repetitions."""
    match node:
        case Rule(name):
            yield name
        case Sequence(parts) | Choice(parts):
            for part in parts:
                yield from rule_names(part)
        case Repeat(part, _, _):
            yield from rule_names(part)


def words_of(node: Node, rules: Rules, where: str = "") -> set[str]:
    """Every word that can occur, rules included. Raises PhraseError at `where` for an unknown rule."""
    match node:
        case Token(word):
            return {word}
        case Rule(name):
            return words_of(look_up(name, rules, where), rules, where)
        case Sequence(parts) | Choice(parts):
            return set[str]().union(*(words_of(part, rules, where) for part in parts))
        case Repeat(part, _, _):
            return words_of(part, rules, where)


def longest(node: Node, rules: Rules, limit: int = 10_000) -> str:
    """The words of the longest string that the node allows, the first of several. Raises as expand does."""
    words: Words = max(expand(node, rules, limit), key=len)
    return " ".join(words)


def expand(node: Node, rules: Rules, limit: int = 10_000) -> list[Words]:
    """Every word string the node allows, without doubles, in the order written (an option: without it first).

    limit: the most strings to give. Raises PhraseError when there are more, or without end.
    """
    match node:
        case Token(word):
            return [(word,)]
        case Rule(name):
            return expand(look_up(name, rules), rules, limit)
        case Choice(options):
            return _bounded((words for option in options for words in expand(option, rules, limit)), limit)
        case Sequence(parts):
            return _join([expand(part, rules, limit) for part in parts], limit)
        case Repeat(part, low, high):
            if high is None:
                raise PhraseError(f"<{low}-> has no end, so it cannot be written out", f"Say how often, as <{low}-9>.")
            once = expand(part, rules, limit)
            return _bounded((words for n in range(low, high + 1) for words in _join([once] * n, limit)), limit)


def _join(lists: list[list[Words]], limit: int) -> list[Words]:
    joined: list[Words] = [()]
    for tails in lists:
        joined = _bounded((head + tail for head in joined for tail in tails), limit)
    return joined


def _bounded(strings: Iterable[Words], limit: int) -> list[Words]:
    found: dict[Words, None] = {}
    for words in strings:
        found[words] = None
        if len(found) > limit:
            raise PhraseError(f"this stands for more than {limit} word strings", "Split it, or use fewer options.")
    return list(found)
