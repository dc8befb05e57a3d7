"""The panel's stand-in for a terminal: one line that shows the lights, and keys for the button.

p presses, h holds, s holds long; what happens then is the very code of the real panel.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from typing import TextIO

from hardware.rhythm import Pins

REST_S = 0.2  # between two presses, so that they are two


class Terminal:
    """Wires of text. `read_key` gives the key pressed since it was last asked, or nothing."""

    def __init__(
        self, pins: Pins, read_key: Callable[[], str], out: TextIO, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._read_key, self._out, self._clock = read_key, out, clock
        self._lit = dict.fromkeys(pins.lights, False)
        self._times_s = {"p": pins.hold_s / 3, "h": pins.hold_s + 0.3, "s": pins.long_hold_s + 0.3}
        self._waiting: deque[str] = deque()
        self._from_s = self._until_s = float("-inf")
        self._buzzing = False
        self._is_down = False  # as last told: it goes up between two presses, however seldom somebody looks

    def pressed(self) -> bool:
        """Whether the button is down, as the keys so far have it; a key during a press waits for its end."""
        self._waiting.extend(key for key in self._read_key() if key in self._times_s)
        now_s = self._clock()
        if self._waiting and not self._is_down and now_s >= self._until_s + REST_S:
            self._from_s, self._until_s = now_s, now_s + self._times_s[self._waiting.popleft()]
        self._is_down = self._from_s <= now_s < self._until_s
        return self._is_down

    def light(self, name: str, on: bool) -> None:
        """Set one light, and draw the line anew."""
        if self._lit[name] is not on:
            self._lit[name] = on
            self._draw()

    def buzz(self, on: bool) -> None:
        """Show the buzzer."""
        if on is not self._buzzing:
            self._buzzing = on
            self._draw()

    def close(self) -> None:
        """End the line."""
        self._out.write("\n")

    def _draw(self) -> None:
        shown = "  ".join(f"{'●' if on else '○'} {name}" for name, on in self._lit.items())
        self._out.write(f"\r{shown}  {'♪' if self._buzzing else ' '} ")
        self._out.flush()
