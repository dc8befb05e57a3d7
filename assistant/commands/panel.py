"""kitcall panel: try button and lights, real ones or in the terminal; or draw how they are wired."""

from __future__ import annotations

import os
import select
import sys
import termios
import time
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import cycle
from pathlib import Path

import click

from assistant.commands.options import refusing
from assistant.errors import PanelError
from hardware.panel import TICK_S, Gesture, Gpio, Panel
from hardware.rhythm import State, load_pins
from hardware.terminal import Terminal
from hardware.wiring import draw

panel_option = click.option(
    "--panel", type=click.Choice(("gpio", "text")), default="gpio", show_default=True,
    help="The Pi's pins, or a stand-in in this terminal (keys: p press, h hold, s hold long).",
)  # fmt: skip


@click.command()
@panel_option
@click.option("--wiring", metavar="FILE.svg", type=click.Path(path_type=Path), help="Draw the wiring, and end.")
@refusing
def panel(panel: str, wiring: Path | None) -> None:
    """Try the panel: a press shows the next state, a hold is told, a long hold ends it."""
    if wiring:
        wiring.write_text(draw(load_pins()), encoding="utf-8")
        click.echo(f"{wiring}: drawn from pins.toml.")
        return
    with open_panel(panel) as shown:
        states = cycle(state for state in State if state is not State.DARK)
        show(shown, next(states))
        for gesture in gestures(shown):
            if gesture is Gesture.LONG_HOLD:
                return
            click.echo(f"\r\n{gesture.value}", err=True)
            if gesture is Gesture.PRESS:
                show(shown, next(states))


def show(panel: Panel, state: State) -> None:
    """Show a state and name it."""
    click.echo(f"\r\nshown: {state.value}", err=True)
    panel.show(state)


def gestures(panel: Panel, pause: Callable[[float], None] = time.sleep) -> Iterator[Gesture]:
    """Every gesture as it comes, without an end."""
    while True:
        while (gesture := panel.gesture()) is not None:
            yield gesture
        pause(TICK_S)


@contextmanager
def open_panel(kind: str) -> Iterator[Panel]:
    """The real panel, or the terminal's, working. Raises PanelError."""
    pins = load_pins()
    if kind == "gpio":
        with Panel(Gpio(pins), pins) as panel:
            yield panel
        return
    with keys() as read_key, Panel(Terminal(pins, read_key, sys.stderr), pins) as panel:
        yield panel


@contextmanager
def keys() -> Iterator[Callable[[], str]]:
    """Reads single keys without waiting; the terminal is as before afterwards. Raises PanelError without one."""
    if not sys.stdin.isatty():
        raise PanelError("There is no terminal for the stand-in's keys.", "Run it in a terminal, or --panel gpio.")
    before = termios.tcgetattr(sys.stdin)
    tty.setcbreak(sys.stdin)
    try:
        yield lambda: os.read(0, 16).decode("ascii", "ignore") if select.select([0], [], [], 0)[0] else ""
    finally:
        termios.tcsetattr(sys.stdin, termios.TCSADRAIN, before)
