"""Phrase notation: the ABNF form of the W3C's Speech Recognition Grammar Specification 1.0, a stated subset.

Read: words, "quoted words", alternatives |, groups ( ), options [ ], $rule, repeats <n> <n-m> <n->,
tags { } (dropped: they change no words), comments, and whole documents that open with `#ABNF 1.0`.
Refused by line and column, with what to write instead: weights, repeat probabilities, $NULL, $VOID,
$GARBAGE, rules of other files, language attachments, * and +. Case is dropped: the recogniser has none.
Precedence is the Recommendation's (section 2.8): a repeat binds to what stands before it, then
sequence, then alternatives. Nothing here reads a file or knows what a phrase means.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.errors import PhraseError
from assistant.language.marks import Mark, mark_up, refuse
from assistant.language.nodes import (
    Choice,
    Node,
    Repeat,
    Rule,
    Rules,
    Sequence,
    Token,
    Words,
    check_rules,
    expand,
    longest,
    look_up,
    rule_names,
    words_of,
)

__all__ = [
    "Choice", "Document", "Node", "Repeat", "Rule", "Rules", "Sequence", "Token", "Words",
    "check_rules", "expand", "longest", "look_up", "parse", "parse_document", "rule_names", "spoken_words", "words_of",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Document:
    """A whole ABNF document: its root rule's name ("" when undeclared), its rules, those that are public."""

    root: str
    rules: dict[str, Node]
    public: frozenset[str]


def parse(text: str, where: str = "") -> Node:
    """One rule expansion as a Node.

    text: phrase notation; where: `file:line` put before a refusal. Raises PhraseError with line,
    column and what to write instead. Source: SRGS 1.0, W3C Recommendation of 16 March 2004,
    sections 2.1 to 2.8; checked in tests/language/test_phrases.py with its own examples.
    """
    reader = _Reader(mark_up(text, where), where)
    node = reader.alternatives()
    reader.expect_end()
    return node


def parse_document(text: str, where: str = "") -> Document:
    """A whole ABNF document (SRGS 1.0, section 4): header, declarations, rules.

    Raises PhraseError as `parse` does, for a missing header, a mode that is not voice, an unknown
    declaration, a rule defined twice, and for an unknown or circular rule.
    """
    reader = _Reader(mark_up(text, where), where)
    reader.header()
    root, rules, public = "", {}, set()
    while (mark := reader.peek()).kind != "end":
        if mark.kind == "rule" or mark.text in ("public", "private"):
            name, node = reader.definition()
            if name in rules:
                raise refuse(f"${name} is defined twice", "Keep one of the two.", mark, where)
            rules[name] = node
            if mark.text == "public":
                public.add(name)
        else:
            root = reader.declaration() or root
    check_rules(rules, where)
    if root and root not in rules:
        raise PhraseError(f"the root rule ${root} is not defined", f"Add a rule ${root}.", where)
    return Document(root, rules, frozenset(public))


def spoken_words(text: str) -> Words:
    """A plain sentence as the recogniser would spell it: lower case, without punctuation ("dry, still" too)."""
    cleaned = "".join(letter if letter.isalnum() or letter in "'-" else " " for letter in text.lower())
    return tuple(cleaned.split())


class _Reader:
    """Recursive descent over marks, one method for each level of precedence."""

    def __init__(self, marks: list[Mark], where: str) -> None:
        self._marks, self._at, self._where = marks, 0, where

    def peek(self) -> Mark:
        return self._marks[self._at]

    def take(self) -> Mark:
        mark = self.peek()
        self._at += mark.kind != "end"
        return mark

    def expect(self, text: str, mend: str) -> None:
        mark = self.take()
        if mark.text != text or mark.kind == "quoted":
            raise refuse(f"expected {text!r} but found {mark.shown}", mend, mark, self._where)

    def expect_end(self) -> None:
        mark = self.peek()
        if mark.kind != "end":
            raise refuse(f"unexpected {mark.shown}", "Take it out, or close what it should close.", mark, self._where)

    def alternatives(self) -> Node:
        options = [self.sequence()]
        while self.peek().kind == "|":
            self.take()
            options.append(self.sequence())
        return options[0] if len(options) == 1 else Choice(tuple(options))

    def sequence(self) -> Node:
        start, seen = self.peek(), 0
        parts: list[Node] = []
        while self.peek().kind not in ("|", ")", "]", ";", "=", "end"):
            seen += 1
            part = self.repeated()
            parts.extend(part.parts if isinstance(part, Sequence) else (part,))
        if not seen:
            mend = "Write a word there, or make it optional with [ ]."
            raise refuse(f"nothing stands before {start.shown}", mend, start, self._where)
        return parts[0] if len(parts) == 1 else Sequence(tuple(parts))

    def repeated(self) -> Node:
        part = self.single()
        if self.peek().kind != "repeat":
            return part
        mark = self.take()
        low, _, high = mark.text.partition("-")
        top = int(high) if high else None if "-" in mark.text else int(low)
        if top is not None and (top < int(low) or top == 0):
            mend = "Write the smaller number first, and at least 1 last."
            raise refuse(f"<{mark.text}> never happens", mend, mark, self._where)
        return Repeat(part, int(low), top)

    def single(self) -> Node:
        mark = self.take()
        match mark.kind:
            case "word":
                return Token(mark.text)
            case "quoted":
                return _sequence_of(mark.text.split())
            case "rule":
                return Rule(mark.text)
            case "tag":
                return Sequence(())
            case "(" if self.peek().kind == ")":
                self.take()
                return Sequence(())
            case "(":
                node = self.alternatives()
                self.expect(")", "Close the group with ).")
                return node
            case "[":
                node = self.alternatives()
                self.expect("]", "Close the option with ].")
                return Repeat(node, 0, 1)
        raise refuse(f"unexpected {mark.shown}", "Put a word, a group or a $rule there.", mark, self._where)

    def header(self) -> None:
        mark = self.take()
        if mark.kind != "header":
            raise refuse("no ABNF header", "Begin the document with `#ABNF 1.0 UTF-8;`.", mark, self._where)

    def definition(self) -> tuple[str, Node]:
        scope = self.take()
        name = scope if scope.kind == "rule" else self.take()
        if name.kind != "rule":
            raise refuse(f"expected a $rule but found {name.shown}", "Write `public $name = ...;`.", name, self._where)
        self.expect("=", "Write `$name = ...;`.")
        node = self.alternatives()
        self.expect(";", "End the rule with a semicolon.")
        return name.text, node

    def declaration(self) -> str:
        keyword = self.take()
        if keyword.text not in ("language", "mode", "root", "meta", "http-equiv", "tag-format", "base"):
            mend = "Use language, mode, root, meta, or a rule `$name = ...;`."
            raise refuse(f"{keyword.shown} is no declaration that kitcall reads", mend, keyword, self._where)
        value = self.take()
        if keyword.text == "mode" and value.text != "voice":
            raise refuse(f"mode {value.text} is not heard", "Write `mode voice;`.", value, self._where)
        while self.peek().kind not in (";", "end"):
            self.take()
        self.expect(";", "End the declaration with a semicolon.")
        return value.text if keyword.text == "root" else ""


def _sequence_of(words: list[str]) -> Node:
    return Token(words[0]) if len(words) == 1 else Sequence(tuple(Token(word) for word in words))
