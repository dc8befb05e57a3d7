"""The panel: one button and a few lights, as gestures and states. Only file that knows gpiozero.

`Panel` holds the rules, whatever it is wired to: `Gpio` is the Pi's header, terminal.py a stand-in. It is moved on
by tick(), which a thread of its own calls fifty times a second; a test calls it with its own clock.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from enum import StrEnum
from types import TracebackType
from typing import Any, Protocol, Self

from assistant.errors import PanelError
from hardware.rhythm import Pins, State

TICK_S = 0.02
CLICK_S = 0.05  # the buzzer's answer to a hold


class Gesture(StrEnum):
    """What somebody did with the button."""

    PRESS = "press"
    HOLD = "hold"
    LONG_HOLD = "long hold"


class Wires(Protocol):
    """What a panel is made of."""

    def pressed(self) -> bool: ...
    def light(self, name: str, on: bool) -> None: ...
    def buzz(self, on: bool) -> None: ...
    def close(self) -> None: ...


class Panel:
    """Shows one state, and keeps the gestures until they are asked for. A context manager; its exit darkens it."""

    def __init__(self, wires: Wires, pins: Pins, clock: Callable[[], float] = time.monotonic) -> None:
        self._wires, self._pins, self._clock = wires, pins, clock
        self.state, self._since_s = State.DARK, clock()
        self._lit: frozenset[str] = frozenset()
        self._gestures: deque[Gesture] = deque()
        self._changed_s, self._said = clock(), Gesture.PRESS
        self._down_s: float | None = None
        self._was_pressed = self._buzzing = False
        self._over = threading.Event()
        self._thread: threading.Thread | None = None
        self.on_gesture: Callable[[], None] = lambda: None  # called by the ticking thread; must return at once

    def show(self, state: State) -> None:
        """Show this state from now on; the same state again does not disturb its rhythm."""
        if state is not self.state:
            self.state, self._since_s = state, self._clock()

    def gesture(self) -> Gesture | None:
        """The oldest gesture that nobody has asked for yet."""
        return self._gestures.popleft() if self._gestures else None

    @property
    def is_down(self) -> bool:
        """Whether somebody has the button down now: a hold may still become a long one."""
        return self._down_s is not None

    def forget(self) -> None:
        """Drop every press so far: it was meant for something else. A hold still counts."""
        kept = [each for each in self._gestures if each is not Gesture.PRESS]
        self._gestures.clear()
        self._gestures.extend(kept)

    def tick(self) -> None:
        """Look at the button, set the lights."""
        now_s = self._clock()
        self._watch(self._wires.pressed(), now_s)
        lit = self._pins.rhythms[self.state].lit(now_s - self._since_s)
        for name in lit ^ self._lit:
            self._wires.light(name, name in lit)
        self._lit = lit
        if self._buzzing and self._down_s is not None and now_s - self._down_s > self._pins.hold_s + CLICK_S:
            self._buzz(False)

    def _watch(self, pressed: bool, now_s: float) -> None:
        """A press counts on its release; a hold as soon as it is one, so that the finger knows."""
        if pressed is not self._was_pressed:
            self._was_pressed, self._changed_s = pressed, now_s
        if now_s - self._changed_s < self._pins.steady_s:
            return
        if pressed and self._down_s is None:
            self._down_s, self._said = self._changed_s, Gesture.PRESS
        elif pressed:
            self._hold(now_s - (self._down_s or now_s))
        elif self._down_s is not None:
            if self._said is Gesture.PRESS:
                self._keep(Gesture.PRESS)
            self._down_s = None
            self._buzz(False)

    def _hold(self, held_s: float) -> None:
        if self._said is Gesture.PRESS and held_s >= self._pins.hold_s:
            self._said = Gesture.HOLD
            self._buzz(True)
            self._keep(Gesture.HOLD)
        if self._said is Gesture.HOLD and held_s >= self._pins.long_hold_s:
            self._said = Gesture.LONG_HOLD
            self._keep(Gesture.LONG_HOLD)

    def _keep(self, gesture: Gesture) -> None:
        self._gestures.append(gesture)
        self.on_gesture()

    def _buzz(self, on: bool) -> None:
        if on is not self._buzzing:
            self._wires.buzz(on)
            self._buzzing = on

    def __enter__(self) -> Self:
        self._thread = threading.Thread(target=self._run, name="panel", daemon=True)
        self._thread.start()
        return self

    def _run(self) -> None:
        while not self._over.wait(TICK_S):
            self.tick()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._over.set()
        if self._thread is not None:
            self._thread.join()
        for name in self._pins.lights:
            self._wires.light(name, False)
        self._wires.buzz(False)
        self._wires.close()


class Gpio:
    """The Pi's header. Raises PanelError when gpiozero is not installed or finds no pins."""

    def __init__(self, pins: Pins) -> None:
        zero = _load()
        try:
            self._button = zero.Button(pins.button, pull_up=True)
            self._lights = {name: zero.LED(pin) for name, pin in pins.lights.items()}
            self._buzzer = None if pins.buzzer is None else zero.Buzzer(pins.buzzer)
        except Exception as problem:  # gpiozero's pin factories raise whatever their own library raises
            raise PanelError(f"The panel's pins cannot be used: {problem}", MEND) from problem

    def pressed(self) -> bool:
        return bool(self._button.is_pressed)

    def light(self, name: str, on: bool) -> None:
        self._lights[name].value = on

    def buzz(self, on: bool) -> None:
        if self._buzzer is not None:
            self._buzzer.value = on

    def close(self) -> None:
        for part in (self._button, *self._lights.values(), self._buzzer):
            if part is not None:
                part.close()


MEND = "On Raspberry Pi OS: sudo apt-get install python3-lgpio. Elsewhere try `kitcall panel`, or leave --panel out."


def _load() -> Any:
    try:
        import gpiozero
    except ImportError as problem:
        raise PanelError("gpiozero is not installed.", "Install kitcall with its extra: kitcall[box].") from problem
    return gpiozero
