"""Whether a first name can be said and heard: the model has it, and it sounds like nothing else in use.

A name is only ever heard after "diver". What is refused can be a number instead; the caller offers one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from assistant.check.steps import Check
from assistant.language.closeness import TOO_CLOSE
from assistant.language.decoys import pass_strings
from assistant.language.numbers import read_back
from assistant.language.rules import numbers_file
from assistant.language.sound import distance, distances, missing_sounds

NEAREST = 2  # phonemes between two names of one trip; "Tom" and "Tim" are one apart


def refuse_name(name: str, others: Iterable[str], check: Check, knows: Callable[[str], bool]) -> str:
    """Why this name cannot be used on a trip with these others, names or numbers; an empty string when it can.

    name: lower case, one word. knows: whether the recogniser's model has a word.
    """
    if not name:
        return "no diver is named"
    if not name.isalpha():
        return f'"{name}" is no first name of one word'
    if not knows(name):
        return f'the recogniser does not know the name "{name}"'
    if missing_sounds([name]):
        return f'the dictionary of sounds lacks the name "{name}"'
    if name in numbers_file(check.language).words:
        return f'"{name}" is a number word'
    for other in others:
        said = read_back(int(other), "number") if other.isdecimal() else other
        if distance((name,), tuple(said.split())) < NEAREST:
            return f'"{name}" sounds like diver {other}'
    passes = [words for step in check.steps for words in pass_strings(check, step)]
    if distances([("diver", name)], passes, TOO_CLOSE).min(initial=TOO_CLOSE) < TOO_CLOSE:
        return f'"diver {name}" sounds like an answer of the check'
    return ""
