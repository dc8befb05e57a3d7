"""Rules by name: the number rules that kitcall brings, and those of a file.

Turns texts into Nodes once, refuses circular and unknown rules, and keeps a file from
redefining what every file may rely on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache

from assistant.errors import GrammarError
from assistant.language.files import Place, Strict, grammar_file, line_of, read_shape
from assistant.language.phrases import Node, check_rules, parse

parse_once = cache(parse)


class Kind(Strict):
    """One kind of number: its unit, the values it may have (inclusive), its figures after the point."""

    unit: str
    low: float
    high: float
    decimals: int = 0


class NumbersFile(Strict):
    """The shape of numbers.toml: a rule and a kind of the same name, and what their words are worth.

    `value` has the kinds whose words, whatever they are, stand for one number ("air").
    """

    alike: list[list[str]]
    rules: dict[str, str]
    words: dict[str, int]
    month: dict[str, int]
    value: dict[str, float]
    unit: dict[str, str]
    alone: dict[str, str]
    unit_one: dict[str, str]
    kind: dict[str, Kind]


@cache
def numbers_file(language: str = "en") -> NumbersFile:
    """numbers.toml as shipped. Raises GrammarError when a kind has no rule."""
    path = grammar_file("numbers.toml", language)
    shape = read_shape(path, NumbersFile)
    for name in shape.kind:
        if name not in shape.rules:
            raise GrammarError("has no rule", f'Add rules.{name} = "...".', f"{path}: kind.{name}")
    return shape


def number_rules(language: str = "en") -> dict[str, str]:
    """The texts of the number rules that any file may use."""
    return dict(numbers_file(language).rules)


@cache
def number_nodes(language: str = "en") -> Mapping[str, Node]:
    """The same rules, read."""
    return {name: parse_once(text) for name, text in number_rules(language).items()}


def with_numbers(texts: Mapping[str, str], language: str = "en") -> dict[str, Node]:
    """The number rules and these, read; `texts` were judged when their file was loaded."""
    return {**number_nodes(language), **{name: parse_once(text) for name, text in texts.items()}}


def join_rules(own: Mapping[str, str], path: Place, text: str, language: str = "en") -> dict[str, Node]:
    """A file's own rules and the number rules, read.

    own: name and phrase notation; text: the file, to find lines in. Raises GrammarError (PhraseError for
    notation) with `file:line` for a rule that cannot be read, is circular, or takes a number rule's name.
    """
    nodes = dict(number_nodes(language))
    for name, phrase in own.items():
        if name in nodes:
            where = f"{path}: rules.{name}"
            raise GrammarError("is the name of a number rule", "Choose another name.", where)
        nodes[name] = parse_once(phrase, f"{path}:{line_of(text, phrase, '[rules]')}")
    check_rules(nodes, f"{path}: rules")
    return nodes


def refuse_unknown_words(words: set[str], knows: Callable[[str], bool], path: Place, text: str) -> None:
    """Raises GrammarError that names every word the recogniser's model lacks, at the line of the first."""
    unknown = sorted(word for word in words if not knows(word))
    if unknown:
        shown = ", ".join(f'"{word}"' for word in unknown)
        raise GrammarError(
            f"the recogniser does not know {shown}",
            "It can never hear these. Use other words, or spell around them: free flow, over pressure, o ring, b c d.",
            f"{path}:{line_of(text, unknown[0])}",
        )

