"""Judges a sequence file: everything that would make its answers unsafe to hear, named by key, with what to do.

Notation, references, order and instructions are refused by the reader (sequence.load) and reported here like
the rest. Rules of sound are measured in phonemes; their limits are argued in closeness. The checker decides
nothing for the diver: it only refuses files, and never changes one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final

from assistant.check.steps import Check, Step
from assistant.errors import GrammarError
from assistant.language.closeness import Phrase, bad_reports, close_pairs, is_pass
from assistant.language.commands import Commands, shipped_commands
from assistant.language.listening import Line, command_lines, step_lines
from assistant.language.matching import Matcher
from assistant.language.phrases import Node, Words, expand, spoken_words, words_of
from assistant.language.report import Pair, Remark, Report
from assistant.language.rules import number_nodes, numbers_file, parse_once
from assistant.language.sequence import load
from assistant.language.sound import Sound, missing_sounds, phrase_sounds
from assistant.language.spelling import offers

MOST_STRINGS: Final = 5_000  # word strings of one phrase; the reader of a file must be able to think them through
LONGEST_ANSWER: Final = 12  # words
# A number rule stands for thousands of strings; for sound a few samples of each shape do.
_SAMPLE_NUMBER: Final = "five | ninety | one nine zero | one ninety five | two hundred and five"

Knows = Callable[[str], bool]


def judge(source: Path | Check, knows: Knows, commands: Commands | None = None) -> Report:
    """The judgement of one sequence.

    source: a sequence file, or a Check already loaded; knows: whether the recogniser's model has a word (lower
    case); commands: those in force, the shipped ones when None. Returns a Report; it raises nothing for a bad
    file, because the guide wants all of what is wrong at once. One mutant for each refusal is in
    tests/language/test_checker.py.
    """
    if isinstance(source, Check):
        return _judge_check(source, source.id, knows, commands)
    try:
        check = load(source, lambda word: True)
    except GrammarError as refused:
        where = refused.where or str(source)
        message = str(refused).removeprefix(f"{where}: ")
        return Report(str(source), (Remark(where, "file", message, refused.mend),), (), ())
    return _judge_check(check, str(source), knows, commands)


def _judge_check(check: Check, source: str, knows: Knows, commands: Commands | None) -> Report:
    commands = commands or shipped_commands(check.language)
    desks = [_Desk(source, check, at, step, commands, knows) for at, step in enumerate(check.steps)]
    refusals = list(_refuse_words(check, source, knows))
    warnings: list[Remark] = []
    pairs: list[Pair] = []
    for desk in desks:
        refusals += desk.refuse()
        pairs += desk.pairs
        warnings += [desk.remark_pair(pair) for pair in desk.pairs if pair.standing == "warned"]
    refusals += _refuse_whole_texts(check, source, commands)
    pairs.sort(key=lambda pair: (pair.distance, pair.standing == "apart"))
    return Report(source, tuple(refusals), tuple(warnings), tuple(pairs))


def _refuse_words(check: Check, source: str, knows: Knows) -> Iterator[Remark]:
    """Words that the model lacks, each once, at the first key that uses it."""
    rules = _nodes(check.rules)
    named: set[str] = set()
    for key, text in _phrase_keys(check):
        for word in sorted(words_of(parse_once(text), {**number_nodes(check.language), **rules})):
            if word not in named and not knows(word):
                named.add(word)
                yield Remark(f"{source}: {key}", "word", f'the recogniser does not know "{word}".', _offer(word, knows))


def _offer(word: str, knows: Knows) -> str:
    found = offers(word, knows)
    if not found:
        return "It can never hear it; use another word."
    return f"Write it otherwise: {', '.join(f'“{each}”' for each in found)}; or use another word."


def _phrase_keys(check: Check) -> Iterator[tuple[str, str]]:
    yield from ((f"rules.{name}", text) for name, text in check.rules.items())
    yield from ((f"check.start[{nth}]", text) for nth, text in enumerate(check.start))
    for at, step in enumerate(check.steps):
        yield from _keys_of(at, step).items()


def _keys_of(at: int, step: Step) -> dict[str, str]:
    """Key and phrase, in the order of the file and of listening.step_lines."""
    key = f'step[{at}] "{step.id}"'
    keys = {f"{key}.pass[{nth}]": text for nth, text in enumerate(step.passes)}
    for place, fault in enumerate(step.faults):
        keys |= {f"{key}.fault[{place}].phrases[{nth}]": text for nth, text in enumerate(fault.phrases)}
    return keys


def _nodes(rules: dict[str, str]) -> dict[str, Node]:
    return {name: parse_once(text) for name, text in rules.items()}


def _refuse_whole_texts(check: Check, source: str, commands: Commands) -> Iterator[Remark]:
    """Caution and closing words against what is in force around them: the start phrase and the commands."""
    start = [Line(phrase, "start", step_lines(check.steps[0])[0].care) for phrase in check.start]
    ear = _Ear([*start, *command_lines(commands.commands)], check, commands)
    for key, text in (("check.caution", check.caution), ("check.closing", check.closing)):
        yield from _refuse_ending(f"{source}: {key}", text, ear)


def _refuse_ending(where: str, text: str, ear: _Ear) -> Iterator[Remark]:
    found = ear.ending(text)
    if found:
        words, meaning = found
        message = f'it ends in "{" ".join(words)}", which means {meaning} when heard.'
        yield Remark(where, "ending", message, "Our own voice may be heard: put those words first, or reword the end.")


class _Ear:
    """What would be heard in our own voice, were these lines in force."""

    def __init__(self, lines: Iterable[Line], check: Check, commands: Commands) -> None:
        self._lines = list(lines)
        rules = {**number_nodes(check.language), **_nodes(commands.rules), **_nodes(check.rules)}
        self._matcher = Matcher([parse_once(line.phrase) for line in self._lines], rules)

    def ending(self, text: str) -> tuple[Words, str] | None:
        """The longest answer that the text ends in, and its meaning."""
        words = spoken_words(text)
        for begin in range(max(len(words) - LONGEST_ANSWER, 0), len(words)):
            found = self._matcher.match(words[begin:])
            if found is not None:
                return words[begin:], self._lines[found].meaning
        return None


@dataclass(frozen=True)
class _Desk:
    """One step under judgement, with all that is in force while it is asked."""

    source: str
    check: Check
    at: int
    step: Step
    commands: Commands
    knows: Knows

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
        own = zip(_keys_of(self.at, self.step), step_lines(self.step), strict=True)
        return [*own, *((line.meaning, line) for line in command_lines(self.commands.commands))]

    @cached_property
    def rules(self) -> dict[str, Node]:
        return {**number_nodes(self.check.language), **_nodes(self.commands.rules), **_nodes(self.check.rules)}

    @cached_property
    def _sampled_rules(self) -> dict[str, Node]:
        sample = parse_once(_SAMPLE_NUMBER)
        return {**self.rules, **dict.fromkeys(numbers_file(self.check.language).kind, sample)}

    @cached_property
    def phrases(self) -> list[Phrase]:
        """All word strings in force; numbers by samples. Phrases too large to write out are left out."""
        return [Phrase(words, line.meaning, key) for key, line in self.lines for words in self._expand(line.phrase)]

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
        matcher = Matcher([parse_once(line.phrase) for _key, line in self.lines], self.rules)
        seen: set[tuple[str, ...]] = set()
        for words, indexes in matcher.clashes():
            met = [self.lines[index] for index in indexes]
            meanings = tuple(dict.fromkeys(line.meaning for _key, line in met))
            if len(meanings) > 1 and meanings not in seen:
                seen.add(meanings)
                message = f'"{" ".join(words)}" means both {" and ".join(meanings)}.'
                yield Remark(self.where(met[0][0]), "two_meanings", message, "Take it out of all phrases but one.")

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
                where = self.where(f"fault[{nth}].say")
                mend = "Say in one sentence what the diver does now."
                yield Remark(where, "instruction", "a fault without an instruction.", mend)

    def _refuse_endings(self) -> Iterator[Remark]:
        """Prompt and explanation against the step's answers; instructions also against those to "what replaces it"."""
        answers = [line for _key, line in self.lines]
        step_ear = _Ear(answers, self.check, self.commands)
        yield from _refuse_ending(self.where("prompt"), self.step.prompt, step_ear)
        yield from _refuse_ending(self.where("explain"), self.step.explain, step_ear)
        after = [Line(text, each.id, answers[0].care) for each in self.commands.answers for text in each.phrases]
        fault_ear = _Ear([*answers, *after], self.check, self.commands)
        for nth, fault in enumerate(self.step.faults):
            yield from _refuse_ending(self.where(f"fault[{nth}].say"), fault.say, fault_ear)
