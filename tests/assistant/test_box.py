"""The box: what the button does at each moment, what the lights say, and when the watchdog is fed."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assistant.box import NEXT, BoxEars, BoxMouth, BoxWitness, TouchedMicrophone, meant
from assistant.check.turns import Expects, Fact, Pressed, Record, Start
from assistant.errors import StoreFull, SwitchedOff
from assistant.events import Silent
from assistant.language.expected import Expected
from assistant.record import Clip
from assistant.watchdog import FEED_EVERY_S, Watchdog, notify
from audio.capture import Microphone
from hardware.panel import Gesture, Panel
from hardware.rhythm import State, load_pins

PRESS, HOLD, LONG_HOLD = Gesture.PRESS, Gesture.HOLD, Gesture.LONG_HOLD
PINS = load_pins()


class Wires:
    """Nothing soldered."""

    def pressed(self) -> bool:
        return False

    def light(self, name: str, on: bool) -> None: ...
    def buzz(self, on: bool) -> None: ...
    def close(self) -> None: ...


@pytest.mark.parametrize(
    ("gesture", "kind", "fact"),
    [
        (PRESS, "start", Start(by="key")),
        (PRESS, "step", Pressed("repeat")),
        (PRESS, "replacement", Pressed("repeat")),
        (PRESS, "confirm", Pressed("repeat")),
        (PRESS, "waiting", Pressed("carry_on")),
        (PRESS, "group", NEXT),
        (PRESS, "nothing", Silent(0.0)),
        (HOLD, "step", Pressed("wait")),
        (HOLD, "confirm", Pressed("wait")),
        (HOLD, "waiting", Pressed("wait")),
    ],
)
def test_what_the_button_means(gesture: Gesture, kind: str, fact: Fact) -> None:
    assert meant(gesture, kind) == fact


@pytest.mark.parametrize("kind", ["start", "step", "replacement", "number", "confirm", "waiting", "group", "nothing"])
def test_long_hold_always_switches_off(kind: str) -> None:
    with pytest.raises(SwitchedOff):
        meant(LONG_HOLD, kind)


class Rig:
    """Box ears over a microphone that gives silence, with gestures put in at given frames."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, gestures: dict[int, Gesture]) -> None:
        self.panel = Panel(Wires(), PINS)
        self.microphone = TouchedMicrophone()
        self.turns, self.saves, self.shown = 0, 0, []  # type: ignore[var-annotated]
        rig = self

        def give(microphone: Microphone) -> Iterator[np.ndarray]:
            for _ in range(50):
                if gesture := gestures.pop(rig.turns, None):
                    rig.panel._gestures.append(gesture)
                yield np.zeros(320, np.int16)

        monkeypatch.setattr(Microphone, "__iter__", give)
        self.ears = BoxEars(self, self.microphone, self.panel, self._turned, self._saved)

    by = "voice"

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        """The inner ears: nobody speaks."""
        self.shown.append(self.panel.state)
        return Silent(sum(1 for _ in self.microphone) / 50)

    def note(self, window_s: float) -> Clip | None:
        return None

    def reopen(self) -> bool:
        return sum(1 for _ in self.microphone) == 50

    def _turned(self) -> None:
        self.turns += 1

    def _saved(self) -> None:
        self.saves += 1
        self.shown.append(self.panel.state)


ANY: Any = None


@pytest.mark.parametrize(
    ("kind", "gestures", "fact", "shown"),
    [
        ("step", {}, Silent(1.0), [State.LISTENING]),
        ("step", {10: PRESS}, Pressed("repeat"), [State.LISTENING]),
        ("waiting", {0: PRESS}, Pressed("carry_on"), [State.HOLD]),
        ("start", {30: PRESS}, Start(by="key"), [State.READY]),
        ("start", {5: HOLD, 20: PRESS}, Start(by="key"), [State.READY, State.SAVING, State.READY]),
        ("nothing", {5: HOLD}, Silent(1.0), [State.READY, State.SAVING, State.READY]),
        ("group", {5: HOLD, 20: PRESS}, NEXT, [State.READY, State.SAVING, State.READY]),
    ],
    ids=["silence", "repeat", "carry on", "begin", "save, then begin", "save after the verdict", "save, next diver"],
)
def test_ears_with_a_button(
    monkeypatch: pytest.MonkeyPatch, kind: str, gestures: dict[int, Gesture], fact: Fact, shown: list[State]
) -> None:
    rig = Rig(monkeypatch, dict(gestures))
    assert rig.ears.hear(Expects(kind), ANY) == fact
    assert (rig.shown, rig.saves) == (shown, sum(each is HOLD for each in gestures.values()))


def test_a_gesture_while_the_microphone_is_opened_again_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(monkeypatch, {})
    rig.panel._gestures.append(PRESS)
    assert rig.ears.reopen()
    assert rig.panel.state is State.TROUBLE
    assert rig.ears.hear(Expects("step"), ANY) == Pressed("repeat")


def test_a_press_ends_the_line_and_is_used_up(monkeypatch: pytest.MonkeyPatch) -> None:
    rig, stopped = Rig(monkeypatch, {}), []

    class Out:
        def play(self, samples: np.ndarray, rate_hz: int) -> bool:
            return True

        def stop(self) -> None:
            stopped.append(rig.panel.state)

    class Line:
        def say(self, text: str) -> None:
            rig.panel._keep(PRESS)
            rig.panel._keep(HOLD)

    BoxMouth(Line(), Out(), rig.panel).say("Press the inflator in short bursts.")
    assert stopped == [State.SPEAKING, State.SPEAKING]
    assert rig.ears.hear(Expects("step"), ANY) == Pressed("wait")
    rig.panel._keep(PRESS)
    assert len(stopped) == 2


@pytest.mark.parametrize(("kind", "asked"), [("verdict_given", "nothing"), ("boat_judged", "group")])
@pytest.mark.parametrize(("verdict", "state"), [("ready", State.READY), ("hold", State.HOLD)])
def test_the_light_after_the_verdict(
    monkeypatch: pytest.MonkeyPatch, verdict: str, state: State, kind: str, asked: str
) -> None:
    rig = Rig(monkeypatch, {})
    BoxWitness(rig.ears).recorded([Record(kind, {"verdict": verdict, "reasons": []})])
    rig.ears.hear(Expects(asked), ANY)
    assert rig.shown == [state]


class Dog:
    """A watchdog with its clock in hand and its words kept."""

    def __init__(self) -> None:
        self.now_s, self.sent, self.proofs = 0.0, [], 0  # type: ignore[var-annotated]
        self.dog = Watchdog(self.sent.append, lambda: self.now_s)

    def prove(self) -> None:
        self.proofs += 1


def test_fed_by_frames_and_writes_alone() -> None:
    rig = Dog()
    for _ in range(10 * 60 * 50):  # ten minutes of frames
        rig.now_s += 0.02
        rig.dog.turned(rig.prove)
    assert rig.sent == ["WATCHDOG=1"] * rig.proofs
    assert rig.proofs == pytest.approx(600 / FEED_EVERY_S, abs=1)


def test_not_fed_without_frames_nor_when_the_store_does_not_write() -> None:
    rig = Dog()
    rig.now_s = 3600.0
    assert rig.sent == []

    def refuse() -> None:
        raise StoreFull("full")

    with pytest.raises(StoreFull):
        rig.dog.turned(refuse)
    assert rig.sent == []


@pytest.mark.parametrize("name", ["path", "abstract"])
def test_systemd_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """sd_notify(3): a datagram to NOTIFY_SOCKET, "@" for an abstract one."""
    address = str(tmp_path / "notify") if name == "path" else f"@kitcall-test-{tmp_path.name}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(address.replace("@", "\0"))
        monkeypatch.setenv("NOTIFY_SOCKET", address)
        Watchdog().began()
        assert [manager.recv(100) for _ in range(2)] == [b"READY=1", b"WATCHDOG=1"]
    notify("READY=1")  # the manager is gone: nothing happens
    monkeypatch.delenv("NOTIFY_SOCKET")
    notify("READY=1")
