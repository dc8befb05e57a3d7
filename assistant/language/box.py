"""What the box says of itself, from grammars/en/box.toml: its replies, and two sentences for each trouble."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from string import Formatter

from assistant.errors import GrammarError
from assistant.language.files import Place, Strict, grammar_file, read_shape

SAID: Mapping[str, str] = {
    "fit": "", "unfit": "say do", "resting": "", "saving": "", "saved": "count", "not_saved": "say do", "off": "",
    "set_aside": "",
}  # fmt: skip
TROUBLES = (
    "no_microphone", "microphone_silent", "microphone_clipping", "deck_too_loud", "no_speaker", "no_voice",
    "speaker_unheard", "model_damaged", "not_understood", "record_busy", "record_damaged", "record_refused",
    "no_stick", "stick_full", "copy_failed", "no_panel",
    "disk_low", "disk_forgets", "clock_wrong", "supply_low", "too_hot",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Trouble:
    """One sentence that says what is wrong, one that says what to do."""

    say: str
    do: str


@dataclass(frozen=True, slots=True)
class BoxWords:
    """All of it; `say` fills a reply in."""

    replies: Mapping[str, str]
    troubles: Mapping[str, Trouble]

    def say(self, key: str, **facts: object) -> str:
        """The reply with its fields filled in. KeyError for a key or field that is none."""
        return self.replies[key].format_map(facts)


class _Trouble(Strict):
    say: str
    do: str


class _File(Strict):
    say: dict[str, str]
    trouble: dict[str, _Trouble]


@cache
def shipped_box_words(language: str = "en") -> BoxWords:
    """The words that kitcall ships."""
    return load_box_words(grammar_file("box.toml", language))


def load_box_words(path: Place) -> BoxWords:
    """A box file as a value; GrammarError when a reply or trouble is missing, unknown, empty, or lacks a field."""
    shape = read_shape(path, _File)
    _same(list(shape.say), list(SAID), f"{path}: say")
    _same(list(shape.trouble), list(TROUBLES), f"{path}: trouble")
    for key, text in shape.say.items():
        fields = {field for _, field, _, _ in Formatter().parse(text) if field is not None}
        if not text.strip() or fields != set(SAID[key].split()):
            raise GrammarError("does not say what it must", _mend(SAID[key]), f"{path}: say.{key}")
    for key, told in shape.trouble.items():
        if not (told.say.endswith(".") and told.do.endswith(".")):
            raise GrammarError("is no whole sentence", "End say and do with a full stop.", f"{path}: trouble.{key}")
    return BoxWords(dict(shape.say), {key: Trouble(told.say, told.do) for key, told in shape.trouble.items()})


def _same(found: list[str], wanted: list[str], where: str) -> None:
    for key in sorted(set(wanted) - set(found)):
        raise GrammarError(f'"{key}" is missing', "Write it.", where)
    for key in sorted(set(found) - set(wanted)):
        raise GrammarError(f'"{key}" is not known', "Check its spelling, or take it out.", where)


def _mend(fields: str) -> str:
    return f"Write it with {' and '.join(f'{{{field}}}' for field in fields.split())}." if fields else "Write it."
