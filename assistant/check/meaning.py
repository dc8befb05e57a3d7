"""What a fact amounts to: one of the table's signs, with what it carries. Pure.

The direction of every doubt is the same: what is not plainly an answer to the question
that stands is a doubt. A meaning nobody knows raises UnknownTurn instead of being dropped.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from assistant.check.table import Sign
from assistant.check.turns import Continued, Fact, NoteKept, Pressed, Start, Stop
from assistant.errors import UnknownTurn
from assistant.events import Broken, Care, Doubted, Heard, Match, Silent, Why

WORDS = {
    "pass": Sign.PASSED,
    "absent": Sign.ABSENT,
    "not_fitted": Sign.ABSENT,
    "reading": Sign.READ,
    "start": Sign.STARTED,
    "swapped": Sign.SWAPPED,
    "unmarked": Sign.NUMBERED,
    "number": Sign.NUMBERED,
    "no_spare": Sign.NO_SPARE,
    "yes": Sign.AGREED,
    "no": Sign.DENIED,
    "repeat": Sign.REPEAT,
    "explain": Sign.EXPLAIN,
    "back": Sign.GO_BACK,
    "go_back": Sign.GO_BACK,
    "correct": Sign.CORRECT,
    "wait": Sign.WAIT,
    "carry_on": Sign.CARRY_ON,
    "note": Sign.NOTE,
    "where": Sign.WHERE,
    "leave_open": Sign.LEAVE_OPEN,
    "stop": Sign.STOP,
}
# "save" is no sign: it is done at any time and changes no check (app.py)
BY_BUTTON = frozenset({"repeat", "carry_on", "wait"})


@dataclass(frozen=True, slots=True)
class Said:
    """A fact as the table sees it. `code` is a fault's, `slots` hold number words, `text` what was heard,
    `why` the reason of a doubt, `meaning` the words' own meaning, `by` voice, typed or key."""

    sign: Sign
    code: str = ""
    slots: Mapping[str, str] = field(default_factory=dict)
    text: str = ""
    why: str = ""
    meaning: str = ""
    by: str = "voice"
    is_unsure: bool = False  # heard by half: to be read back


def read(fact: Fact, by: str) -> Said:
    """What the fact amounts to; `by` says how words came in (voice or typed)."""
    match fact:
        case Heard():
            return read_match(fact.match, by)
        case Doubted():
            return Said(Sign.DOUBTED, text=fact.text, why=fact.why.value, by=by)
        case Silent():
            return Said(Sign.SILENT, by=by)
        case Broken():
            return Said(Sign.BROKEN, code=fact.part, text=fact.problem, by=by)
        case Start():
            return Said(Sign.STARTED, by=fact.by)
        case Continued():
            return Said(Sign.CONTINUED, by=by)
        case NoteKept():
            return Said(Sign.NOTE_KEPT, code=fact.clip, by=by)
        case Stop():
            return Said(Sign.STOP, by=fact.by)
        case Pressed():
            return Said(press_sign(fact.command), by=fact.by)
    raise UnknownTurn(f"the session knows no fact of the type {type(fact).__name__}", "Report this.")


def press_sign(command: str) -> Sign:
    """The sign of a command that a button may give; no button ever answers a step."""
    if command not in BY_BUTTON:
        raise UnknownTurn(f"no button means {command!r}", "Report this.")
    return WORDS[command]


def read_match(match: Match, by: str) -> Said:
    """What a whole phrase amounts to; a phrase listed as no answer is a doubt, whatever else it says."""
    kind, _, code = match.meaning.partition(":")
    if kind == "doubt" or match.care is Care.NEVER:
        return Said(Sign.DOUBTED, text=match.text, why=code or Why.KNOWN_WRONG.value, meaning=match.meaning, by=by)
    if kind == "fault" and code:
        told = (match.slots, match.text)
        return Said(Sign.FAULTED, code, *told, meaning=match.meaning, by=by, is_unsure=match.is_unsure)
    sign = WORDS.get(code if kind == "command" else match.meaning)
    if sign is None:
        raise UnknownTurn(f"nothing is known of the meaning {match.meaning!r}", "Correct the phrase file.")
    return Said(sign, "", match.slots, match.text, meaning=code or kind, by=by, is_unsure=match.is_unsure)
