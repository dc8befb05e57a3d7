"""The drawing: every part of pins.toml at its place of the header, no place used twice, the sums right."""

from __future__ import annotations

import dataclasses
from importlib.resources import files
from xml.etree import ElementTree

import pytest
from gpiozero.pins.pi import PiBoardInfo

from hardware.rhythm import Pins
from hardware.wiring import FIVE_VOLTS, GROUND, HEADER, THREE_VOLTS, draw, joints, resistor_ohm

REVISIONS = {"Pi 3B+": 0xA020D3, "Pi 4B": 0xC03112, "Pi 5": 0xC04170}


@pytest.mark.parametrize("revision", REVISIONS.values(), ids=REVISIONS)
def test_header_is_the_one_gpiozero_knows(revision: int) -> None:
    header = PiBoardInfo.from_revision(revision).headers["J8"]
    theirs = {pin.number: pin.name for pin in header.pins.values()}
    ours = {place: f"GPIO{pin}" for pin, place in HEADER.items()}
    ours |= dict.fromkeys(THREE_VOLTS, "3V3") | dict.fromkeys(FIVE_VOLTS, "5V") | dict.fromkeys(GROUND, "GND")
    assert ours == theirs


@pytest.mark.parametrize(("light", "ohm"), [("white", 120), ("blue", 120), ("amber", 220)])
def test_resistors(pins: Pins, light: str, ohm: int) -> None:
    """By hand: (5.0 - 0.2 - 3.1) / 0.015 = 113; (5.0 - 0.2 - 2.0) / 0.015 = 187; the next higher of E12."""
    assert resistor_ohm(pins, light) == ohm


def test_every_part_is_drawn_at_its_place(pins: Pins) -> None:
    pins = dataclasses.replace(pins, buzzer=25)
    wired = joints(pins)
    assert {HEADER[pin] for pin in (pins.button, *pins.lights.values(), 25)} <= set(wired)
    root = ElementTree.fromstring(draw(pins))
    texts = {text.text for text in root.iter("{http://www.w3.org/2000/svg}text")}
    assert set(wired.values()) <= texts
    assert len(list(root.iter("{http://www.w3.org/2000/svg}circle"))) == 40
    assert sum("light" in part for part in wired.values()) == 1 + len(pins.lights)  # and the one that brings 5 V


def test_no_three_volt_pin_meets_five_volts(pins: Pins) -> None:
    """5 V on a pin destroys the Pi: only places 2 and 4 carry it, and every light hangs behind a transistor."""
    wired = joints(pins)
    assert [place for place, part in wired.items() if part.startswith("5 V")] == [4]
    assert all("transistor" in wired[HEADER[pin]] for pin in pins.lights.values())


def test_the_drawing_in_the_folder_is_of_these_pins(pins: Pins) -> None:
    """Make it anew with: kitcall panel --wiring hardware/wiring.svg"""
    assert (files("hardware") / "wiring.svg").read_text(encoding="utf-8") == draw(pins)
