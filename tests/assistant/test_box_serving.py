"""What the service does when not all is well: it says so, starts no check, looks again, and goes on once it is fit."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from assistant.commands import box as command
from assistant.commands.box import Box, serve
from assistant.errors import StoreFull
from assistant.fitness import Finding, Gear
from assistant.language.box import shipped_box_words
from assistant.record import Reader
from assistant.sums.settings import defaults
from assistant.watchdog import Watchdog
from hardware.panel import Gesture, Panel
from hardware.rhythm import State, load_pins

FIT = [Finding("microphone", True, "there")]
DEAF = [Finding("microphone", False, "gone", "no_microphone", "Plug it in."), Finding("record", True, "there")]
DAMAGED = [Finding("record", False, "event 2", "record_damaged", "Look.")]


class Wires:
    def pressed(self) -> bool:
        return False

    def light(self, name: str, on: bool) -> None: ...
    def buzz(self, on: bool) -> None: ...
    def close(self) -> None: ...


class Keeper:
    """A box whose self-tests, hands at the button and checks are given; keeps what happened, in order."""

    def __init__(self, tests: list[list[Finding]], hands: list[Gesture | None], checks: list[Exception]) -> None:
        self._tests, self._hands, self._checks, self.did = tests, hands, checks, list[str]()
        self.panel = Panel(Wires(), load_pins())

    def look(self, gear: Gear) -> list[Finding]:
        self.did.append("tests itself")
        return self._tests.pop(0)

    def wait(self, box: Box) -> Gesture | None:
        self.did.append(f"waits, light {box.panel.state.value}")
        gesture = self._hands.pop(0)
        if gesture is Gesture.LONG_HOLD:
            raise command.SwitchedOff("The button was held long.")
        return gesture

    def lead(self, box: Box) -> None:
        self.did.append("leads")
        raise self._checks.pop(0)

    def tell(self, box: Box, lines: list[str]) -> None:
        self.did += [f"says {line}" for line in lines]


@pytest.fixture
def switch_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., tuple[list[str], list[str]]]:
    """switch_on(keeper) serves until somebody switches off; gives what happened and what systemd was told."""

    def run(keeper: Keeper) -> tuple[list[str], list[str]]:
        monkeypatch.setattr(command.fitness, "look", keeper.look)
        for name, does in (("wait_for_keeper", keeper.wait), ("lead", keeper.lead), ("tell", keeper.tell)):
            monkeypatch.setattr(command, name, does)
        monkeypatch.setattr(command.time, "sleep", lambda seconds: None)
        monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
        sent: list[str] = []
        gear = Gear(store=str(tmp_path / "record.db"))
        serve(Box(gear, keeper.panel, shipped_box_words(), Watchdog(sent.append), defaults()))
        assert keeper.panel.state is State.DARK
        assert (tmp_path / "off").exists()
        return keeper.did, sent

    return run


OFF = command.SwitchedOff("The button was held long.")
KEPT = "says Everything is kept. I switch off now."


def test_not_ready_means_that_no_check_starts(switch_on: Callable[..., Any]) -> None:
    did, sent = switch_on(Keeper([DEAF, DEAF, FIT], [Gesture.PRESS, None], [OFF]))
    not_ready = "says Not ready. I find no microphone. Plug it in. Then press the button, and I look again."
    once = ["tests itself", not_ready, "waits, light trouble"]
    assert did == [*once, *once, "tests itself", "says Everything works.", "leads", KEPT]
    assert sent == ["READY=1", "WATCHDOG=1"] * 3  # a whole self-test is progress, whatever it found


def test_a_check_that_breaks_off_is_followed_by_a_self_test(switch_on: Callable[..., Any]) -> None:
    did, _ = switch_on(Keeper([FIT, FIT], [], [StoreFull("full", "Make room."), OFF]))
    assert did == [*["tests itself", "says Everything works.", "leads"] * 2, KEPT]


def test_switched_off_while_not_ready(switch_on: Callable[..., Any]) -> None:
    did, _ = switch_on(Keeper([DEAF], [Gesture.LONG_HOLD], []))
    assert (did[-1], "leads" in did) == (KEPT, False)


@pytest.mark.parametrize(
    ("held_s", "expected"), [(0.3, Gesture.PRESS), (2.0, Gesture.HOLD), (5.5, Gesture.HOLD), (7.0, None)]
)
def test_a_hold_counts_once_it_is_no_long_one(held_s: float, expected: Gesture | None) -> None:
    """Who switches off a box with a damaged record does not set it aside on the way."""
    now_s = 0.0

    class Finger(Wires):
        def pressed(self) -> bool:
            return 1.0 <= now_s < 1.0 + held_s

    def pause(for_s: float) -> None:
        nonlocal now_s
        until_s = now_s + for_s
        while now_s < until_s:
            now_s += 0.01
            panel.tick()

    panel = Panel(Finger(), load_pins(), lambda: now_s)
    box = Box(Gear(), panel, shipped_box_words(), Watchdog(lambda state: None), defaults())
    if expected:
        assert command.wait_for_keeper(box, pause) is expected
        assert now_s == pytest.approx(1.0 + held_s, abs=0.2)
    else:
        with pytest.raises(command.SwitchedOff):
            command.wait_for_keeper(box, pause)


@pytest.mark.parametrize(("gesture", "is_set_aside"), [(Gesture.HOLD, True), (Gesture.PRESS, False), (None, False)])
def test_a_damaged_record_is_set_aside_by_a_hold_alone(
    switch_on: Callable[..., Any], tmp_path: Path, gesture: Gesture | None, is_set_aside: bool
) -> None:
    store = tmp_path / "record.db"
    with command.open_log(str(store)) as log:
        log.append_all("s", [("continued", {}), ("continued", {})], "")
    store.write_bytes(store.read_bytes().replace(b"continued", b"continues"))  # wherever SQLite put it
    before = store.read_bytes()
    did, _ = switch_on(Keeper([DAMAGED, FIT], [gesture], [OFF]))
    said = "says The log was damaged. I kept it and began a new one. Tell your keeper."
    assert (said in did) is is_set_aside
    kept = [path for path in tmp_path.iterdir() if path.is_file() and path.read_bytes() == before]
    assert len(kept) == 1, "the damaged one is not there as it was"
    assert (kept[0] != store) is is_set_aside
    if is_set_aside:
        with Reader(store) as reader:
            assert reader.verify().ok
