"""Picture of a planned dive: gauge pressure against time, with the reserve line, as SVG by pygal.

Whole in itself: no script and no font is fetched. What it draws are the points of `points`, so a test
can check the numbers without reading the drawing. The same dive gives the same text, byte for byte.
"""

from __future__ import annotations

import re
from typing import Any

import pygal  # type: ignore[import-untyped]
from pygal.style import Style  # type: ignore[import-untyped]

from assistant.sums.dive import Dive, DivePlan, Diver, ascent_parts, bar_above_empty
from assistant.sums.settings import Plan, defaults

PLAIN = Style(
    background="white",
    plot_background="white",
    colors=("#00568c", "#b00020", "#6b6b6b"),
    font_family="sans-serif",
    stroke_width="3",
    guide_stroke_color="#dddddd",
    major_guide_stroke_color="#dddddd",
)
LINE = {"dasharray": "8, 4"}


def points(diver: Diver, dive: Dive, found: DivePlan, practice: Plan | None = None) -> list[tuple[float, float]]:
    """(minutes, gauge bar) from the start to the surface, one diver breathing; ends where the cylinder is empty."""
    practice = practice or defaults().plan
    rate_l_min = found.bottom_l / (dive.bottom_min * dive.ratio(dive.depth_m))
    legs = [(dive.bottom_min, dive.ratio(dive.depth_m)), *ascent_parts(dive, practice)]
    at_min, left_l = 0.0, found.start_l
    drawn = [(0.0, bar_above_empty(diver, left_l, dive.water_degc))]
    for minutes, ratio in legs:
        taken_l = rate_l_min * ratio * minutes
        if taken_l >= left_l:
            return [*drawn, (at_min + minutes * left_l / taken_l, 0.0)]
        at_min, left_l = at_min + minutes, left_l - taken_l
        drawn.append((at_min, bar_above_empty(diver, left_l, dive.water_degc)))
    return drawn


def draw(diver: Diver, dive: Dive, found: DivePlan, practice: Plan | None = None, name: str = "dive") -> str:
    """The picture as SVG text; give each picture on a page its own name."""
    curve = points(diver, dive, found, practice)
    end_min = curve[-1][0]
    chart: Any = pygal.XY(
        style=PLAIN,
        js=[],
        show_dots=True,
        title=f"{diver.water_l:g} l, {dive.bottom_min:g} min at {dive.depth_m:g} m",
        x_title="minutes",
        y_title="gauge, bar",
        range=(0, max(diver.start_bar, found.reserve_bar) * 1.05),
        disable_xml_declaration=True,
    )
    chart.add("pressure", curve)
    chart.add(
        f"reserve {found.reserve_bar:.0f} bar",
        [(0, found.reserve_bar), (end_min, found.reserve_bar)],
        stroke_style=LINE,
    )
    if found.turn_bar is not None:
        chart.add(f"turn {found.turn_bar:.0f} bar", [(0, found.turn_bar), (end_min, found.turn_bar)], stroke_style=LINE)
    chart.uuid = name  # pygal's own would be random
    return re.sub(r"<!--.*?-->", "", str(chart.render(is_unicode=True)))
