"""A panel on gpiozero's mock pins and one on the terminal stand-in, with a clock that the test turns."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest
from gpiozero import Device
from gpiozero.pins.mock import MockFactory

from hardware.panel import TICK_S, Gpio, Panel
from hardware.rhythm import Pins, load_pins
from hardware.terminal import Terminal


@dataclass
class Time:
    """Seconds that pass only when told to."""

    now_s: float = 100.0

    def __call__(self) -> float:
        return self.now_s


@dataclass
class Bench:
    """A panel, ticked by the test; `press(seconds)` moves the button, `lit()` tells what is seen from outside."""

    panel: Panel
    time: Time
    down: Callable[[float], None]
    up: Callable[[], None]
    lit: Callable[[], set[str]]
    seen: list[str] = field(default_factory=list)

    def wait(self, seconds: float) -> None:
        for _ in range(round(seconds / TICK_S)):
            self.time.now_s += TICK_S
            self.panel.tick()

    def press(self, seconds: float) -> list[str]:
        """Down that long, then up for half a second; gives the gestures that were made of it."""
        self.down(seconds)
        self.wait(seconds)
        self.up()
        self.wait(0.5)
        return self.gestures()

    def gestures(self) -> list[str]:
        found = []
        while (gesture := self.panel.gesture()) is not None:
            found.append(gesture.value)
        return found


@pytest.fixture(scope="session")
def pins() -> Pins:
    return load_pins()


@pytest.fixture
def gpio_bench(pins: Pins) -> Iterator[Bench]:
    Device.pin_factory = factory = MockFactory()
    time = Time()
    button = factory.pin(f"GPIO{pins.button}")
    lights = {name: factory.pin(f"GPIO{pin}") for name, pin in pins.lights.items()}
    panel = Panel(Gpio(pins), pins, time)
    with panel:
        panel._over.set()  # the test ticks
        yield Bench(
            panel, time, lambda seconds: button.drive_low(), button.drive_high,
            lambda: {name for name, pin in lights.items() if pin.state},
        )  # fmt: skip
    assert {name for name, pin in lights.items() if pin.state} == set()
    factory.reset()
    Device.pin_factory = None


@pytest.fixture
def text_bench(pins: Pins) -> Iterator[Bench]:
    time, keys, out = Time(), [""], io.StringIO()

    def read_key() -> str:
        pressed, keys[0] = keys[0], ""
        return pressed

    def down(seconds: float) -> None:
        keys[0] = "p" if seconds < pins.hold_s else "h" if seconds < pins.long_hold_s else "s"

    def lit() -> set[str]:
        drawn = out.getvalue().rpartition("\r")[2]
        return {name for name in pins.lights if f"● {name}" in drawn}

    with Panel(Terminal(pins, read_key, out, time), pins, time) as panel:
        panel._over.set()
        yield Bench(panel, time, down, lambda: None, lit)
    assert lit() == set()


@pytest.fixture(params=["gpio", "text"])
def bench(request: pytest.FixtureRequest) -> Bench:
    """Each test that asks for it runs on both."""
    made: Bench = request.getfixturevalue(f"{request.param}_bench")
    return made
