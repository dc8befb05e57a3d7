"""What the commands of the sums share: options, the choice between units, refusals, and printing.

Every option names its unit. Exit status: 0 when it passes, 1 when it does not, 2 for input that cannot be meant.

A result is printed as its reason, then its fields with the unit that ends each name; or as JSON.
"""

from __future__ import annotations

import dataclasses
import json
import sys
from collections.abc import Mapping
from datetime import date
from enum import Enum
from pathlib import Path
from typing import Any

import click

from assistant.errors import BadInput, KitcallError
from assistant.sums import settings as centre_settings
from assistant.sums.compressibility import AIR_O2_SHARE
from assistant.sums.gauge import Gauge
from assistant.sums.limits import O2_PERCENT

CAUTION = "Advice to qualified people; it replaces no training and no maker's instructions."
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")
O2 = click.option("--o2-percent", type=float, help="Oxygen in the cylinder, percent (air when not given).")
WATER_L = click.option("--water-l", type=float, help="Water volume of the cylinder, litres.")
DIVISION_BAR = click.option("--division-bar", type=float, help="One division of the gauge, bar.")
SETTINGS = click.option(
    "--settings", type=click.Path(dir_okay=False, path_type=Path), help="The centre's own thresholds, a TOML file."
)
UNITS = (
    ("_l_min", "l/min"),
    ("_bar_min", "bar/min"),
    ("_share", "%"),
    ("_percent", "%"),
    ("_bar", "bar"),
    ("_min", "min"),
    ("_kg", "kg"),
    ("_l", "l"),
    ("_m", "m"),
)


class Refusing(click.Command):
    """A command whose refusals say what was understood and what to do, with exit status 2."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except KitcallError as refusal:
            click.echo(f"{refusal} {refusal.mend}".strip(), err=True)
            ctx.exit(2)


def share(percent: float | None) -> float:
    """Oxygen as a share; air when it was not given."""
    return AIR_O2_SHARE if percent is None else O2_PERCENT.check(percent) / 100


def choose(what: str, **options: float | None) -> float:
    """The one value given among options that exclude each other."""
    given = {name: value for name, value in options.items() if value is not None}
    names = " or ".join("--" + name.replace("_", "-") for name in options)
    if len(given) != 1:
        said = ", ".join(f"{name} {value:g}" for name, value in given.items()) or "nothing"
        raise BadInput(f"For the {what}, {said} was understood.", f"Give {names}, one of them.")
    return next(iter(given.values()))


def numbers(text: str, counts: tuple[int, ...], form: str) -> list[float]:
    """Numbers between colons, as many as the form has."""
    try:
        found = [float(part) for part in text.split(":")]
    except ValueError as problem:
        raise BadInput(f"{text!r} was understood, which are no numbers.", f"Expected is {form}.") from problem
    if len(found) not in counts:
        raise BadInput(f"{len(found)} numbers were understood in {text!r}.", f"Expected is {form}.")
    return found


def gauge_of(path: Path | None, division_bar: float | None) -> tuple[centre_settings.Settings, Gauge]:
    """The centre's settings, and its gauge with the division that was given."""
    centre = centre_settings.load(path)
    gauge = centre.gauge.as_gauge()
    return centre, gauge if division_bar is None else dataclasses.replace(gauge, division_bar=division_bar)


def show(result: Any, as_json: bool, parts: Mapping[str, Any] | None = None) -> None:
    """Print a result (and, for a group, its parts), then leave with 0 when it passes and 1 when not."""
    passes = getattr(result, "passes", True)
    if as_json:
        whole = {"passes": passes, "reason": result.reason, **dataclasses.asdict(result), "caution": CAUTION}
        if parts:
            whole["parts"] = {name: dataclasses.asdict(part) for name, part in parts.items()}
        click.echo(json.dumps(whole, default=plain, allow_nan=False, indent=2))
    else:
        for name, part in {"": result, **(parts or {})}.items():
            click.echo("\n".join([f"{name}: {part.reason}" if name else part.reason, *lines(part)]))
        click.echo(CAUTION)
    sys.exit(0 if passes else 1)


def plain(value: object) -> str:
    """JSON for what is no number: dates as YYYY-MM-DD."""
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"{value!r} cannot be written as JSON")


def lines(result: Any) -> list[str]:
    """Each number of a result on a line of its own, with its unit."""
    found = []
    for name, value in dataclasses.asdict(result).items():
        if isinstance(value, dict) and "reason" in value:
            found.append(f"  {name.replace('_', ' ')}: {value['reason']}")
        if name == "reason" or value is None or isinstance(value, dict | tuple | list):
            continue
        ending, unit = next(((e, u) for e, u in UNITS if name.endswith(e)), ("", ""))
        words = name.removesuffix(ending).replace("_", " ")
        found.append(f"  {words}: {written(value, ending)} {unit}".rstrip())
    return found


def written(value: object, ending: str) -> str:
    if isinstance(value, Enum):
        return str(value.value).replace("_", " ")
    if isinstance(value, float):
        return f"{value * 100 if ending.endswith('_share') else value:.4g}"
    return str(value)
