"""One step under judgement, with all that is in force while it is asked: its answers and the commands.

Every rule of a single step is here, one method each; what they find are Remarks with the step's keys. The limits of
sound are argued in closeness. Nothing here reads a file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain, islice
from typing import Final

from assistant.check.steps import Check, Step
from assistant.errors import GrammarError
from assistant.events import Care
from assistant.language.closeness import Phrase, bad_reports, close_pairs, is_pass
from assistant.language.commands import Commands
from assistant.language.group import DIVER
from assistant.language.listening import Line, command_lines, step_lines
from assistant.language.matching import Matcher
from assistant.language.phrases import Node, Words, expand, spoken_words
from assistant.language.report import Pair, Remark
from assistant.language.rules import numbers_file, parse_once
from assistant.language.sound import Sound, missing_sounds, phrase_sounds

MOST_STRINGS: Final = 5_000  # word strings of one phrase; the reader of a file must be able to think them through
LONGEST_ANSWER: Final = 12  # words
# A number rule stands for thousands of strings; for sound a few samples of each shape do.
_SAMPLE_NUMBER: Final = "five | ninety | one nine zero | one ninety five | two hundred and five"


def phrase_keys(at: int, step: Step) -> dict[str, str]:
    """Key and phrase, in the order of the file and of listening.step_lines."""
    key = f'step[{at}] "{step.id}"'
    keys = {f"{key}.pass[{nth}]": text for nth, text in enumerate(step.passes)}
    if step.reading is not None:
        keys |= {f"{key}.reading.phrases[{nth}]": text for nth, text in enumerate(step.reading.phrases)}
    for place, fault in enumerate(step.faults):
        keys |= {f'{key}.fault[{place}] "{fault.code}".phrases[{nth}]': text for nth, text in enumerate(fault.phrases)}
    return keys


class Ear:
    """What is heard while these lines are in force, our own voice included."""

    def __init__(self, lines: Iterable[Line], rules: dict[str, Node]) -> None:
        self._lines = tuple(lines)
        self._matcher = Matcher([parse_once(line.phrase) for line in self._lines], rules)

    def two_meanings(self) -> Iterator[tuple[Words, list[int]]]:
        """Word strings that mean several things, and the places of their lines; once for each set of meanings."""
        seen: set[frozenset[str]] = set()
        for words, places in self._matcher.clashes():
            meanings = frozenset(self._lines[place].meaning for place in places)
            if len(meanings) > 1 and meanings not in seen:
                seen.add(meanings)
                yield words, list(places)

    def refuse_ending(self, where: str, text: str) -> Iterator[Remark]:
        """The longest answer that a text of ours ends in."""
        words = spoken_words(text)
        for begin in range(max(len(words) - LONGEST_ANSWER, 0), len(words)):
            found = self._matcher.match(words[begin:])
            if found is not None:
                message = (
                    f'it ends in "{" ".join(words[begin:])}", which means {self._lines[found].meaning} when heard.'
                )
                mend = "Our own voice may be heard: put those words first, or reword the end."
                yield Remark(where, "ending", message, mend)
                return


@dataclass(frozen=True)
class Asking:
    """One step under judgement, with all that is in force while it is asked."""

    source: str
    check: Check
    at: int
    step: Step
    commands: Commands
    rules: dict[str, Node]
    between: Ear
    knows: Callable[[str], bool]

    def refuse(self) -> Iterator[Remark]:
        """Every refusal of this step."""
        yield from self._refuse_sizes()
        yield from self._refuse_single_words()
        yield from self._refuse_two_meanings()
        yield from self._refuse_same_sounds()
        yield from (self.remark_pair(pair) for pair in self.pairs if pair.standing == "refused")
        yield from self._refuse_bad_reports()
        yield from self._refuse_instructions()
        yield from self._refuse_endings()

    def where(self, key: str) -> str:
        """`file: key`, a key of this step given from the step on."""
        return f"{self.source}: {key if key.startswith('step[') else self._own(key)}"

    def _own(self, key: str) -> str:
        return f'step[{self.at}] "{self.step.id}".{key}'

    @cached_property
    def lines(self) -> list[tuple[str, Line]]:
        """Key and line of all that is in force; a command's key is its meaning."""
        own = zip(phrase_keys(self.at, self.step), step_lines(self.step), strict=True)
        return [*own, *((line.meaning, line) for line in command_lines(self.commands.commands))]

    @cached_property
    def ear(self) -> Ear:
        return Ear((line for _key, line in self.lines), self.rules)

    @cached_property
    def _sampled_rules(self) -> dict[str, Node]:
        sample = parse_once(_SAMPLE_NUMBER)
        file = numbers_file(self.check.language)
        numbers = (kind for kind in file.kind if kind not in file.value)
        return {**self.rules, **dict.fromkeys((*numbers, DIVER), sample)}

    @cached_property
    def phrases(self) -> list[Phrase]:
        """All word strings in force; numbers by samples. Phrases too large to write out are left out.

        What is heard as firmly as a pass counts as one, also where its number is judged ("label says air").
        """
        return [
            Phrase(words, "pass" if line.care.is_firm else line.meaning, key)
            for key, line in self.lines
            for words in self._expand(line.phrase)
        ]

    def _expand(self, phrase: str) -> list[Words]:
        try:
            return expand(parse_once(phrase), self._sampled_rules, MOST_STRINGS)
        except GrammarError:
            return []

    @cached_property
    def pairs(self) -> list[Pair]:
        return close_pairs(self.step.id, self.phrases, self.knows, self.check.language)

    def remark_pair(self, pair: Pair) -> Remark:
        """The refusal or warning that a close pair stands for."""
        message = f'"{pair.phrase}" (pass) is {pair.distance} phonemes from "{pair.other}" ({pair.meaning}).'
        mend = "One may be heard for the other: choose a pass phrase that sounds further away."
        return Remark(self.where(pair.key), "close", message, mend)

    def _refuse_sizes(self) -> Iterator[Remark]:
        for key, line in self.lines:
            if not self._expand(line.phrase):
                message = f'"{line.phrase}" stands for more than {MOST_STRINGS} word strings.'
                yield Remark(self.where(key), "size", message, "Split it, or use fewer options.")

    def _refuse_single_words(self) -> Iterator[Remark]:
        """One word passes nothing critical. A reading is let be: its number is judged by its bounds."""
        if not self.step.critical:
            return
        seen: set[str] = set()
        for phrase in self.phrases:
            if phrase.meaning == "pass" and len(phrase.words) == 1 and phrase.key not in seen:
                seen.add(phrase.key)
                message = f'the one word "{phrase.words[0]}" would pass a critical step.'
                yield Remark(self.where(phrase.key), "one_word", message, "Ask for two words or more.")

    def _refuse_two_meanings(self) -> Iterator[Remark]:
        back = self._lines_read_back
        for ear, lines in ((self.ear, self.lines), (Ear((line for _key, line in back), self.rules), back)):
            for words, places in ear.two_meanings():
                meanings = dict.fromkeys(lines[place][1].meaning for place in places)
                message = f'"{" ".join(words)}" means both {" and ".join(meanings)}.'
                where = self.where(lines[places[0]][0])
                yield Remark(where, "two_meanings", message, "Take it out of all phrases but one.")

    @cached_property
    def _lines_read_back(self) -> list[tuple[str, Line]]:
        """Faults, and the yes and no that stand beside them after an answer was read back."""
        faults = [
            (key, replace(line, meaning="fault")) for key, line in self.lines if line.meaning.startswith("fault:")
        ]
        answers = [self.commands.answer(each) for each in ("yes", "no")]
        return faults + [(each.id, Line(text, each.id, Care.PLAIN)) for each in answers for text in each.phrases]

    def _refuse_same_sounds(self) -> Iterator[Remark]:
        """Different words, the same sound, another meaning; passes are the business of the close pairs."""
        heard: dict[Sound, Phrase] = {}
        seen: set[tuple[str, str]] = set()
        for phrase in self.phrases:
            if is_pass(phrase) or missing_sounds(phrase.words):
                continue
            for sound in phrase_sounds(phrase.words):
                other = heard.setdefault(sound, phrase)
                mark = (other.meaning, phrase.meaning)
                if other.meaning != phrase.meaning and other.words != phrase.words and mark not in seen:
                    seen.add(mark)
                    yield self._remark_same(phrase, other)

    def _remark_same(self, one: Phrase, other: Phrase) -> Remark:
        message = (
            f'"{" ".join(one.words)}" ({one.meaning}) sounds the same as "{" ".join(other.words)}" ({other.meaning}).'
        )
        return Remark(self.where(one.key), "same_sound", message, "Change one of the two phrases.")

    def _refuse_bad_reports(self) -> Iterator[Remark]:
        for phrase, word, bad in bad_reports(self.phrases):
            report = " ".join(bad if each == word else each for each in phrase.words)
            message = f'"{" ".join(phrase.words)}" (pass) sounds like "{report}", a bad report.'
            yield Remark(self.where(phrase.key), "bad_report", message, f'Say it without "{word}".')

    def _refuse_instructions(self) -> Iterator[Remark]:
        for nth, fault in enumerate(self.step.faults):
            if not fault.say.strip():
                where = self.where(f'fault[{nth}] "{fault.code}".say')
                mend = "Say in one sentence what the diver does now."
                yield Remark(where, "instruction", "a fault without an instruction.", mend)

    def _refuse_endings(self) -> Iterator[Remark]:
        """Prompt, explanation and instructions; after an instruction the answers to "what replaces it" are in force."""
        yield from self.ear.refuse_ending(self.where("prompt"), self.step.prompt)
        yield from self.ear.refuse_ending(self.where("explain"), self.step.explain)
        for nth, fault in enumerate(self.step.faults):
            where = self.where(f'fault[{nth}] "{fault.code}".say')
            yield from islice(chain(*(ear.refuse_ending(where, fault.say) for ear in (self.ear, self.between))), 1)
