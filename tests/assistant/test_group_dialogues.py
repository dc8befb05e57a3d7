"""The group dialogues of tests/dialogues/groups, typed, and a short one spoken to the real ear.

    plan: North reef,1,12,7   a line of the day's plan
    apart: jacket 7           set apart by somebody after the plan was made
    after the dive            the return check is led
    > next diver              what the guide says       < diver one now     said by kitcall since then, in order
    = diver_called 1          the record: all of these kinds, as a whole list
    ! ready                   never said
"""

from __future__ import annotations

import itertools
import re
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from assistant.app import Parts
from assistant.boat_back import lead
from assistant.boat_roster import Outing
from assistant.check.turns import Expects, Fact
from assistant.commands.options import Loaded, load_check
from assistant.day_plan import read_day_plan
from assistant.ears import KeyboardEars
from assistant.events import Heard
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.files import grammar_file
from assistant.language.group import with_group
from assistant.language.replies import shipped_replies
from assistant.mouth import ShownMouth
from assistant.record import Log, day_entries
from assistant.rehearsal.diver import frames
from audio.ear import Ear
from audio.frames import Frame

TESTS = Path(__file__).parents[1]
FILES = sorted((TESTS / "dialogues/groups").glob("*.txt"))
AGREED = "yes confirmed"
FACTS = {
    "diver_called": ("place",), "answered": ("step", "outcome"), "set_apart": ("item", "number"),
    "replaced": ("item", "new"), "no_spare": ("item",), "verdict_given": ("verdict",), "boat_judged": ("verdict",),
    "kit_exchanged": ("one", "other", "items"), "diver_taken_off": ("place",), "item_given": ("item", "new"),
    "item_missing": ("item",),
}  # fmt: skip


def marked(text: str, mark: str) -> list[str]:
    return [line.removeprefix(mark).strip() for line in text.splitlines() if line.startswith(mark)]


def plain(line: str) -> list[str]:
    return re.findall(r"[a-z0-9']+", line.lower())


def holds(line: str, words: str) -> bool:
    left = iter(plain(line))
    return all(word in left for word in plain(words))


def is_half_heard(line: str, expects: Expects, expected: Expected) -> bool:
    """Whether a diver, a pass or a fault was read back; numbers are in the dialogues themselves."""
    faults = expected.check.step(expects.step_id).faults if expects.step_id else ()
    return bool(re.search(r"Diver \w+\?|all well", line)) or any(f"A fault, {fault.name}?" in line for fault in faults)


class Guide:
    """Says the next line of a dialogue once what was hoped for was said; `aloud` gives the fact that is heard."""

    def __init__(self, text: str, lines: list[str], by: str, aloud: Callable[[str, Expects, Expected], Fact]) -> None:
        self.by, self._lines, self._aloud, self._from = by, lines, aloud, 0
        self._left = deque(line for line in text.splitlines() if line[:1] in "<>" and line)

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        if expects.kind == "nothing":
            return KeyboardEars().hear(expects, expected)
        if expects.kind == "confirm" and is_half_heard(self._lines[-1], expects, expected):
            return self._aloud(AGREED, expects, expected)  # heard rightly, and not surely: no line of a dialogue
        self.look()
        assert self._left, f"kitcall asks on: {self._lines[-1]}"
        return self._aloud(self._left.popleft()[2:], expects, expected)

    def look(self) -> None:
        """Whether all was said that was hoped for, in this order."""
        said = iter(self._lines[self._from :])
        while self._left and self._left[0].startswith("<"):
            words = self._left.popleft()[2:]
            assert any(holds(line, words) for line in said), f"{words!r} was not said in {self._lines[self._from :]}"
        self._from = len(self._lines)

    def end(self) -> None:
        self.look()
        assert not self._left, f"it ended before {self._left[0]!r}: {self._lines[-3:]}"

    def note(self, window_s: float) -> None: ...
    def reopen(self) -> bool:
        return False


@pytest.fixture(scope="module")
def short(model_folder: Path) -> Loaded:
    return load_check(str(TESTS / "commands/short.toml"), str(model_folder))


@pytest.fixture(scope="module")
def after(model_folder: Path) -> Loaded:
    return load_check(str(grammar_file("checks/return.toml")), str(model_folder))


Aloud = Callable[[str, Expects, Expected], Fact]


def typed(words: str, expects: Expects, expected: Expected) -> Fact:
    return KeyboardEars(lambda prompt: words).hear(expects, expected)


@pytest.fixture
def play(short: Loaded, after: Loaded, log: Log, watching: Any) -> Callable[..., list[str]]:
    """play(text, by, aloud) leads the group; gives the record in brief."""

    def run(text: str, by: str = "typed", aloud: Aloud = typed) -> list[str]:
        after_dive = "\nafter the dive\n" in text
        led = after if after_dive else short
        plan = read_day_plan("\n".join(marked(text, "plan:")).encode(), led.check, led.recogniser.knows)
        assert plan.refusals == ()
        log.append_all("day-1", plan.records(led.check, "2026-05-04"), led.check.digest)
        for item, number in (line.split() for line in marked(text, "apart:")):
            log.append_all("other", [("set_apart", {"item": item, "number": number, "step": "", "code": ""})], "")
        names = [row.diver for row in plan.rows if row.diver.isalpha() and row.diver != "spare"]
        guide = Guide(text, watching.lines, by, aloud)

        @contextmanager
        def opened(outing: Outing) -> Iterator[Parts]:
            commands = with_group(shipped_commands(), outing.check, names, led.recogniser.knows)
            yield Parts(log, guide, ShownMouth(), watching, Expected(outing.check, commands, led.recogniser.knows),
                        shipped_replies("en"), save_log=lambda say: say("Copied."))  # fmt: skip

        ids = (f"s{number}" for number in itertools.count(1))
        lead(Outing("day-1", 1, short.check, after.check, after_dive), opened, lambda: next(ids))
        guide.end()
        never = marked(text, "!")
        assert [line for line in watching.lines for words in never if words in plain(line)] == []
        told = [entry.link.facts for entry in log.entries()]
        assert [facts for facts in told for name in names if name in facts.lower()] == []
        assert log.verify().ok
        return [brief(entry.kind, entry.facts) for entry in day_entries(log, "day-1") if entry.kind in FACTS
                and entry.session != "other"]  # fmt: skip

    return run


def brief(kind: str, facts: Mapping[str, Any]) -> str:
    values = [facts[key] for key in FACTS[kind]]
    return " ".join([kind, *(" ".join(value) if isinstance(value, list) else str(value) for value in values)])


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_typed(play: Callable[..., list[str]], path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert play(text) == marked(text, "=")


def test_a_diver_named_unsurely_is_read_back(play: Callable[..., list[str]], watching: Any) -> None:
    """Another number read nearly as well: once denied, nothing is done; once agreed to, the diver is called."""
    answers = deque(["no that's wrong", AGREED])

    def unsure(words: str, expects: Expects, expected: Expected) -> Fact:
        fact = typed(answers.popleft() if words == AGREED else words, expects, expected)
        is_diver = isinstance(fact, Heard) and fact.match.meaning == "command:diver"
        return Heard(replace(fact.match, is_unsure=True)) if is_diver and isinstance(fact, Heard) else fact

    text = (TESTS / "dialogues/groups/two_divers.txt").read_text(encoding="utf-8")
    denied = text.replace("> diver two\n", "> diver two\n< Nothing was changed\n> diver two\n", 1)
    assert play(denied, "typed", unsure) == marked(text, "=")
    assert watching.lines.count("Diver two? Say yes confirmed, or no that's wrong, please.") == 2


SPOKEN = [
    ("two_divers", "gmw/en-us"), ("two_divers", "gmw/en-gb-x-rp"), ("five_divers", "gmw/en-gb-x-rp"),
    ("out_and_back", "gmw/en-us"), ("out_and_back", "gmw/en-gb-x-rp"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "voice"), SPOKEN, ids=[f"{name} {voice}" for name, voice in SPOKEN])
def test_spoken(
    play: Callable[..., list[str]], speak: Callable[[str, str, int], Frame], short: Loaded, name: str, voice: str
) -> None:
    """The same record by voice; what is not understood is said again at another pace, never taken for another thing."""
    ear, doubts, wrong = Ear(short.recogniser), list[str](), list[str]()

    def aloud(words: str, expects: Expects, expected: Expected) -> Fact:
        for rate_wpm in (150, 165, 130, 175):
            fact = ear.listen(frames(speak(words, voice, rate_wpm)), expected.at(expects), expects.window_s)
            if isinstance(fact, Heard):
                meant = expected.at(expects).match(tuple(words.split()))
                said = [(match.meaning, match.slots.get("any_diver")) for match in (fact.match, meant) if match]
                wrong.extend([f"{words}: {fact.match.text}"] if len(set(said)) != 1 else [])
                return fact
            doubts.append(words)
        return fact

    text = (TESTS / f"dialogues/groups/{name}.txt").read_text(encoding="utf-8")
    kept = play(text, "voice", aloud)
    print(name, voice, "said again:", doubts)
    assert wrong == []
    assert kept == marked(text, "=")


BETWEEN = """
plan: trip,diver,regulator,jacket
plan: North reef,1,12,7
plan: North reef,2,14,8
> next diver
> hoses gone over and okay
< all well
> no that's wrong
< nothing was changed
< it counts for nothing
> leave the group
"""


def test_a_group_word_while_a_pass_is_read_back_ends_the_reading_back(play: Callable[..., list[str]]) -> None:
    """A yes after it may have been meant for the group, so the step is asked anew."""
    said = ["take diver two off the trip"]

    def half_heard(words: str, expects: Expects, expected: Expected) -> Fact:
        if words == AGREED:
            return typed(said.pop(), expects, expected)
        fact = typed(words, expects, expected)
        is_pass = isinstance(fact, Heard) and fact.match.meaning == "pass"
        return Heard(replace(fact.match, is_unsure=True)) if is_pass else fact

    assert [line for line in play(BETWEEN, "voice", half_heard) if line.startswith("answered")] == []
    assert said == []
