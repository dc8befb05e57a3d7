"""The panel's contract, on gpiozero's mock pins and on the terminal: gestures once and in order, lights as drawn."""

from __future__ import annotations

from typing import Any

import pytest

from assistant.errors import PanelError
from hardware import panel as panel_file
from hardware.panel import Gpio
from hardware.rhythm import Pins, State


@pytest.mark.parametrize(
    ("seconds", "gestures"),
    [
        (0.3, ["press"]),
        (1.7, ["hold"]),
        (6.4, ["hold", "long hold"]),
    ],
    ids=["press", "hold", "long hold"],
)
def test_gestures(bench: Any, seconds: float, gestures: list[str]) -> None:
    assert bench.press(seconds) == gestures
    bench.wait(1.0)
    assert bench.gestures() == []


def test_presses_at_a_terminal_that_is_seldom_looked_at_are_no_hold(text_bench: Any) -> None:
    """On a starved machine each look found the next press begun, and the box switched itself off."""
    for _ in range(6):
        text_bench.down(0.3)
        text_bench.time.now_s += 3.0
        text_bench.panel.tick()
    assert [gesture for gesture in text_bench.gestures() if gesture != "press"] == []


def test_presses_are_kept_in_order_until_asked_for(bench: Any) -> None:
    told = []
    bench.panel.on_gesture = lambda: told.append(1)
    for seconds in (0.3, 1.9):
        bench.down(seconds)
        bench.wait(seconds)
        bench.up()
        bench.wait(0.6)
    assert (bench.gestures(), len(told)) == (["press", "hold"], 2)


def test_forget_drops_presses_and_keeps_holds(bench: Any) -> None:
    for seconds in (0.3, 6.4, 0.3):
        bench.down(seconds)
        bench.wait(seconds)
        bench.up()
        bench.wait(0.6)
    bench.panel.forget()
    assert bench.gestures() == ["hold", "long hold"]


@pytest.mark.parametrize("state", list(State))
def test_lights_follow_the_rhythm(bench: Any, pins: Pins, state: State) -> None:
    """Every 20 ms of five seconds: what is seen is what pins.toml says of that moment."""
    bench.panel.show(state)
    began_s = bench.time.now_s
    seen, wanted = [], []
    for _ in range(250):
        bench.wait(0.02)
        seen.append(bench.lit())
        wanted.append(set(pins.rhythms[state].lit(bench.time.now_s - began_s)))
    assert seen == wanted


def test_the_same_state_again_does_not_disturb_its_rhythm(bench: Any) -> None:
    bench.panel.show(State.HOLD)
    bench.wait(1.3)
    assert bench.lit() == set()
    bench.panel.show(State.HOLD)
    bench.wait(0.1)
    assert bench.lit() == set()


def test_spray_and_bounce_are_no_press(gpio_bench: Any) -> None:
    for _ in range(20):
        gpio_bench.down(0.02)
        gpio_bench.wait(0.02)
        gpio_bench.up()
        gpio_bench.wait(0.02)
    gpio_bench.wait(0.5)
    assert gpio_bench.gestures() == []


def test_a_button_stuck_down_is_one_hold_and_one_long_hold(gpio_bench: Any) -> None:
    gpio_bench.down(60)
    gpio_bench.wait(60)
    assert gpio_bench.gestures() == ["hold", "long hold"]


def test_without_gpiozero_or_pins_it_says_what_to_do(monkeypatch: pytest.MonkeyPatch, pins: Pins) -> None:
    monkeypatch.setitem(__import__("sys").modules, "gpiozero", None)
    with pytest.raises(PanelError, match="not installed") as refused:
        Gpio(pins)
    assert "kitcall[box]" in refused.value.mend

    class NoPins:
        def __getattr__(self, name: str) -> Any:
            raise OSError("no header here")

    monkeypatch.setattr(panel_file, "_load", NoPins)
    with pytest.raises(PanelError, match="no header here") as refused:
        Gpio(pins)
    assert "python3-lgpio" in refused.value.mend
