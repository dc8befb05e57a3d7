"""Numbers in a whole conversation: typed lines for every rule, real speech for what is refused, agreed to, taken back.

The first words of the record are the numbers as judged; what kitcall says names the number and the reason.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from assistant.__main__ import main
from assistant.check.turns import Expects
from assistant.ears import KeyboardEars
from assistant.judges import Judges
from assistant.sums import settings

STOP = "stop the check"
HURRIED = settings.load(Path(__file__).parents[1] / "hurried.toml")


class Lines:
    """Types the given answers at one step, a good kit's at the steps before it, and then stops the check.

    An answer to a read-back is among the given ones, after the answer that led to it.
    """

    def __init__(self, good: dict[str, str], step: str, answers: Sequence[str]) -> None:
        self._good, self._step, self._answers = good, step, list(answers)
        self.reached = False

    def __call__(self, expects: Expects) -> str:
        if expects.kind == "start":
            return "start the check"
        self.reached = self.reached or expects.step_id == self._step
        if not self.reached:
            return self._good[expects.step_id]
        if expects.kind == "replacement":
            return "no spare"
        return self._answers.pop(0) if self._answers else STOP


@pytest.fixture
def typed(hold: Callable[..., Any], good: dict[str, str]) -> Callable[..., Any]:
    """typed(step, answers): a conversation in which these lines are typed at that step."""

    def run(step: str, answers: Sequence[str], answered: Callable[[], None] = lambda: None, **parts: Any) -> Any:
        answer = Lines(good, step, answers)

        class Ears(KeyboardEars):
            def hear(self, expects: Any, expected: Any) -> Any:
                answered()
                self._read_line = lambda prompt: answer(expects)
                return super().hear(expects, expected)

        return hold(Ears(), **parts)

    return run


def answers_at(held: Any, step: str) -> list[tuple[Any, ...]]:
    """The answers to that step: outcome, finding, number, fault; withdrawn ones too."""
    keys = ("outcome", "finding", "value", "code")
    return [tuple(e.facts.get(key) for key in keys) for e in held.of("answered") if e.facts["step"] == step]


TYPED: list[tuple[str, str, Sequence[str], list[tuple[Any, ...]], str]] = [
    ("bar", "pressure", ["one nine five bar"], [("passed", "enough", 195.0, None)],
     "One nine five bar, enough: one eight zero bar is asked for."),
    ("psi", "pressure", ["twenty nine hundred p s i"], [("passed", "enough", 2900.0, None)],
     "Two nine zero zero p s i, enough: two six one one p s i is asked for."),
    ("too little", "pressure", ["one seven nine"], [("fault", "low", 179.0, "low_pressure")],
     "One seven nine bar is below the one eight zero bar this centre asks for. Not enough for the plan."),
    ("too much", "pressure", ["three two zero bar"], [("fault", "high", 320.0, "over_pressure")],
     "Three two zero bar is above three one zero bar, more than this centre fills."),
    ("warm", "pressure", ["two hundred bar temperature twenty five degrees"], [("passed", "enough", 200.0, None)],
     "Two zero zero bar, at two five degrees, enough"),
    ("read back and agreed", "pressure", ["one ninety bar", "yes that's right"], [("passed", "enough", 190.0, None)],
     "I heard one nine zero bar."),
    ("read back and not agreed", "pressure", ["one ninety bar", "no that's wrong", "one nine five"],
     [("passed", "enough", 195.0, None)], "Then read it again, figure by figure."),
    ("fifteen against fifty", "pressure", ["one fifteen", "yes that's right"],
     [("fault", "low", 115.0, "low_pressure")], "I heard one one five bar."),
    ("taken back", "pressure", ["one nine five", "correct that", "two hundred"],
     [("passed", "enough", 195.0, None), ("passed", "enough", 200.0, None)], "Taken back."),
    ("a fault taken back", "pressure", ["one seven nine bar", "correct that", "one nine seven bar"],
     [("fault", "low", 179.0, "low_pressure")], "Without a spare"),
    ("stamp in date", "test_stamp", ["stamp reads march twenty twenty four"], [("passed", "good", 202403, None)],
     "Tested march two zero two four, good through march two zero two nine, noted."),
    ("stamp by figures", "test_stamp", ["oh three two zero two four"], [("passed", "good", 202403, None)],
     "Tested march two zero two four"),
    ("stamp out", "test_stamp", ["tested march twenty twenty"], [("fault", "out", 202003, "out_of_date")],
     "Tested march two zero two zero, and good only through march two zero two five: out of test. Out of date."),
    ("air", "contents_label", ["label says air"], [("passed", "matches", 20.9, None)],
     "Air, air planned: deepest five six metres, noted."),
    ("another mix", "contents_label", ["label says thirty one point eight"], [("fault", "differs", 31.8, "wrong_gas")],
     "Three one point eight percent is more than one percent from the air planned."),
    ("breaths by words", "breaths_main", ["three dry breaths needle solid"], [("passed", None, None, None)],
     "Main breaths passed."),
    ("breaths by numbers", "breaths_main", ["started two hundred lowest two hundred"],
     [("passed", "steady", 200.0, None)], "Started two zero zero bar, lowest two zero zero bar: three breaths take"),
    ("breaths in p s i", "breaths_main", ["started twenty nine hundred lowest twenty nine hundred p s i"],
     [("passed", "steady", 2900.0, None)], "lowest two nine zero zero p s i: three breaths take six p s i to"),
    ("dipped and back", "breaths_main", ["needle started two hundred lowest one eight zero ended two hundred", STOP],
     [("fault", "restricted", 200.0, "needle_moves")], "dipped two zero bar, came back two zero bar"),
    ("fell and stayed", "breaths_main", ["started two hundred lowest one eight five ended one eight five", STOP],
     [("fault", "fallen", 200.0, "falls_fast")], "the most this cylinder loses. A small cylinder"),
    ("fell, not seen back", "breaths_main", ["started two hundred lowest one eight five", STOP], [],
     "Read start, lowest and end."),
    ("no loss", "pressure_again", ["two hundred bar"], [("passed", "unproved", 200.0, None)],
     "Two zero zero bar after zero minutes: no more gone than the check takes, and too early to rule out a leak of "
     "two zero litres a minute, which takes eight minutes."),
    ("lost", "pressure_again", ["one seven zero", "yes that's right"], [("fault", "leaks", 170.0, "pressure_lost")],
     "One seven zero bar after zero minutes: three zero bar gone, more than the check itself takes. Gas goes"),
    ("gained", "pressure_again", ["two two zero bar"], [], "two zero bar more than before, so one reading is wrong."),
]  # fmt: skip


@pytest.mark.parametrize(("step", "lines", "answers", "words"), [r[1:] for r in TYPED], ids=[r[0] for r in TYPED])
def test_typed(
    typed: Callable[..., Any], step: str, lines: Sequence[str], answers: list[tuple[Any, ...]], words: str
) -> None:
    held = typed(step, lines)
    assert answers_at(held, step) == answers
    assert words in " ".join(held.seen.lines)
    assert held.sound
    assert {e.facts["settings"] for e in held.of("answered") if "judged" in e.facts} == {HURRIED.digest}


# A centre's default: too early, the check waits, and the reading counts only when it is made again. Minutes an answer.
WAITED: list[tuple[str, float, Sequence[str], list[tuple[Any, ...]], str]] = [
    ("in time", 0.5, ["two hundred bar"], [("passed", "none_shown", 200.0, None)],
     "Two zero zero bar after nine minutes: no leak that this gauge could show"),
    ("too soon", 0.1, ["two hundred bar", "carry on", STOP], [],
     "Two zero zero bar after one minute: too early to rule out a leak of two zero litres a minute. Read it again in "
     "six minutes, please. Waiting. Say carry on"),
    ("too soon, twice, then in time", 0.4, ["two hundred bar", "carry on", "two hundred bar", "carry on"] * 2 + [
     "two hundred bar"], [("passed", "none_shown", 200.0, None)], "after eight minutes: no leak"),
    ("nothing counts while it waits", 0.1, ["two hundred bar", "two hundred bar", "carry on", STOP], [], "Waiting."),
    ("no number is kept for later", 0.2, ["one ninety bar", "yes that's right", "carry on", "yes that's right",
     STOP], [], "Read the pressure once more."),
    ("left open", 0.1, ["two hundred bar", "carry on", "come back to it later", "come back to it later"], [],
     "Pressure again still open"),
]  # fmt: skip


@pytest.mark.parametrize(("minutes", "lines", "answers", "words"), [r[1:] for r in WAITED], ids=[r[0] for r in WAITED])
def test_a_second_pressure_read_too_soon_waits(
    typed: Callable[..., Any], minutes: float, lines: Sequence[str], answers: list[tuple[Any, ...]], words: str
) -> None:
    passed = [datetime(2026, 11, 25, 8, tzinfo=UTC)]

    def answered() -> None:
        passed[0] += timedelta(minutes=minutes)

    held = typed("pressure_again", lines, answered, judges=Judges(settings.defaults()), wall=lambda: passed[0])
    assert answers_at(held, "pressure_again") == answers
    assert words in " ".join(held.seen.lines)
    assert held.verdict.ready == bool(answers)
    early = [e for e in held.of("doubted") if e.facts["why"] == "too_soon"]
    assert [e.facts["why"] for e in held.of("paused")] == ["too_soon"] * len(early)


# What cannot be meant: what was understood and what is expected is said, and no answer is recorded.
BAD: list[tuple[str, str, str, str]] = [
    ("negative", "pressure", "minus two hundred bar",
     "Minus two zero zero bar cannot be. From one bar to three three zero bar is possible."),
    ("zero", "pressure", "zero bar", "Zero bar cannot be. From one bar to three three zero bar is possible."),
    ("absurd", "pressure", "nine hundred and ninety bar", "Nine nine zero bar cannot be."),
    ("another unit", "pressure", "three thousand bar", "Three zero zero zero bar cannot be."),
    ("another unit, unsaid", "pressure", "twenty nine hundred",
     "Two nine zero zero bar cannot be. From one bar to three three zero bar is possible. If it is two nine zero zero "
     "p s i, say the unit too."),
    ("another unit of psi", "pressure", "five p s i", "Five p s i cannot be."),
    ("negative, the second time", "pressure_again", "minus two hundred bar",
     "Minus two zero zero bar cannot be. From zero bar to three three zero bar is possible."),
    ("too warm", "pressure", "two hundred bar temperature eighty five degrees",
     "Eight five degrees cannot be. From minus one zero degrees to six zero degrees is possible."),
    ("lowest above start", "breaths_main", "started one hundred lowest two hundred",
     "Started one zero zero bar, lowest two zero zero bar: breathing takes gas, so one of these is wrong. Read start, "
     "lowest and end."),
    ("end above start", "breaths_main", "started one hundred lowest one hundred ended two hundred",
     "ended two zero zero bar: breathing takes gas, so one of these is wrong."),
    ("too little gas", "breaths_main", "started twenty lowest twenty",
     "Started two zero bar, lowest two zero bar: too little gas to tell, three zero bar or more is needed."),
    ("negative in between", "breaths_main", "started two hundred lowest minus one eight zero ended two hundred",
     "Minus one eight zero bar cannot be. From zero bar to three three zero bar is possible."),
    ("another unit in between", "breaths_main", "started three thousand lowest twenty nine hundred",
     "Three zero zero zero bar cannot be. From one bar to three three zero bar is possible."),
    ("oxygen of 2.1", "contents_label", "label says two point one percent",
     "Two point one percent cannot be. From two zero percent to four zero percent is possible."),
    ("oxygen of 210", "contents_label", "label says two hundred and ten percent", "Two one zero percent cannot be."),
    ("negative oxygen", "contents_label", "label says minus thirty two percent", "Minus three two percent cannot be."),
    ("a stamp of the future", "test_stamp", "stamp reads march twenty forty four",
     "March two zero four four cannot be. From january one nine five zero to november two zero two six is possible. "
     "Read the stamp again."),
    ("a stamp of the wrong century", "test_stamp", "stamp reads march nineteen twenty four",
     "March one nine two four cannot be."),
]  # fmt: skip


@pytest.mark.parametrize(("step", "line", "words"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_what_cannot_be_meant_is_refused_typed(typed: Callable[..., Any], step: str, line: str, words: str) -> None:
    held = typed(step, [line])
    assert answers_at(held, step) == []
    assert words.lower() in " ".join(held.seen.lines).lower()
    assert not held.verdict.ready


# This voice's "minus" amid a long line is heard in some renderings only: espeak flutters, no two are alike.
SAID = [row for row in BAD if row[0] != "negative in between"]


@pytest.mark.parametrize(("step", "line", "words"), [row[1:] for row in SAID], ids=[row[0] for row in SAID])
def test_what_cannot_be_meant_is_refused_by_voice(
    spoken: Callable[..., Any], good: dict[str, str], step: str, line: str, words: str
) -> None:
    """Spoken at most four times; a hearing that is none of the words is no refusal, and no answer either."""
    tries: list[str] = []
    said = hear_at(spoken, good, step, lambda expects: tries.append(line) or (line if len(tries) < 5 else STOP))
    assert answers_at(said, step) == []
    assert words.lower() in " ".join(said.seen.lines).lower()


def hear_at(
    spoken: Callable[..., Any], good: dict[str, str], step: str, answer: Callable[[Expects], str]
) -> Any:
    """A check typed up to the step, and spoken from there on."""
    reached: list[bool] = []

    def typed(expects: Expects) -> str:
        if expects.kind == "start":
            return "start the check"
        if expects.step_id == step:
            reached.append(True)
        return "" if reached else good[expects.step_id]

    return spoken(answer, "gmw/en-us", typed=typed)


SPOKEN: list[tuple[str, str, Sequence[str], list[tuple[Any, ...]]]] = [
    ("psi", "pressure", ["three thousand p s i", STOP], [("passed", "enough", 3000.0, None)]),
    ("agreed", "pressure", ["one ninety bar", "yes that's right", STOP], [("passed", "enough", 190.0, None)]),
    ("not agreed", "pressure", ["one ninety bar", "no that's wrong", "one nine five bar", STOP],
     [("passed", "enough", 195.0, None)]),
    ("fifteen", "pressure", ["one fifteen bar", "yes that's right", "no spare", STOP],
     [("fault", "low", 115.0, "low_pressure")]),
    ("taken back", "pressure", ["one nine five bar", "correct that", "two zero five bar", STOP],
     [("passed", "enough", 195.0, None), ("passed", "enough", 205.0, None)]),
    ("mix", "contents_label", ["label says thirty one point eight percent", "no spare", STOP],
     [("fault", "differs", 31.8, "wrong_gas")]),
    ("stamp out", "test_stamp", ["stamp reads may twenty twenty", "no spare", STOP],
     [("fault", "out", 202005, "out_of_date")]),
    ("breaths", "breaths_main", ["started two hundred lowest two hundred", STOP], [("passed", "steady", 200.0, None)]),
    ("breaths in p s i", "breaths_main", ["started twenty nine hundred lowest twenty nine hundred p s i", STOP],
     [("passed", "steady", 2900.0, None)]),
    ("lost", "pressure_again", ["one six five bar", STOP], [("fault", "leaks", 165.0, "pressure_lost")]),
]  # fmt: skip


@pytest.mark.parametrize(("step", "lines", "answers"), [r[1:] for r in SPOKEN], ids=[r[0] for r in SPOKEN])
def test_spoken(
    spoken: Callable[..., Any], good: dict[str, str], step: str, lines: Sequence[str], answers: list[tuple[Any, ...]]
) -> None:
    """Each line is said once; what is not understood is said again, as the re-prompt asks."""
    left = list(lines)

    def answer(expects: Expects) -> str:
        return left.pop(0) if left else STOP

    held = hear_at(spoken, good, step, answer)
    doubts = [(e.facts["why"], e.facts["heard"]) for e in held.of("doubted")]
    print(doubts)
    assert (answers_at(held, step), doubts) == (answers, [])


def test_a_centres_settings_file(good: dict[str, str], tmp_path: Path, model_folder: Path) -> None:
    """kitcall check --settings: 160 bar is enough where the centre says so, and the record says by which settings."""
    own = tmp_path / "centre.toml"
    own.write_text("[kit]\nlow_bar = 150\n", encoding="utf-8")
    steps = list(good)[: list(good).index("pressure")]
    lines = "\n".join([*(good[step] for step in steps), "one six five bar", STOP]) + "\n"
    command = ["check", "--typed", "--quiet", "--now", "--store", str(tmp_path / "r.db"), "--model", str(model_folder)]
    told = {name: CliRunner().invoke(main, [*command, "--new", *more], input=lines).output
            for name, more in (("own", ("--settings", str(own))), ("built in", ()))}  # fmt: skip
    assert "One six five bar, enough: one five zero bar is asked for." in told["own"]
    assert "One six five bar is below the one eight zero bar" in told["built in"]


def test_settings_that_cannot_be_are_refused_before_the_check(tmp_path: Path, model_folder: Path) -> None:
    own = tmp_path / "centre.toml"
    own.write_text("[kit]\nlow_bar = 1500\n", encoding="utf-8")
    command = ["check", "--typed", "--quiet", "--store", str(tmp_path / "r.db"), "--settings", str(own)]
    result = CliRunner().invoke(main, [*command, "--model", str(model_folder)])
    assert (result.exit_code, "kit.low_bar was understood as 1500" in result.output) == (2, True)
