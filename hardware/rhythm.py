"""What each state looks like, from pins.toml: which lights, and when they are lit. Pure; time comes in as seconds.

No two states have the same rhythm of light and dark (tests/hardware/test_rhythm.py), so nobody has to tell colours.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from importlib.resources import files
from pathlib import Path
from typing import Any

from assistant.errors import BadInput

MEND = "Compare pins.toml with the one that kitcall ships."


class State(StrEnum):
    """What the panel can show."""

    READY = "ready"
    SPEAKING = "speaking"
    LISTENING = "listening"
    HOLD = "hold"
    TROUBLE = "trouble"
    SAVING = "saving"
    DARK = "dark"


@dataclass(frozen=True, slots=True)
class Rhythm:
    """Lights that go on and off together: seconds on, off, on, off, and from the beginning."""

    lights: tuple[str, ...]
    beats_s: tuple[float, ...]

    def lit(self, since_s: float) -> frozenset[str]:
        """The lights that are on, this many seconds after the state began."""
        if len(self.beats_s) == 1:
            return frozenset(self.lights)
        into_s = since_s % sum(self.beats_s)
        for place, beat_s in enumerate(self.beats_s):
            if into_s < beat_s:
                return frozenset() if place % 2 else frozenset(self.lights)
            into_s -= beat_s
        return frozenset()


@dataclass(frozen=True, slots=True)
class Parts:
    """What the drawing needs: volts, milliamperes, ohms; `forward_v` by light."""

    supply_v: float
    transistor_v: float
    light_ma: float
    base_ohm: float
    forward_v: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Pins:
    """pins.toml as a value; pin numbers are BCM, `buzzer` is None when none is fitted."""

    button: int
    steady_s: float
    hold_s: float
    long_hold_s: float
    lights: Mapping[str, int]
    buzzer: int | None
    rhythms: Mapping[State, Rhythm]
    parts: Parts


def load_pins(path: Path | None = None) -> Pins:
    """The panel's data, from the file given or the shipped one.

    Raises BadInput, naming what is wrong: a missing or unknown state or light, a pin twice, times out of order.
    """
    text = (path or files("hardware") / "pins.toml").read_text(encoding="utf-8")
    try:
        read = tomllib.loads(text)
        pins = _taken(read)
    except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError) as problem:
        raise BadInput(f"pins.toml cannot be used: {problem}", MEND) from problem
    _refuse_unfit(pins)
    return pins


def _taken(read: dict[str, Any]) -> Pins:
    button, buzzer = read["button"], read["buzzer"]
    rhythms = {
        State(name): Rhythm(tuple(shape["lights"]), tuple(float(beat) for beat in shape["beats_s"]))
        for name, shape in read["rhythm"].items()
    }
    return Pins(
        int(button["pin"]), float(button["steady_s"]), float(button["hold_s"]), float(button["long_hold_s"]),
        {name: int(pin) for name, pin in read["lights"].items()},
        int(buzzer["pin"]) if buzzer["fitted"] else None, rhythms, Parts(**read["parts"]),
    )  # fmt: skip


def _refuse_unfit(pins: Pins) -> None:
    used = [pins.button, *pins.lights.values(), *([] if pins.buzzer is None else [pins.buzzer])]
    if len(set(used)) < len(used):
        raise BadInput(f"pins.toml names a pin twice: {sorted(used)}", MEND)
    if not 0 < pins.steady_s < pins.hold_s < pins.long_hold_s:
        raise BadInput("pins.toml: steady_s, hold_s and long_hold_s must rise", MEND)
    for state in State:
        rhythm = pins.rhythms.get(state)
        if rhythm is None:
            raise BadInput(f"pins.toml has no rhythm for {state}", MEND)
        if not set(rhythm.lights) <= set(pins.lights):
            raise BadInput(f"pins.toml: the rhythm of {state} names a light that there is none of", MEND)
        beats_s = rhythm.beats_s
        if not beats_s or min(beats_s) <= 0 or (len(beats_s) > 1 and len(beats_s) % 2):
            raise BadInput(f"pins.toml: the rhythm of {state} needs one number, or pairs of on and off", MEND)
