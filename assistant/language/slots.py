"""Slots: which words each rule of a phrase took, once it is known that the words are that phrase.

Alternatives are tried in the order written and repeats as long as they can be, so the same
words always fill the same slots.
"""

from __future__ import annotations

from collections.abc import Iterator

from assistant.language.nodes import Choice, Node, Repeat, Rule, Rules, Sequence, Token, Words

Taken = tuple[tuple[str, Words], ...]


def fill(node: Node, words: Words, rules: Rules) -> dict[str, str]:
    """For each rule that the node uses, inside others too, the words it took; several uses are joined by a space.

    Empty when the words, as a whole, are not what the node allows.
    """
    for end, taken in _readings(node, words, 0, rules):
        if end == len(words):
            return _joined(taken)
    return {}


def _readings(node: Node, words: Words, at: int, rules: Rules) -> Iterator[tuple[int, Taken]]:
    """Every way in which the node reads words from `at`: where it ends, and what its rules took."""
    match node:
        case Token(word):
            if at < len(words) and words[at] == word:
                yield at + 1, ()
        case Rule(name):
            for end, taken in _readings(rules[name], words, at, rules):
                yield end, ((name, words[at:end]), *taken)
        case Choice(options):
            for option in options:
                yield from _readings(option, words, at, rules)
        case Sequence(parts):
            yield from _read_parts(parts, words, at, rules)
        case Repeat(part, low, high):
            yield from _read_repeat(part, low, high, words, at, rules)


def _read_parts(parts: tuple[Node, ...], words: Words, at: int, rules: Rules) -> Iterator[tuple[int, Taken]]:
    if not parts:
        yield at, ()
        return
    for middle, taken in _readings(parts[0], words, at, rules):
        for end, more in _read_parts(parts[1:], words, middle, rules):
            yield end, taken + more


def _read_repeat(
    part: Node, low: int, high: int | None, words: Words, at: int, rules: Rules
) -> Iterator[tuple[int, Taken]]:
    if high is None or high > 0:
        for middle, taken in _readings(part, words, at, rules):
            if middle > at or low > 0:
                left = None if high is None else high - 1
                for end, more in _read_repeat(part, max(low - 1, 0), left, words, middle, rules):
                    yield end, taken + more
    if low == 0:
        yield at, ()


def _joined(taken: Taken) -> dict[str, str]:
    slots: dict[str, list[str]] = {}
    for name, words in taken:
        if words:
            slots.setdefault(name, []).extend(words)
    return {name: " ".join(words) for name, words in slots.items()}
