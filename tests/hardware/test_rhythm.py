"""pins.toml: no two states look alike even without colour, and a wrong file is refused by name."""

from __future__ import annotations

import itertools
from importlib.resources import files
from pathlib import Path

import pytest

from assistant.errors import BadInput
from hardware.rhythm import Pins, Rhythm, State, load_pins

TEXT = (files("hardware") / "pins.toml").read_text(encoding="utf-8")
# Raspberry Pi documentation, "GPIO": I2C 2 and 3, SPI 7 to 11, serial line 14 and 15, PCM (I2S) 18 to 21,
# identification of boards 0 and 1
TAKEN = {0, 1, 2, 3, 7, 8, 9, 10, 11, 14, 15, 18, 19, 20, 21}


def dark_and_light(rhythm: Rhythm) -> list[bool]:
    """Twelve seconds by tenths, colours left out."""
    return [bool(rhythm.lit(tenth / 10 + 0.01)) for tenth in range(120)]


def test_no_two_states_look_alike_without_colour(pins: Pins) -> None:
    alike = [
        (one, other)
        for one, other in itertools.combinations(State, 2)
        if dark_and_light(pins.rhythms[one]) == dark_and_light(pins.rhythms[other])
    ]
    assert alike == []


def test_nothing_flashes_faster_than_three_times_a_second(pins: Pins) -> None:
    """WCAG 2.2, success criterion 2.3.1: not more than three flashes in any one second."""
    starts = {}
    for state, rhythm in pins.rhythms.items():
        lit = [bool(rhythm.lit(at / 100 + 0.001)) for at in range(1000)]
        rises = [at for at in range(1, 1000) if lit[at] and not lit[at - 1]]
        starts[state] = max((sum(first <= rise < first + 100 for rise in rises) for first in rises), default=0)
    assert {state: count for state, count in starts.items() if count > 3} == {}


def test_pins_are_free_ones(pins: Pins) -> None:
    assert {pins.button, *pins.lights.values()} & TAKEN == set()


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("pin = 17", "pin = 22", "names a pin twice"),
        ("hold_s = 1.5", "hold_s = 9.5", "must rise"),
        ("[rhythm.trouble]", "[rhythm.panic]", "'panic' is not a valid State"),
        ('lights = ["blue"]', 'lights = ["green"]', "a light that there is none of"),
        ("beats_s = [1.2, 1.2]", "beats_s = [1.2, 1.2, 1.2]", "pairs of on and off"),
        ("beats_s = [1.2, 1.2]", "beats_s = [1.2, 0.0]", "pairs of on and off"),
        ("[button]", "[button", "cannot be used"),
        ("[lights]", "[lamps]", "'lights'"),
    ],
    ids=["twice", "order", "unknown state", "unknown light", "odd beats", "no time", "no TOML", "missing"],
)
def test_refusals(tmp_path: Path, old: str, new: str, message: str) -> None:
    path = tmp_path / "pins.toml"
    path.write_text(TEXT.replace(old, new), encoding="utf-8")
    with pytest.raises(BadInput) as refused:
        load_pins(path)
    assert message in str(refused.value)
    assert refused.value.mend
