"""The box leads the trips planned for today before anybody else: by the button, until the guide leaves the group."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from assistant.app import Parts
from assistant.box import meant
from assistant.check.turns import Expects, Fact
from assistant.commands import box as command
from assistant.commands.box import Box, lead
from assistant.commands.options import Loaded, load_check
from assistant.day_plan import read_day_plan
from assistant.ears import KeyboardEars
from assistant.errors import SwitchedOff
from assistant.fitness import Gear
from assistant.judges import Judges
from assistant.language.box import shipped_box_words
from assistant.language.expected import Expected
from assistant.language.replies import shipped_replies
from assistant.mouth import ShownMouth
from assistant.record import Log
from assistant.sums.settings import defaults
from assistant.watchdog import Watchdog
from hardware.panel import Gesture

SHORT = Path(__file__).parents[1] / "commands/short.toml"
GOOD = {"hoses": "hoses gone over and okay", "inflator": "inflator adds gas and shuts off",
        "fins": "fins okay and straps okay"}  # fmt: skip
BACK = ["both breathed dry throughout", "jacket worked throughout", "everything stayed tight", "sixty bar",
        "yes that's right", "rinsed in fresh water", "both breathed in the shallows"]  # fmt: skip
HINT = "After the dive say back from the dive, for what came back."
RETURNED = ["back from the dive", "yes that's right"]
PLAN = b"trip,diver,regulator,jacket\nNorth reef,1,12,7\nNorth reef,2,14,8\n"


class Hands:
    """A guide with a list: "press" is the button, "good" the good answer to the step that is asked, "off" the end."""

    by = "voice"

    def __init__(self, doings: list[str]) -> None:
        self.doings, self.asked = doings, list[str]()

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        if expects.kind == "nothing":
            return meant(Gesture.PRESS, "nothing")
        self.asked.append(expects.kind)
        doing = self.doings.pop(0) if self.doings else "off"
        if doing in ("press", "off"):
            return meant(Gesture.LONG_HOLD if doing == "off" else Gesture.PRESS, expects.kind)
        words = GOOD[expects.step_id] if doing == "good" else doing
        return KeyboardEars(lambda prompt: words).hear(expects, expected)

    def note(self, window_s: float) -> None: ...
    def reopen(self) -> bool:
        return True


@pytest.fixture
def switch_on(
    model_folder: Path, tmp_path: Path, watching: Any, monkeypatch: pytest.MonkeyPatch
) -> Callable[..., tuple[list[str], list[str]]]:
    """switch_on(doings) leads until the button is held long; gives what was asked for and what the record then has."""
    loaded = load_check(str(SHORT), str(model_folder))
    monkeypatch.setattr(command, "load_check", lambda sequence, model: loaded)
    store = tmp_path / "record.db"

    def run(doings: list[str], plan: bytes = b"") -> tuple[list[str], list[str]]:
        hands = Hands(doings)

        @contextmanager
        def joined(box: Box, ready: Loaded, log: Log) -> Iterator[Parts]:
            yield Parts(log, hands, ShownMouth(), watching, ready.expected, shipped_replies("en"),
                        judges=Judges(box.centre))  # fmt: skip

        monkeypatch.setattr(command, "joined", joined)
        with command.open_log(str(store)) as log:
            if plan:
                rows = read_day_plan(plan, loaded.check, loaded.recogniser.knows)
                records = rows.records(loaded.check, date.today().isoformat())  # noqa: DTZ011 - a day on deck
                log.append_all("day-1", records, loaded.check.digest)
            began = max((entry.seq for entry in log.entries()), default=0)
        box = Box(Gear(store=str(store)), None, shipped_box_words(), Watchdog(lambda state: None), defaults())  # type: ignore[arg-type]
        with pytest.raises(SwitchedOff):
            lead(box)
        with command.open_log(str(store)) as log:
            assert log.verify().ok
            told = [brief(entry.kind, entry.facts) for entry in log.entries(after=began) if entry.kind in KINDS]
            return hands.asked, told

    return run


KINDS = {"diver_called": "place", "check_started": "", "continued": "", "answered": "step", "verdict_given": "verdict",
         "boat_judged": "verdict", "set_apart": "item"}  # fmt: skip


def brief(kind: str, facts: Any) -> str:
    return f"{kind} {facts.get(KINDS[kind], '')}".strip()


CHECKED = ["check_started", "answered hoses", "answered inflator", "answered fins", "verdict_given ready"]


def test_without_a_plan_a_press_begins_a_check(switch_on: Callable[..., tuple[list[str], list[str]]]) -> None:
    asked, record = switch_on(["press", "good"])
    assert asked == ["start", "step", "step"]
    assert record == ["check_started", "answered hoses"]


def test_a_press_calls_diver_after_diver(switch_on: Callable[..., tuple[list[str], list[str]]]) -> None:
    asked, record = switch_on(["press", *["good"] * 3, "press", *["good"] * 3, "leave the group", "press"], PLAN)
    assert asked == ["group", *["step"] * 3, "group", *["step"] * 3, "group", "start", "step"]
    assert record == ["diver_called 1", *CHECKED, "diver_called 2", *CHECKED, "boat_judged ready", "check_started"]
    assert switch_on([])[0] == ["step"]  # the trip is ready: the next start goes on with the check that was begun


def test_switched_off_in_a_trip_it_goes_on_there(switch_on: Callable[..., tuple[list[str], list[str]]]) -> None:
    switch_on(["press", "good"], PLAN)
    asked, record = switch_on(["good", "good", "leave the group", "press", "good"])
    assert record == [
        "diver_called 1", "continued", *CHECKED[2:], "check_started", "answered hoses",
    ]  # fmt: skip
    assert asked == ["step", "step", "group", "start", "step", "step"]


def test_a_check_of_a_trip_that_was_left_is_not_taken_up_alone(
    switch_on: Callable[..., tuple[list[str], list[str]]]
) -> None:
    asked, record = switch_on(["press", "good", "leave the group", "press"], PLAN)
    assert asked == ["group", "step", "step", "start", "step"]
    assert record == ["diver_called 1", "check_started", "answered hoses", "check_started"]


ASKED = [f"answered {step}" for step in ("breathing", "inflator", "leaks", "pressure_left", "rinsed", "drill")]
SOUND = ["check_started", *ASKED, "verdict_given sound"]
ALL_READY = ["press", *["good"] * 3, "press", *["good"] * 3]


def test_back_from_the_dive_its_return_check_follows(
    switch_on: Callable[..., tuple[list[str], list[str]]], watching: Any
) -> None:
    _, record = switch_on([*ALL_READY, *RETURNED, "press", *BACK, "press", *BACK, "leave the group", "press"], PLAN)
    assert record[12:] == ["boat_judged ready", "diver_called 1", *SOUND, "diver_called 2", *SOUND, "check_started"]
    assert "North reef is back from its dive? Say yes confirmed, or no that's wrong, please." in watching.lines
    assert switch_on([])[0] == ["step"], "the trip is over, and was taken up again"


def test_a_press_says_how_the_return_check_begins(
    switch_on: Callable[..., tuple[list[str], list[str]]], watching: Any
) -> None:
    switch_on([*ALL_READY, "press"], PLAN)
    assert watching.lines[watching.lines.index("Nobody is waiting for a check.") + 1] == HINT
    assert watching.lines.count(HINT) == 2, "once with the verdict, once with the press"


def test_a_group_that_was_left_may_come_back(
    switch_on: Callable[..., tuple[list[str], list[str]]], watching: Any
) -> None:
    """Heard where a check waits for its beginning, also after another start; switched off in it, it goes on there."""
    switch_on([*ALL_READY, "leave the group"], PLAN)
    asked, record = switch_on([*RETURNED, "press", "wet breath"])
    assert HINT in watching.lines
    assert asked == ["start", "confirm", "group", "step", "step"]
    assert record == ["diver_called 1", "check_started", "answered breathing", "set_apart regulator"]
    asked, record = switch_on([*BACK[1:], "press", *BACK, "leave the group", "press"])
    assert asked[0] == "step"
    assert record[:2] == ["diver_called 1", "continued"]
    assert [kind for kind in record if kind.startswith("verdict")] == ["verdict_given faulty", "verdict_given sound"]
    assert record[-1] == "check_started"


@pytest.mark.parametrize("answer", ["no that's wrong", "back from the dive"])
def test_only_a_yes_begins_it(switch_on: Callable[..., tuple[list[str], list[str]]], answer: str) -> None:
    asked, record = switch_on(["press", *["good"] * 3, "back from the dive", answer, answer, "press", "good"], PLAN)
    assert record == ["diver_called 1", *CHECKED, "diver_called 2", "check_started", "answered hoses"]
    assert asked.count("confirm") == (1 if answer.startswith("no") else 2)


def test_no_trip_is_out(switch_on: Callable[..., tuple[list[str], list[str]]], watching: Any) -> None:
    asked, record = switch_on(["leave the group", "back from the dive", "press"], PLAN)
    assert (asked, record) == (["group", "start", "start", "step"], ["check_started"])
    assert "No trip of today is out." in watching.lines
    assert HINT not in watching.lines


def test_without_a_plan_nobody_comes_back(switch_on: Callable[..., tuple[list[str], list[str]]]) -> None:
    asked, record = switch_on(["back from the dive", "press"])
    assert (asked, record) == (["start", "start", "step"], ["check_started"])


def test_of_two_trips_the_one_agreed_to_is_asked(
    switch_on: Callable[..., tuple[list[str], list[str]]]
) -> None:
    two = PLAN + b"South wall,1,20,21\nSouth wall,2,22,23\n"
    first = ["press", *["good"] * 3, "leave the group"]
    doings = [*first, *first, "back from the dive", "no that's wrong", "yes that's right", "press", BACK[0]]
    asked, record = switch_on(doings, two)
    assert asked[-6:-1] == ["start", "confirm", "confirm", "group", "step"]
    assert record[-3:] == ["diver_called 2", "check_started", "answered breathing"]
