"""A picture of one hearing, as SVG: the sound, where a voice was, the words on the time line, the decision.

Reads without colour: each row is labelled, and a decision is a line with its words beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree

import numpy as np

from assistant.events import Evidence, Heard, Hearing, Silent
from audio.activity import Activity
from audio.frames import FRAME_S, Frame

WIDTH, LEFT, RIGHT = 960, 80, 20
WAVE_Y, WAVE_H = 70, 90
VOICE_Y, VOICE_H = 180, 40
WORDS_Y, WORDS_H = 245, 34
BOTTOM = 330


def draw(frames: Sequence[Frame], hearing: Hearing, title: str) -> str:
    """The picture of what was heard in these frames (int16, 320 samples each, 16 kHz), as an SVG document."""
    evidence = Evidence() if isinstance(hearing, Silent) else getattr(hearing, "evidence", Evidence())
    seconds = max(len(frames) * FRAME_S, FRAME_S)
    svg = ElementTree.Element("svg", xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {WIDTH} {BOTTOM + 30}")
    svg.set("font-family", "sans-serif")
    svg.set("font-size", "14")
    ElementTree.SubElement(svg, "rect", width="100%", height="100%", fill="white")
    _text(svg, LEFT, 28, title, "16")
    _text(svg, LEFT, 50, decision(hearing))
    _axis(svg, seconds)
    _wave(svg, frames)
    _voice(svg, frames)
    _words(svg, evidence, seconds)
    _moments(svg, evidence, seconds)
    return ElementTree.tostring(svg, encoding="unicode")


def decision(hearing: Hearing) -> str:
    """The decision in one line."""
    if isinstance(hearing, Heard):
        how = "heard as" if hearing.match.is_taken else "to be read back as"
        return f"{how} {hearing.match.meaning}: {hearing.match.text}"
    if isinstance(hearing, Silent):
        return "nobody spoke"
    why = getattr(hearing, "why", "broken")
    return f"unclear ({why}): {getattr(hearing, 'text', '')}"


def _x(at_s: float, seconds: float) -> float:
    return LEFT + (WIDTH - LEFT - RIGHT) * min(max(at_s / seconds, 0.0), 1.0)


def _text(svg: ElementTree.Element, x: float, y: float, text: str, size: str = "14", anchor: str = "start") -> None:
    element = ElementTree.SubElement(svg, "text", x=f"{x:.1f}", y=f"{y:.1f}", fill="black")
    element.set("font-size", size)
    element.set("text-anchor", anchor)
    element.text = text


def _line(svg: ElementTree.Element, x1: float, y1: float, x2: float, y2: float, dash: str = "") -> None:
    element = ElementTree.SubElement(svg, "line", x1=f"{x1:.1f}", y1=f"{y1:.1f}", x2=f"{x2:.1f}", y2=f"{y2:.1f}")
    element.set("stroke", "black")
    if dash:
        element.set("stroke-dasharray", dash)


def _axis(svg: ElementTree.Element, seconds: float) -> None:
    _line(svg, LEFT, BOTTOM - 20, WIDTH - RIGHT, BOTTOM - 20)
    for second in np.arange(0, seconds + 1e-9, 0.5):
        x = _x(float(second), seconds)
        _line(svg, x, BOTTOM - 20, x, BOTTOM - 14)
        _text(svg, x, BOTTOM + 2, f"{second:g} s", "12", "middle")


def _wave(svg: ElementTree.Element, frames: Sequence[Frame]) -> None:
    _text(svg, 10, WAVE_Y + WAVE_H / 2, "sound")
    samples = np.concatenate(frames).astype(np.float64) if frames else np.zeros(1)
    columns = np.array_split(samples, WIDTH - LEFT - RIGHT)
    loudest = max(float(np.abs(samples).max()), 1.0)
    middle, points = WAVE_Y + WAVE_H / 2, []
    for column, part in enumerate(columns):
        if part.size:
            low, high = part.min() / loudest * WAVE_H / 2, part.max() / loudest * WAVE_H / 2
            points.append(f"M{LEFT + column} {middle - high:.1f}V{middle - low + 0.5:.1f}")
    ElementTree.SubElement(svg, "path", d="".join(points), stroke="#444", fill="none")


def _voice(svg: ElementTree.Element, frames: Sequence[Frame]) -> None:
    _text(svg, 10, VOICE_Y + VOICE_H / 2, "voice")
    activity = Activity()
    chances = [activity.take(frame) for frame in frames]
    step = (WIDTH - LEFT - RIGHT) / max(len(chances), 1)
    points = " ".join(f"{LEFT + (at + 1) * step:.1f},{VOICE_Y + VOICE_H * (1 - p):.1f}" for at, p in enumerate(chances))
    _line(svg, LEFT, VOICE_Y + VOICE_H / 2, WIDTH - RIGHT, VOICE_Y + VOICE_H / 2, "2 4")
    ElementTree.SubElement(svg, "polyline", points=points, stroke="black", fill="none")


def _words(svg: ElementTree.Element, evidence: Evidence, seconds: float) -> None:
    _text(svg, 10, WORDS_Y + WORDS_H / 2 + 5, "words")
    for word in evidence.words:
        left, right = _x(word.start_s, seconds), _x(word.end_s, seconds)
        box = ElementTree.SubElement(
            svg, "rect", x=f"{left:.1f}", y=str(WORDS_Y), width=f"{max(right - left, 1):.1f}", height=str(WORDS_H)
        )
        box.set("fill", "#eee")
        box.set("stroke", "black")
        _text(svg, (left + right) / 2, WORDS_Y + WORDS_H / 2 + 5, word.text, "12", "middle")


def _moments(svg: ElementTree.Element, evidence: Evidence, seconds: float) -> None:
    moments = ((evidence.speech_end_s, "voice ends", "4 3"), (evidence.decided_s or None, "decided", ""))
    for row, (at_s, name, dash) in enumerate(moments):
        if at_s is not None:
            x = _x(at_s, seconds)
            _line(svg, x, WAVE_Y, x, BOTTOM - 20, dash)
            _text(svg, x + 3, WAVE_Y + 12 + 16 * row, f"{name} {at_s:.2f} s", "12")
