"""The group's own commands and replies, from grammars/en/group.toml, joined with those of a check.

They are in force only while a group is led. Their words count as talk everywhere else, so that a pass gains
nothing from them: "is" and "who" doubt an answer in a group as they do in a single check.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from functools import cache

from assistant.check.steps import Check
from assistant.language.commands import Command, Commands, check_ids
from assistant.language.files import Place, Strict, grammar_file, read_shape
from assistant.language.phrases import spoken_words
from assistant.language.replies import Replies, take_replies

RETURNED = "returned"  # the answer that the divers are back; understood between two divers, and before a check
GROUP_IDS = ("next", "diver", "left", "holds", "swap", "off", "back", "boat", "end")
DIVER, ITEM, NUMBER = "any_diver", "any_item", "below_hundred"  # rules: two made here, one of numbers.toml
FIELDS: Mapping[str, str] = {
    "trip": "trip count", "trip_resumed": "trip", "trip_back": "trip", "when_back": "", "back_sure": "trip",
    "back_none": "", "call": "diver",
    "finished": "diver standing left", "finished_all": "diver standing", "prompt": "", "nobody": "", "ended": "",
    "unknown_diver": "diver", "diver_sure": "diver", "two_divers": "diver other", "off_already": "diver",
    "left": "divers", "left_none": "",
    "holds": "holds", "hold_of": "diver reasons", "holds_none": "", "ready": "", "hold": "", "begun": "",
    "sound": "", "faulty": "", "not_returned": "divers", "not_now": "", "boat_ready": "divers", "boat_hold": "why",
    "boat_holds": "divers", "boat_waits": "divers", "boat_nobody": "", "boat_off": "divers",
    "gas": "diver minutes depth", "gas_short": "divers", "gas_unknown": "divers", "swap_all": "one other",
    "swap_one": "item one other", "swapped": "", "swap_self": "", "swap_nobody": "", "swap_not": "",
    "off_sure": "diver", "off_done": "diver", "back_done": "diver", "back_already": "diver", "kept": "",
    "gap": "item diver", "gap_number": "", "gap_taken": "holder item", "gap_apart": "item", "given": "item diver",
    "missing": "diver item", "last_spare": "item", "no_spare_left": "item",
}  # fmt: skip


class _Entry(Strict):
    id: str
    phrases: list[str]
    help: str


class _File(Strict):
    command: list[_Entry]
    answer: list[_Entry]
    reply: dict[str, str]


@cache
def _shipped(language: str) -> tuple[tuple[Command, ...], tuple[Command, ...], Replies]:
    return load_group(grammar_file("group.toml", language))


def load_group(path: Place) -> tuple[tuple[Command, ...], tuple[Command, ...], Replies]:
    """A group file's commands, answers and replies; raises GrammarError with the place and a mend."""
    shape = read_shape(path, _File)
    check_ids("command", [entry.id for entry in shape.command], GROUP_IDS, path)
    check_ids("answer", [entry.id for entry in shape.answer], (RETURNED,), path)
    commands = (Command(each.id, tuple(each.phrases), each.help, is_aside=True) for each in shape.command)
    answers = (Command(each.id, tuple(each.phrases), each.help) for each in shape.answer)
    return tuple(commands), tuple(answers), take_replies(shape.reply, FIELDS, path)


def group_replies(language: str = "en") -> Replies:
    """What kitcall says to a group."""
    return _shipped(language)[2]


def with_return(commands: Commands, language: str = "en") -> Commands:
    """The commands of a check, and before it the answer that the divers are back."""
    return replace(commands, answers=(*commands.answers, *_shipped(language)[1]))


def with_group(
    commands: Commands, check: Check, names: Collection[str] = (), knows: Callable[[str], bool] = lambda word: True
) -> Commands:
    """The commands of a check with those of the group.

    names: first names of the day's plan, in words the model has; numbers are always understood. Items whose name
    the model lacks cannot be named, and go with the whole kit.
    """
    items = [" ".join(spoken_words(item.name)) for item in check.items]
    named = [item for item in dict.fromkeys(items) if all(knows(word) for word in item.split())]
    rules = {DIVER: " | ".join([f"${NUMBER}", *(name.lower() for name in names)]), ITEM: " | ".join(named)}
    return replace(
        with_return(commands, check.language),
        commands=(*commands.commands, *_shipped(check.language)[0]),
        rules={**commands.rules, **rules},
    )
