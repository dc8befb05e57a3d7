"""The pictures of the faults page: SVG by pygal, told apart by dashes and shades; the table beside has every number.

Each is an image of its own without script or outside content; its one inline style is allowed for it alone.
What was drawn of the same numbers is kept: pygal takes some 50 ms for a picture.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import pygal  # type: ignore[import-untyped]
from pygal.style import Style  # type: ignore[import-untyped]
from starlette.responses import Response

from assistant.errors import BadInput
from assistant.page.pages import SEASON_MONTHS
from assistant.page.visit import Visit
from assistant.page.words import short_month
from assistant.record import Ledger
from assistant.record.season_rows import faults_by_age, faults_by_kind, read_months, steps_asked_again

INK = Style(
    background="white", plot_background="white", foreground="#1a1a1a", foreground_strong="#000",
    foreground_subtle="#333",
    colors=("#0b3c5d", "#d9822b", "#5a5a5a", "#7fb2d6", "#000000", "#c9a26b"), opacity="1", opacity_hover="1",
    font_family="sans-serif", label_font_size=16, major_label_font_size=16, legend_font_size=16, title_font_size=18,
    value_font_size=14, value_label_font_size=14, guide_stroke_color="#ccc", major_guide_stroke_color="#999",
    stroke_width="3",
)  # fmt: skip
DASHES = ("1,0", "10,5", "3,4", "14,4,3,4", "6,6", "2,8")
PLAIN_BARS = {"print_values": True, "print_values_position": "top", "show_legend": False}
KINDS_DRAWN = 6
KEPT = 32  # pictures
OWN_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def picture(visit: Visit) -> Response:
    """One picture as SVG."""
    drawn = PICTURES.get(str(visit.request.path_params["name"]))
    if drawn is None:
        raise BadInput("There is no such picture.", "Go to the faults page.")
    with visit.shop.reading() as ledger:
        text = drawn(visit, ledger)
    return Response(text, media_type="image/svg+xml", headers={"content-security-policy": OWN_POLICY})


def by_kind(visit: Visit, ledger: Ledger) -> str:
    """The commonest kinds of fault over the months, each with its own dashes and number; bars for a single month."""
    months, names = [line.month for line in read_months(ledger, SEASON_MONTHS)], visit.shop.names
    kinds = faults_by_kind(ledger, months, visit.query("kind"))[:KINDS_DRAWN]
    rows = tuple((names.fault(kind.step, kind.code), kind.by_month) for kind in kinds)
    return _lines("kinds", tuple(months), rows)


def by_age(visit: Visit, ledger: Ledger) -> str:
    """Faults by the item's age in years, a numbered line of its own dashes for each type of item."""
    ages = faults_by_age(ledger)
    years = sorted({age for counts in ages.values() for age in counts if age >= 0})
    commonest = sorted(ages.items(), key=lambda pair: -sum(pair[1].values()))[:KINDS_DRAWN]
    rows = tuple(
        (visit.shop.names.item(item), tuple(counts.get(year, 0) for year in years)) for item, counts in commonest
    )
    return _lines("ages", tuple(f"{year} y" for year in years), rows)


@lru_cache(KEPT)
def _lines(name: str, labels: tuple[str, ...], rows: tuple[tuple[str, tuple[int, ...]], ...]) -> str:
    """A line a row, its number at its highest point and before its name; one bar a row where there is one label."""
    if len(labels) == 1:
        chart = _chart(pygal.HorizontalBar, [each for each, _ in reversed(rows)], show_legend=False)
        chart.add(labels[0], [numbers[0] for _, numbers in reversed(rows)])
        return _svg(chart, name)
    chart = _chart(pygal.Line, labels, dots_size=5, legend_at_bottom=True, legend_at_bottom_columns=2,
                   print_labels=True)  # fmt: skip
    for place, (row, numbers) in enumerate(rows):
        values: list[Any] = list(numbers)
        top = numbers.index(max(numbers))
        values[top] = {"value": numbers[top], "label": str(place + 1)}
        chart.add(f"{place + 1} {row}", values, stroke_style={"dasharray": DASHES[place], "width": 3})
    return _svg(chart, name)


@lru_cache(KEPT)
def _bars(name: str, unit: str, labels: tuple[str, ...], values: tuple[float | None, ...]) -> str:
    """A standing bar for each month, its number on top."""
    chart = _chart(pygal.Bar, labels, **PLAIN_BARS)
    chart.add(unit, list(values))
    return _svg(chart, name)


def swaps(visit: Visit, ledger: Ledger) -> str:
    """Percent of the checks of each month in which something was swapped."""
    months = read_months(ledger, SEASON_MONTHS)
    shares = tuple(round(100 * (line.swapped_share or 0)) for line in months)
    return _bars("swaps", "percent", tuple(line.month for line in months), shares)


def minutes(visit: Visit, ledger: Ledger) -> str:
    """Mean minutes of a check in each month."""
    months = read_months(ledger, SEASON_MONTHS)
    each = tuple(None if line.minutes is None else round(line.minutes, 1) for line in months)
    return _bars("minutes", "minutes", tuple(line.month for line in months), each)


def again(visit: Visit, ledger: Ledger) -> str:
    """The steps whose question had to be asked again most often, in percent."""
    steps = [line for line in steps_asked_again(ledger) if line.asked][:10]
    labels = tuple(visit.shop.names.step(line.step) for line in reversed(steps))
    return _lying(labels, tuple(round(100 * line.share, 1) for line in reversed(steps)))


@lru_cache(KEPT)
def _lying(labels: tuple[str, ...], percents: tuple[float, ...]) -> str:
    """A lying bar for each step."""
    chart = _chart(pygal.HorizontalBar, labels, show_legend=False)
    chart.add("percent", list(percents))
    return _svg(chart, "again")


PICTURES = {"kinds.svg": by_kind, "ages.svg": by_age, "swaps.svg": swaps, "minutes.svg": minutes, "again.svg": again}


def _chart(kind: Any, labels: Sequence[str], **options: Any) -> Any:
    named = [short_month(label) if re.fullmatch(r"\d{4}-\d\d", label) else label for label in labels]
    chart = kind(style=INK, js=[], width=860, height=380, disable_xml_declaration=True, include_x_axis=True,
                 no_data_text="Nothing yet", pretty_print=False, **options)  # fmt: skip
    chart.x_labels = named
    return chart


def _svg(chart: Any, name: str) -> str:
    chart.uuid = name  # pygal's own would be random
    return re.sub(r"<!--.*?-->", "", str(chart.render(is_unicode=True)), flags=re.S)
