"""Free phrase files: any small domain as a Listening, to hear recordings that are no kit check.

The file names its meanings itself:

    slots = ["size"]
    [rules]
    size = "small | large"
    [[phrase]]
    means = "order"
    phrases = ["(give me | I'd like) a [$size] coffee"]

The same notation, number rules and refusals as in a sequence file.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pydantic import Field

from assistant.errors import GrammarError
from assistant.events import Care
from assistant.language.files import Strict, line_of, parse_toml, read_bytes, validate
from assistant.language.listening import Line, Listed
from assistant.language.nodes import words_of
from assistant.language.rules import join_rules, parse_once, refuse_unknown_words


class _Phrase(Strict):
    means: str = Field(min_length=1)
    phrases: list[str] = Field(min_length=1)
    care: str = Care.PLAIN.value


class _File(Strict):
    slots: list[str] = Field(default_factory=list)
    rules: dict[str, str] = Field(default_factory=dict)
    phrase: list[_Phrase] = Field(min_length=1)


def load_phrases(path: Path, knows: Callable[[str], bool] = lambda word: True) -> Listed:
    """A free phrase file as a Listening; meanings are the file's own, slots those that it names.

    knows: whether the recogniser's model has a word. Raises GrammarError (PhraseError for notation) with place
    and mend: wrong shape, unreadable phrase, unknown rule, slot or care, words the model lacks, a double meaning.
    """
    raw = read_bytes(path)
    text, shape = raw.decode("utf-8", "replace"), validate(parse_toml(raw, path), _File, path)
    rules, words = join_rules(shape.rules, path, text), set[str]()
    for at, slot in enumerate(shape.slots):
        if slot not in rules:
            raise GrammarError(f'no rule "{slot}"', "Name a rule of [rules].", f"{path}: slots[{at}]")
    for at, entry in enumerate(shape.phrase):
        if entry.care not in set(Care):
            where = f'{path}: phrase[{at}] "{entry.means}".care'
            raise GrammarError(f'no care "{entry.care}"', f"Use one of: {', '.join(Care)}.", where)
        for phrase in entry.phrases:
            where = f"{path}:{line_of(text, phrase)}"
            words |= words_of(parse_once(phrase, where), rules, where)
    refuse_unknown_words(words, knows, path, text)
    lines = [Line(phrase, entry.means, Care(entry.care)) for entry in shape.phrase for phrase in entry.phrases]
    return Listed(lines, rules, frozenset(shape.slots), str(path))
