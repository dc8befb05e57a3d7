"""What kitcall says of its own, from grammars/en/replies.toml, as a Mapping of str.format templates.

A file is taken whole: every reply is there, and asks for exactly the fields that the session gives it.
So a translation that forgets a name is refused when it is read, not in the middle of a check.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from string import Formatter

from assistant.errors import GrammarError
from assistant.language.files import Place, Strict, grammar_file, read_shape

FINDINGS: Mapping[str, str] = {  # judge and finding, each one sentence
    "starting_pressure_enough": "reading limit", "starting_pressure_low": "reading limit",
    "starting_pressure_high": "reading limit", "pressure_left_left": "reading", "pressure_left_empty": "reading limit",
    "test_date_good": "reading last", "test_date_soon": "reading last", "test_date_due": "reading last",
    "test_date_out": "reading last", "test_date_outside": "reading first now",
    "mix_matches": "mix plan deepest", "mix_differs": "mix plan tolerance", "mix_too_deep": "mix deepest depth",
    "breathing_steady": "reading low high", "breathing_restricted": "reading dip back",
    "breathing_shut": "reading fall high", "breathing_fallen": "reading fall high",
    "breathing_dipped": "reading dip high", "breathing_unmoved": "reading low",
    "breathing_doubtful": "reading low high", "breathing_disordered": "reading",
    "breathing_too_little": "reading least",
    "leak_tight": "reading minutes", "leak_none_shown": "reading minutes hidden", "leak_leaks": "reading minutes drop",
    "leak_gains": "reading minutes rise", "leak_too_soon": "reading minutes left gross",
    "leak_unproved": "reading minutes wait gross",
}  # fmt: skip
FIELDS: Mapping[str, str] = {
    "ready": "", "resumed": "name", "stopped": "", "verdict_ready": "count", "verdict_hold": "reasons",
    "more_reasons": "count", "set_apart_list": "items",
    "passed": "name", "absent": "name", "noted_fault": "fault say", "third_time": "item another",
    "left_open": "",
    "coming_back": "", "left_open_last": "",
    "another": "item", "ask_replacement": "another", "ask_number": "", "replaced": "item number",
    "replaced_unmarked": "item", "same_again": "item number another",
    "on_another": "item number another", "returned_sound": "count", "returned_faulty": "reasons", "no_spare": "",
    "confirm": "reading", "confirm_pass": "name", "confirm_absent": "name", "confirm_fault": "fault",
    "denied_pass": "prompt",
    "reading_odd": "reading low high", "reading_unit": "reading low high other", "reading_unclear": "",
    "reading_refused": "reading problem mend", "judged_fault": "verdict say", "judged_again": "verdict", "denied": "",
    **FINDINGS,
    "not_understood_1": "good bad", "not_understood_2": "good bad", "not_understood_3": "good bad",
    "no_phrase": "", "known_wrong": "", "near": "", "unsteady": "", "too_loud": "", "too_faint": "", "early": "",
    "more": "", "too_long": "", "noise": "", "silent": "prompt", "silent_waiting": "",
    "waiting": "", "carrying_on": "prompt", "cannot_be_absent": "prompt", "where": "number count name open",
    "corrected": "prompt", "corrected_fault": "item prompt", "nothing_to_correct": "prompt",
    "went_back": "name prompt", "at_first_step": "prompt", "out_of_place": "prompt", "note_speak": "",
    "note_kept": "prompt", "note_empty": "prompt",
    "microphone_lost": "", "microphone_back": "", "expired": "name", "store_failed": "",
    "reason_not_started": "", "reason_fault_critical": "name fault", "reason_fault": "name fault",
    "reason_no_spare": "item", "reason_unchecked": "name", "reason_open_critical": "name", "reason_open": "name",
    "reason_expired": "name", "reason_stopped": "",
}  # fmt: skip


class _File(Strict):
    reply: dict[str, str]


class Replies(Mapping[str, str]):
    """The templates by key, and `say` to fill one in."""

    def __init__(self, templates: Mapping[str, str]) -> None:
        self._templates = dict(templates)

    def __getitem__(self, key: str) -> str:
        return self._templates[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._templates)

    def __len__(self) -> int:
        return len(self._templates)

    def say(self, key: str, **facts: object) -> str:
        """The reply with its fields filled in, its first letter a capital. KeyError for a key or field that is none."""
        text = self[key].format_map(facts)
        return text[:1].upper() + text[1:]


@cache
def shipped_replies(language: str = "en") -> Replies:
    """The replies that kitcall ships."""
    return load_replies(grammar_file("replies.toml", language))


def load_replies(path: Place) -> Replies:
    """A replies file as a Mapping of templates.

    Raises GrammarError, with `file: key` and what to do, for a missing or unknown reply, one that is empty
    or no template, and one that lacks a field or asks for another. Checked in tests/language/test_replies.py.
    """
    return take_replies(read_shape(path, _File).reply, FIELDS, path)


def take_replies(replies: Mapping[str, str], wanted: Mapping[str, str], path: Place) -> Replies:
    """These templates, once each key of `wanted` is there with exactly the fields named; raises as load_replies."""
    for key in wanted:
        if key not in replies:
            raise GrammarError("is missing", _mend(wanted[key]), f"{path}: reply.{key}")
    for key, text in replies.items():
        _check_reply(key, text, wanted, f"{path}: reply.{key}")
    return Replies(replies)


def _check_reply(key: str, text: str, fields: Mapping[str, str], where: str) -> None:
    if key not in fields:
        raise GrammarError("is no reply that kitcall gives", "Check its spelling, or take it out.", where)
    if not text.strip():
        raise GrammarError("is empty", "Write what is said.", where)
    wanted, found = set(fields[key].split()), _fields(text, where)
    for field in sorted(wanted - found):
        raise GrammarError(f"does not say {{{field}}}", _mend(fields[key]), where)
    for field in sorted(found - wanted):
        raise GrammarError(f"asks for {{{field}}}, which it is not given", _mend(fields[key]), where)


def _fields(text: str, where: str) -> set[str]:
    try:
        parsed = list(Formatter().parse(text))
    except ValueError as problem:
        raise GrammarError(f"cannot be filled in: {problem}", "Close every brace.", where) from problem
    if any(spec or conversion for _, _, spec, conversion in parsed):
        raise GrammarError("formats a field", "Write the bare name in braces.", where)
    return {field for _, field, _, _ in parsed if field is not None}


def _mend(fields: str) -> str:
    shown = " and ".join(f"{{{field}}}" for field in fields.split())
    return f"Write it with {shown}." if shown else "Write it, without fields."
