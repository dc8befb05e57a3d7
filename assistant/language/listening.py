"""What may be heard now: the phrases of one moment, each with its meaning and the care it needs.

Each builder joins phrases of a step, commands, answers and decoys to one Listening. A word string that
would mean two things is refused when it is built, never decided silently. Meanings are strings that the
session chose; nothing here decides what follows from one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from assistant.check.steps import FAULT, Check, Step
from assistant.errors import GrammarError
from assistant.events import Care, Match
from assistant.language.commands import Command, Commands
from assistant.language.fillers import everyday, persons
from assistant.language.matching import Matcher
from assistant.language.negation import faulty_words, turning_words
from assistant.language.phrases import Node, Rules, Words, parse, rule_names, words_of
from assistant.language.rules import parse_once, with_numbers
from assistant.language.topic import Topic

_NUMBERED = frozenset({"number", "any_diver"})  # rules of answers and commands that hold a number
SHORT_REPORT = 3  # words
COMMAND, DOUBT = "command:", "doubt:"  # begin meanings, as FAULT does
DENIED = "denied"  # a decoy that yields to an answer of the same words ("less than fifty", where that is a fault)
CLOSES = ("absent",)  # commands that close a step: as much hangs on them as on a fault
Decoys = Iterable[tuple[str, str]]  # phrase in notation, why it is no answer


@dataclass(frozen=True, slots=True)
class Line:
    """One phrase in notation, what it means, and how sure the ear must be."""

    phrase: str
    meaning: str
    care: Care
    is_aside: bool = False


class Listed:
    """Fulfils events.Listening for a list of lines.

    lines: in order of preference; rules: all that they use; slots: the rules whose words are reported,
    all of them when None; where: named in refusals; rivals: phrases for the second decoding; fillers: everyday words
    that the recogniser is shown beside the phrases, unless a phrase uses them; lone: words that are each an
    answer alone, for a last decoding. Raises GrammarError when one word string would mean two things, unless one of
    them is DENIED, and for a phrase that silence would satisfy.
    """

    def __init__(
        self,
        lines: Iterable[Line],
        rules: Rules,
        slots: frozenset[str] | None = None,
        where: str = "",
        rivals: tuple[str, ...] = (),
        fillers: tuple[str, ...] = (),
        lone: tuple[str, ...] = (),
    ) -> None:
        self.lone = lone
        self.rivals = rivals  # soundalikes of the passes, for a second decoding that a pass must win
        self._lines = tuple(lines)
        self._nodes = tuple(_read(line, where) for line in self._lines)
        self._rules, self._slots = rules, slots
        self._asked: dict[Words, Match | None] = {}  # the ear asks the same words many times while they stand
        self._matcher = Matcher(self._nodes, rules)
        answers = [node for node, line in zip(self._nodes, self._lines, strict=True) if line.care is not Care.NEVER]
        self._answers = self._matcher if len(answers) == len(self._nodes) else Matcher(answers, rules)
        said = [(line.meaning, set(rule_names(node))) for line, node in zip(self._lines, self._nodes, strict=True)
                if line.care is not Care.NEVER]  # fmt: skip
        self._said = said  # of each answer: its meaning, and the rules it names
        self._longer: dict[Words, bool] = {}  # asked at every frame of quiet
        self._refuse_silence(where)
        self._refuse_clashes(where)
        covered = self._matcher.cover()
        own = {word for words in self._without_asides(covered) for word in words}
        foreign = tuple(word for word in fillers if word not in own)
        self._phrases = (*(" ".join(words) for words in covered), *foreign)
        self._foreign = frozenset(foreign)
        self._topic = self._topic_of(talked=bool(fillers))
        passes = (node for node, line in zip(self._nodes, self._lines, strict=True) if line.care.is_firm)
        self._turning = (turning_words() | faulty_words()).difference(*(words_of(node, rules) for node in passes))

    def _topic_of(self, talked: bool) -> Topic:
        """Of all answers, commands among them; `talked` where there may be talk beside them. Where no step's answers
        are asked for, the words of commands are what it is about."""
        kit, commands, is_step = set[str](), set[str](), False
        for line, node in zip(self._lines, self._nodes, strict=True):
            if line.care is not Care.NEVER:
                is_command = line.meaning.startswith(COMMAND) and line.care is not Care.WEIGHTY  # "not fitted"
                (commands if is_command else kit).update(words_of(node, self._rules))
                is_step = is_step or line.meaning.startswith(FAULT)
        if not talked:
            return Topic(kit | commands, ())
        return Topic(kit | commands, everyday(), persons(), commands - kit if is_step else ())

    def _without_asides(self, covered: list[Words]) -> list[Words]:
        own = [node for node, line in zip(self._nodes, self._lines, strict=True) if not line.is_aside]
        return covered if len(own) in (0, len(self._nodes)) else Matcher(own, self._rules).cover()

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines as given."""
        return self._lines

    @property
    def phrases(self) -> tuple[str, ...]:
        """For the recogniser: whole phrases in which every word pair of every phrase occurs, in a fixed order.

        Not every phrase: a list of all would hold millions where a number or an order is asked for.
        """
        return self._phrases

    def match(self, words: Words) -> Match | None:
        """The listed phrase that these words are as a whole, else None."""
        if words not in self._asked:
            self._asked[words] = self._find(words)
        return self._asked[words]

    def _find(self, words: Words) -> Match | None:
        index = self._matcher.match(words)
        if index is None:
            return None
        line = self._lines[index]
        return Match(words, line.meaning, line.care, self._taken(index, words))

    def goes_on(self, words: Words) -> bool:
        """True when a longer answer starts with these words and means something else, or tells more: more of a number,
        its unit, another number."""
        if words not in self._longer:
            self._longer[words] = self._means_more(words)
        return self._longer[words]

    def _means_more(self, words: Words) -> bool:
        index, ahead = self._answers.match(words), self._answers.ahead(words)
        if index is None:
            return bool(ahead)
        meaning, names = self._said[index]
        told = names & self._answers.slots(index, words).keys()
        if any(self._said[each][0] != meaning or self._said[each][1] != told for each in ahead):
            return True  # "two hundred" may yet be p s i, and "two hundred bar" have a temperature
        counted = {word for name in self._slots_of(names) for word in words_of(self._rules[name], self._rules)}
        return not counted.isdisjoint(self._answers.follows(words))

    def _slots_of(self, names: set[str]) -> set[str]:
        return names if self._slots is None else names & self._slots

    def nears_firm(self, words: Words) -> bool:
        """True when these words are a firm phrase, or are one with one word more."""
        longer = ((*words, word) for word in self._answers.follows(words))
        found = [self._matcher.match(each) for each in (words, *longer)] if words else []
        return any(self._lines[index].care.is_firm for index in found if index is not None)

    def turns(self, words: Words) -> bool:
        """True when one of these words, not of a pass itself, could turn an answer around or tell of bad kit."""
        return not self._turning.isdisjoint(words)

    def is_talk(self, words: Words) -> bool:
        """True when one of these words is in no phrase, answer or decoy: somebody is talking."""
        return not self._foreign.isdisjoint(words)

    def is_about(self, words: Words) -> bool:
        """True for an answer; and, where no word is about people, for up to three words of which one tells of bad kit
        ("it leaks", "no air"), and where the words that tell something are mostly, or are spelled much like, words of
        the answers."""
        if self.match(words) is not None:
            return True
        if self._topic.is_of_people(words):
            return False
        is_short = len(words) <= SHORT_REPORT and self.turns(self._topic.telling(words))
        return is_short or self._topic.holds(words)

    def _taken(self, index: int, words: Words) -> Mapping[str, str]:
        if self._slots == frozenset() or not any(rule_names(self._nodes[index])):
            return {}
        slots = self._matcher.slots(index, words)
        return {name: slot for name, slot in slots.items() if self._slots is None or name in self._slots}

    def _refuse_silence(self, where: str) -> None:
        for index in self._matcher.may_be_silence:
            line = self._lines[index]
            raise GrammarError(f'silence would satisfy "{line.phrase}"', "Make one word of it certain.", where)

    def _refuse_clashes(self, where: str) -> None:
        for words, indexes in self._matcher.clashes():
            lines = [line for index in indexes if (line := self._lines[index]).meaning != f"{DOUBT}{DENIED}"]
            other = next((line for line in lines if _differs(line, lines[0])), None)
            if other is not None:
                raise GrammarError(
                    f'"{" ".join(words)}" would mean both {lines[0].meaning} ("{lines[0].phrase}") '
                    f'and {other.meaning} ("{other.phrase}")',
                    "Change one of the two phrases.",
                    where,
                )


def _read(line: Line, where: str) -> Node:
    """A decoy is of one step alone: not kept for the next, as are the phrases that all listenings share."""
    return parse(line.phrase, where) if line.care is Care.NEVER else parse_once(line.phrase, where)


def _differs(one: Line, other: Line) -> bool:
    return (one.meaning, one.care) != (other.meaning, other.care)


class Unlisted:
    """Listens for no phrase: what is said now is kept as sound, not understood (a spoken note)."""

    phrases: tuple[str, ...] = ()
    rivals: tuple[str, ...] = ()
    lone: tuple[str, ...] = ()

    def match(self, words: Words) -> Match | None:
        """Always None."""
        return None

    def goes_on(self, words: Words) -> bool:
        """Always False."""
        return False

    def nears_firm(self, words: Words) -> bool:
        """Always False."""
        return False

    def turns(self, words: Words) -> bool:
        """Always False."""
        return False

    def is_talk(self, words: Words) -> bool:
        """Always False."""
        return False

    def is_about(self, words: Words) -> bool:
        """Always True."""
        return True


def for_step(
    check: Check,
    step: Step,
    commands: Commands,
    decoys: Decoys = (),
    rivals: tuple[str, ...] = (),
    fillers: tuple[str, ...] = (),
) -> Listed:
    """What may be heard while a step is asked: its passes, faults and reading, the commands, and decoys.

    decoys: phrases known to be no answer, with the reason; heard, they mean "doubt:<reason>".
    rivals: soundalikes of the passes; fillers: everyday words; see Listed.
    Raises GrammarError when a word string would mean two things.
    """
    lines = [*step_lines(step), *command_lines(commands.commands), *decoy_lines(decoys)]
    return Listed(lines, _rules(check, commands), where=f'step "{step.id}"', rivals=rivals, fillers=fillers)


def step_lines(step: Step) -> list[Line]:
    """A step's own answers: "pass", "reading", then "fault:<code>" for each fault.

    A pass phrase that holds a number of the reading ("label says air") is judged like one, and heard like a pass.
    """
    lines = [_pass_line(phrase, step) for phrase in step.passes]
    if step.reading is not None:
        lines += [Line(phrase, "reading", Care.NUMBER) for phrase in step.reading.phrases]
    return lines + fault_lines(step)


def fault_lines(step: Step) -> list[Line]:
    """A step's faults as "fault:<code>"."""
    return [Line(phrase, f"{FAULT}{fault.code}", Care.WEIGHTY) for fault in step.faults for phrase in fault.phrases]


def _pass_line(phrase: str, step: Step) -> Line:
    numbers = {number.name for number in step.reading.numbers} if step.reading else set()
    return Line(phrase, "reading" if numbers & set(rule_names(parse_once(phrase))) else "pass", Care.FIRM)


def command_lines(commands: Iterable[Command]) -> list[Line]:
    """Commands as "command:<id>"."""
    return [
        Line(phrase, f"{COMMAND}{each.id}", _care_of(each, phrase), each.is_aside)
        for each in commands
        for phrase in each.phrases
    ]


def _care_of(command: Command, phrase: str) -> Care:
    return Care.WEIGHTY if command.id in CLOSES else _care(phrase)


def _care(phrase: str) -> Care:
    return Care.NUMBER if _NUMBERED.intersection(rule_names(parse_once(phrase))) else Care.PLAIN


def decoy_lines(decoys: Decoys) -> list[Line]:
    """Decoys as "doubt:<why>"."""
    return [Line(phrase, f"{DOUBT}{why}", Care.NEVER) for phrase, why in decoys]


def for_start(check: Check, commands: Commands, fillers: tuple[str, ...] = ()) -> Listed:
    """What may be heard while idle: the start phrase, that the log be saved, and on the box that a trip is back."""
    lines = [Line(phrase, "start", Care.PLAIN) for phrase in check.start] + _returned(commands)
    lines += command_lines([each for each in commands.commands if each.id == "save"])
    return Listed(lines, _rules(check, commands), where="start", fillers=fillers)


def for_replacement(check: Check, commands: Commands, fillers: tuple[str, ...] = ()) -> Listed:
    """What may be heard after a fault: "swapped" alone, "number" (slot `number`), "unmarked", "no_spare", commands."""
    lines = [line for answer in ("swapped", "number", "unmarked", "no_spare") for line in _answer(answer, commands)]
    lines += command_lines(commands.commands)
    return Listed(lines, _rules(check, commands), where="replacement", fillers=fillers)


def for_number(check: Check, commands: Commands, fillers: tuple[str, ...] = ()) -> Listed:
    """What may be heard after a replacement's number was asked for: as for_replacement, and the number alone."""
    lines = [Line(line.phrase, "number", line.care) for line in _answer("bare_number", commands)]
    lines += for_replacement(check, commands).lines
    rules = _rules(check, commands)
    lone = tuple(sorted(words_of(rules["lone_figure"], rules)))
    return Listed(lines, rules, where="number", fillers=fillers, lone=lone)


def _answer(answer_id: str, commands: Commands) -> list[Line]:
    phrases = commands.answer(answer_id).phrases
    return [Line(phrase, answer_id, _care(phrase)) for phrase in phrases]


def _returned(commands: Commands) -> list[Line]:
    return _answer("returned", commands) if commands.knows("returned") else []


def for_waiting(check: Check, commands: Commands, fillers: tuple[str, ...] = ()) -> Listed:
    """What may be heard while the check waits: carry on, where are we, stop the check, save the log."""
    kept = [each for each in commands.commands if each.is_aside or each.id in ("carry_on", "where", "stop", "save")]
    return Listed(command_lines(kept), _rules(check, commands), where="waiting", fillers=fillers)


def for_closed(check: Check, commands: Commands, fillers: tuple[str, ...] = ()) -> Listed:
    """What may be heard after the verdict: that it is taken back, said again, or noted upon, or the log saved."""
    wanted = ("correct", "repeat", "where", "note", "save")
    kept = [each for each in commands.commands if each.is_aside or each.id in wanted]
    return Listed(command_lines(kept), _rules(check, commands), where="closed", fillers=fillers)


def for_group(check: Check, commands: Commands, fillers: tuple[str, ...] = ()) -> Listed:
    """What may be heard between the divers of a group: its commands, that they are back, that the log be saved."""
    lines = command_lines(each for each in commands.commands if each.is_aside or each.id == "save")
    lines += _returned(commands)
    return Listed(lines, _rules(check, commands), where="group", fillers=fillers)


def for_confirm(check: Check, commands: Commands, fillers: tuple[str, ...] = (), step: Step | None = None) -> Listed:
    """What may be heard after something was read back: "yes", "no", commands, and the faults of a step's answer."""
    lines = [Line(phrase, "yes", Care.FINAL) for phrase in commands.answer("yes").phrases]
    lines += [Line(phrase, "no", Care.PLAIN) for phrase in commands.answer("no").phrases]
    lines += command_lines(commands.commands)
    rules = _rules(check, commands)
    if step:
        try:
            return Listed([*lines, *fault_lines(step)], rules, where="confirm", fillers=fillers)
        except GrammarError:
            pass  # a centre's fault phrase is also a yes or a no: the check goes on without faults here
    return Listed(lines, rules, where="confirm", fillers=fillers)


def for_note() -> Unlisted:
    """What may be heard while a note is spoken: nothing."""
    return Unlisted()


def _rules(check: Check, commands: Commands) -> dict[str, Node]:
    texts = {**commands.rules, **check.rules}
    return with_numbers(texts, check.language)
