"""The wiring as a drawing, made from pins.toml: what goes to which pin of the 40-pin header, through what.

The header's layout is the same on Pi 3B+, 4 and 5 (Raspberry Pi documentation, "GPIO"; checked against gpiozero's
own tables in tests/hardware/test_wiring.py). The drawing shows parts by kind and value, no maker's part.
"""

from __future__ import annotations

from html import escape

from hardware.rhythm import Pins

# BCM number: place on the header
HEADER = {
    2: 3, 3: 5, 4: 7, 14: 8, 15: 10, 17: 11, 18: 12, 27: 13, 22: 15, 23: 16, 24: 18, 10: 19, 9: 21, 25: 22, 11: 23,
    8: 24, 7: 26, 0: 27, 1: 28, 5: 29, 6: 31, 12: 32, 13: 33, 19: 35, 16: 36, 26: 37, 20: 38, 21: 40,
}  # fmt: skip
THREE_VOLTS, FIVE_VOLTS, GROUND = (1, 17), (2, 4), (6, 9, 14, 20, 25, 30, 34, 39)
CLOCK_CHIP = {3: "clock chip, data", 5: "clock chip, clock", 1: "clock chip, 3.3 V", 9: "clock chip, ground"}
E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
ROW, TOP, LEFT = 26, 70, 60
STYLE = "font-family='sans-serif' font-size='13'"


def resistor_ohm(pins: Pins, light: str) -> int:
    """The next E12 value (IEC 60063) that lets no more than the wanted current through this light."""
    parts = pins.parts
    least = (parts.supply_v - parts.transistor_v - parts.forward_v[light]) / (parts.light_ma / 1000)
    values = (value * scale for scale in (1, 10, 100, 1000) for value in E12)
    return next(value for value in values if value >= least)


def joints(pins: Pins) -> dict[int, str]:
    """What goes to which place of the header, in words."""
    found = {HEADER[pins.button]: "button, to ground when pressed", 14: "button, other side: ground"}
    for name, pin in pins.lights.items():
        ohm = resistor_ohm(pins, name)
        found[HEADER[pin]] = f"{pins.parts.base_ohm:.0f} Ω, base of an NPN transistor: {name} light, {ohm:.0f} Ω to 5 V"
    if pins.buzzer is not None:
        found[HEADER[pins.buzzer]] = f"{pins.parts.base_ohm:.0f} Ω, base of an NPN transistor: active 5 V buzzer"
    found[4] = "5 V for lights and buzzer, behind a fuse of 0.5 A"
    found[20] = "ground of all transistors"
    return {**CLOCK_CHIP, **found}


def draw(pins: Pins) -> str:
    """An SVG of the header, seen from above with its places 1 and 2 on top, a line to each part, and one light's
    circuit."""
    wired = joints(pins)
    names = {place: f"GPIO {pin}" for pin, place in HEADER.items()}
    names |= dict.fromkeys(THREE_VOLTS, "3.3 V") | dict.fromkeys(FIVE_VOLTS, "5 V") | dict.fromkeys(GROUND, "ground")
    lines = [_text(20, 28, "kitcall: wiring of the panel, drawn from pins.toml", "font-weight='bold'")]
    lines.append(_text(20, 48, "Unplug the supply and the battery before you touch a wire. Check each joint twice."))
    for place in range(1, 41):
        lines += _place(place, names[place], wired.get(place, ""))
    lines += _stage(pins)
    height = TOP + 21 * ROW
    head = f"<svg xmlns='http://www.w3.org/2000/svg' width='1180' height='{height}' viewBox='0 0 1180 {height}'>"
    return "\n".join([head, "<rect width='100%' height='100%' fill='white'/>", *lines, "</svg>\n"])


def _place(place: int, name: str, part: str) -> list[str]:
    """One place: odd ones have their part on the left, even ones on the right."""
    is_left, y = place % 2 == 1, TOP + (place - 1) // 2 * ROW + ROW
    x = LEFT + 490 if is_left else LEFT + 520
    shape = f"<circle cx='{x}' cy='{y}' r='9' fill='{'black' if part else 'white'}' stroke='black'/>"
    number = _text(x, y + 4, str(place), f"text-anchor='middle' fill='{'white' if part else 'black'}' font-size='10'")
    side = -1 if is_left else 1
    anchor = "end" if is_left else "start"
    lines = [shape, number, _text(x + side * 16, y + 4, name, f"text-anchor='{anchor}' fill='#444'")]
    if part:
        lines.append(f"<line x1='{x + side * 75}' y1='{y}' x2='{x + side * 110}' y2='{y}' stroke='black'/>")
        lines.append(_text(x + side * 116, y + 4, part, f"text-anchor='{anchor}'"))
    return lines


def _stage(pins: Pins) -> list[str]:
    """The circuit that each light has: 5 V, resistor, light, transistor, ground; the pin drives the transistor."""
    x, y, base = 910, 388, "M 780 528 h 24 m 56 0 h 30 m 0 -22 v 44"
    values = ", ".join(f"{name} {resistor_ohm(pins, name)} Ω" for name in pins.lights)
    wires = f"M {x} {y} v 14 m 0 44 v 16 m 0 24 v 20 l -20 14 m 0 16 l 20 14 v 26 m -14 0 h 28"
    light = f"M {x - 12} {y + 74} h 24 l -12 24 z m 0 24 h 24 m 8 -20 l 14 -10 m -14 20 l 14 -10"
    arrow = f"M {x} {y + 162} l -11 -2 l 5 -8 z"
    lines = [f"<path d='{each}' stroke='black' fill='none'/>" for each in (wires, light, base)]
    lines.append(f"<path d='{arrow}'/>")
    for left, top, wide, high in ((x - 8, y + 14, 16, 44), (804, 520, 56, 16)):
        lines.append(f"<rect x='{left}' y='{top}' width='{wide}' height='{high}' fill='white' stroke='black'/>")
    words = (
        (740, y - 22, "Each light's circuit; the buzzer's is the same without its resistor"),
        (x + 14, y + 8, f"{pins.parts.supply_v:.0f} V"), (x + 14, y + 40, values), (x + 40, y + 92, "light"),
        (x + 14, y + 146, "NPN transistor"), (x + 20, y + 192, "ground"), (740, 532, "pin"),
        (804, 512, f"{pins.parts.base_ohm:.0f} Ω"),
    )  # fmt: skip
    return lines + [_text(left, top, text) for left, top, text in words]


def _text(x: float, y: float, text: str, more: str = "") -> str:
    return f"<text x='{x}' y='{y}' {STYLE if 'font-size' not in more else ''} {more}>{escape(text)}</text>"
