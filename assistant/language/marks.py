"""The marks of phrase notation: where words, rules, repeats and brackets begin and end, by line and column.

Only the lexical level of SRGS 1.0's ABNF form; what kitcall leaves out of it is refused here,
because here the place is known. Knows errors and nothing else.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from sys import intern

from assistant.errors import PhraseError

_KINDS = re.compile(
    r"""
    (?P<space>\s+)
  | (?P<comment>//[^\n]*|/\*.*?\*/)
  | (?P<header>\#ABNF[ ]1\.0[^;\n]*;)
  | (?P<tag>\{!\{.*?\}!\}|\{[^{}]*\})
  | (?P<quoted>"[^"]*")
  | (?P<text>'[^']*')
  | (?P<uri>\$<[^>]*>|\$\$\S*)
  | (?P<rule>\$[A-Za-z_][A-Za-z0-9_]*(?![\w.:-]))
  | (?P<chance><\s*\d+(?:-\d*)?\s*/[^>]*>)
  | (?P<format><[A-Za-z][^>]*>)
  | (?P<repeat><\d+(?:-\d*)?>)
  | (?P<weight>/[0-9.\s]*/)
  | (?P<language>![A-Za-z][\w-]*)
  | (?P<sign>[|()\[\];=])
  | (?P<word>[^\s;=|*+<>()\[\]{}/$!"#,]+)
    """,
    re.VERBOSE | re.DOTALL,
)

_REFUSED = {
    "uri": ("a rule of another file", "Copy that rule into this file's [rules] and write $name."),
    "chance": ("a repeat probability", "Write the repeat alone, as <0-1>."),
    "weight": ("a weight", "Take it out: every alternative counts the same."),
    "language": ("a language attachment", "Take it out: one file has one language."),
}
_SPECIAL = {"NULL": "Use [ ] for what may be left out.", "VOID": "Take the alternative out.",
            "GARBAGE": "List the words: kitcall takes only whole listed phrases."}
_SLIPS = {"*": "Write <0-> for any number of times.", "+": "Write <1-> for once or more.",
          ",": "Take it out: a phrase has no punctuation.", "#": "Take it out.",
          '"': "Close the quotation mark.", "{": "Close the tag with }.", "$": "Write $name, of letters, digits and _.",
          "<": "Write a repeat as <2>, <2-4> or <1->."}


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark: its kind, its text without the decoration, and where it stands (both from 1)."""

    kind: str
    text: str
    line: int
    column: int

    @property
    def shown(self) -> str:
        return "the end" if self.kind == "end" else repr(f"${self.text}" if self.kind == "rule" else self.text)


def refuse(message: str, mend: str, mark: Mark, where: str) -> PhraseError:
    """The refusal of a mark, with its place in words."""
    return PhraseError(f"line {mark.line}, column {mark.column}: {message}", mend, where)


def mark_up(text: str, where: str = "") -> list[Mark]:
    """The marks of a text, an "end" last. Raises PhraseError for what the subset leaves out."""
    marks, at = [], 0
    while at < len(text):
        found = _KINDS.match(text, at)
        if found is None:
            slip = _place("slip", text[at], text, at)
            raise refuse(f"{text[at]!r} cannot stand here", _SLIPS.get(text[at], "Take it out."), slip, where)
        kind, taken = found.lastgroup or "", found.group()
        if kind not in ("space", "comment"):
            marks.append(_accept(kind, taken, text, at, where))
        at = found.end()
    marks.append(_place("end", "", text, len(text)))
    return marks


def _accept(kind: str, taken: str, text: str, at: int, where: str) -> Mark:
    if kind in _REFUSED:
        what, mend = _REFUSED[kind]
        raise refuse(f"{taken} is {what}, which kitcall does not read", mend, _place(kind, taken, text, at), where)
    if kind == "rule" and taken[1:] in _SPECIAL:
        place = _place(kind, taken, text, at)
        raise refuse(f"{taken} is not read by kitcall", _SPECIAL[taken[1:]], place, where)
    mark = _place(*_bare(kind, taken), text, at)
    if mark.kind == "quoted" and not mark.text:
        raise refuse("nothing between the quotation marks", "Write a word there.", mark, where)
    return mark


def _bare(kind: str, taken: str) -> tuple[str, str]:
    match kind:
        case "sign":
            return taken, taken
        case "word":
            return kind, intern(taken.lower())  # the same few words stand in thousands of phrases
        case "quoted":
            return kind, " ".join(taken[1:-1].lower().split())
        case "rule":
            return kind, taken[1:]
        case "repeat":
            return kind, taken[1:-1]
    return kind, taken


def _place(kind: str, taken: str, text: str, at: int) -> Mark:
    return Mark(kind, taken, text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))
