"""What is heard well of what a guide says: each answer a few times, counted, and one piece of advice for each.

Nothing is recorded, and no check is led; what was said is forgotten with the table, unless clips are asked for.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from assistant.check.steps import Check, Step
from assistant.events import Doubted, Heard, Hearing, Silent, Why
from assistant.language.phrases import Rules, longest
from assistant.language.rules import parse_once, with_numbers

GOOD_SHARE = 0.99  # said three times and understood three times
MOST_FORMS = 400


@dataclass(frozen=True, slots=True)
class Saying:
    """One answer to practise: words of `step`, and what they must be heard as."""

    step: str
    words: str
    meaning: str


@dataclass(slots=True)
class Tally:
    """How one answer was heard: `right` of `times`, `back` of them only after being read back; `wrong` are other
    meanings taken, `doubts` the reasons."""

    saying: Saying
    times: int = 0
    right: int = 0
    back: int = 0
    wrong: Counter[str] = field(default_factory=Counter)
    doubts: Counter[str] = field(default_factory=Counter)

    def count(self, hearing: Hearing) -> None:
        """Take one hearing in."""
        self.times += 1
        match hearing:
            case Heard(match=match) if match.meaning == self.saying.meaning:
                self.right += 1
                self.back += not match.is_taken
            case Heard(match=match):
                self.wrong[match.meaning] += 1
            case Doubted(why=why):
                self.doubts[why.value] += 1
            case Silent():
                self.doubts["silent"] += 1


def sayings(check: Check, step_ids: Sequence[str], faults: bool) -> Iterator[Saying]:
    """Each pass phrase of the steps at its longest, and, with `faults`, the first phrase of each fault."""
    rules = with_numbers(check.rules, check.language)
    for step in check.steps:
        if not step_ids or step.id in step_ids:
            yield from (Saying(step.id, words, meaning) for words, meaning in _phrases(step, rules, faults))


def _phrases(step: Step, rules: Rules, faults: bool) -> Iterator[tuple[str, str]]:
    named = [(phrase, "pass") for phrase in step.passes]
    named += [(fault.phrases[0], f"fault:{fault.code}") for fault in step.faults] if faults else []
    for phrase, meaning in named:
        yield longest(parse_once(phrase), rules, MOST_FORMS), meaning


def go_through(sayings: Sequence[Saying], times: int, hear: Callable[[Saying, int], Hearing]) -> list[Tally]:
    """Each saying `times` times, by `hear`, which asks for it and gives what was heard."""
    tallies = []
    for saying in sayings:
        tally = Tally(saying)
        for turn in range(times):
            tally.count(hear(saying, turn))
        tallies.append(tally)
    return tallies


def advise(tally: Tally, others: Sequence[Tally]) -> str:
    """One piece of advice, the gravest first; `others` are the tallies of all answers."""
    if tally.wrong:
        return f"taken as {', '.join(tally.wrong)}: do not use it, and tell who keeps the sequence file"
    if not tally.times or tally.right / tally.times >= GOOD_SHARE:
        return f"heard well; {tally.back} of {tally.times} would be read back" if tally.back else "heard well"
    why = tally.doubts.most_common(1)[0][0]
    if why in FIRST_AID:
        return FIRST_AID[why]
    better = [each for each in others if each.saying.step == tally.saying.step
              and each.saying.meaning == tally.saying.meaning and each.right > tally.right]  # fmt: skip
    if better:
        return f'say "{max(better, key=lambda each: each.right).saying.words}" instead'
    return "say it slower and closer; if it stays so, add a phrase of your own to the sequence file"


FIRST_AID = {
    Why.TOO_LOUD.value: "too loud: further from the microphone, or turn it down",
    Why.TOO_FAINT.value: "hardly above the deck's noise: closer to the microphone",
    Why.EARLY.value: "begun too early: wait until it is asked",
    Why.MORE.value: "something else was said before or behind it, or somebody talks nearby",
    Why.NOISE.value: "noise and no words: closer to the microphone",
    "silent": "nothing was heard: look at the microphone with kitcall device",
}
