"""A centre's thresholds: the built-in file grammars/sums/settings.toml, or a centre's own over it.

Each value is a number (or word) with its unit in its name and a source beside it. A centre's file
names only what differs. An unknown key or a value out of range is refused by file and key.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from assistant.errors import BadInput
from assistant.sums import tables
from assistant.sums.gauge import Gauge


def bare(value: object) -> object:
    """The value out of {value, source}; a centre's own file may write it bare."""
    return value["value"] if isinstance(value, dict) and "value" in value else value


Word = BeforeValidator(bare)


class Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Breathing(Section):
    breaths: Annotated[float, Word, Field(ge=1, le=20)]
    small_breath_l: Annotated[float, Word, Field(ge=0.3, le=8)]
    large_breath_l: Annotated[float, Word, Field(ge=0.3, le=8)]
    hose_gas_l: Annotated[float, Word, Field(ge=0.01, le=2)]
    least_bar: Annotated[float, Word, Field(ge=5, le=200)]


class Leak(Section):
    limit_l_min: Annotated[float, Word, Field(gt=0, le=10)]
    gross_l_min: Annotated[float, Word, Field(gt=0, le=200)]
    too_soon: Annotated[Literal["wait", "note"], Word]
    trapped_l: Annotated[float, Word, Field(ge=0.005, le=1)]
    reading_degc: Annotated[float, Word, Field(ge=0, le=5)]
    unknown_degc: Annotated[float, Word, Field(ge=0.5, le=30)]


class Kit(Section):
    """What the check cannot see: the centre's cylinders, and the dive they are for."""

    water_l: Annotated[float, Word, Field(ge=0.4, le=40)]
    low_bar: Annotated[float, Word, Field(ge=10, le=300)]
    high_bar: Annotated[float, Word, Field(ge=100, le=340)]
    left_bar: Annotated[float, Word, Field(ge=0, le=100)]
    o2_percent: Annotated[float, Word, Field(ge=20, le=40)]
    depth_m: Annotated[float, Word, Field(ge=1, le=60)]
    region: Annotated[str, Word]
    material: Annotated[str, Word]
    used_l: Annotated[float, Word, Field(ge=0, le=500)]


class Plan(Section):
    rmv_l_min: Annotated[float, Word, Field(ge=5, le=90)]
    shared_rmv_l_min: Annotated[float, Word, Field(ge=5, le=90)]
    sort_out_min: Annotated[float, Word, Field(ge=0, le=10)]
    ascent_m_min: Annotated[float, Word, Field(ge=1, le=18)]
    stop_m: Annotated[float, Word, Field(ge=2, le=9)]
    stop_min: Annotated[float, Word, Field(ge=0, le=30)]
    least_reserve_bar: Annotated[float, Word, Field(ge=0, le=150)]
    turn_share: Annotated[float, Word, Field(gt=0, le=1)]


class Mix(Section):
    label_percent: Annotated[float, Word, Field(gt=0, le=3)]
    po2_bar: Annotated[float, Word, Field(ge=1.0, le=1.6)]
    po2_most_bar: Annotated[float, Word, Field(ge=1.0, le=1.6)]
    exposure_table: Annotated[str, Word]
    analyser_percent: Annotated[float, Word, Field(ge=0, le=3)]
    analyser_share_k: Annotated[float, Word, Field(ge=0, le=0.05)]


class Dates(Section):
    soon_days: Annotated[int, Word, Field(ge=0, le=366)]
    month_only: Annotated[Literal["last_day", "first_day"], Word]
    earliest_year: Annotated[int, Word, Field(ge=1930, le=2020)]


class Service(Section):
    months: Annotated[int, Word, Field(ge=1, le=60)]
    dives: Annotated[int, Word, Field(ge=1, le=5000)]


class GaugeMarks(Section):
    division_bar: Annotated[float, Word]
    read_share: Annotated[float, Word]
    full_scale_bar: Annotated[float, Word]

    def as_gauge(self) -> Gauge:
        return Gauge(self.division_bar, self.read_share, self.full_scale_bar)


class Settings(Section):
    """All sections; see the file for what each value means and where it comes from."""

    edition: str
    gauge: GaugeMarks
    kit: Kit
    breathing: Breathing
    leak: Leak
    plan: Plan
    mix: Mix
    dates: Dates
    service: dict[str, Service]

    @property
    def digest(self) -> str:
        """SHA-256 (64 hex digits) of all values, so that a record can say by which ones it was judged."""
        values = json.dumps(self.model_dump(mode="json"), sort_keys=True)
        return hashlib.sha256(values.encode()).hexdigest()


@cache
def defaults() -> Settings:
    """The built-in settings."""
    return read(tables.built_in("settings"), "grammars/sums/settings.toml")


def load(path: Path | None = None) -> Settings:
    """The centre's settings over the built-in ones; without a path the built-in ones.

    Raises: BadInput naming file and key; mend that key or leave it out.
    """
    if path is None:
        return defaults()
    return read(overlay(tables.built_in("settings"), tables.from_file(path)), str(path))


def overlay(under: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    """Tables merged key by key; a value of the upper one replaces the lower one's whole."""
    merged = dict(under)
    for key, value in over.items():
        below = merged.get(key)
        both = isinstance(value, dict) and isinstance(below, dict) and "value" not in below
        merged[key] = overlay(below, value) if both and below is not None else value
    return merged


def read(data: Mapping[str, Any], where: str) -> Settings:
    try:
        return Settings.model_validate(data)
    except ValidationError as problem:
        first = problem.errors()[0]
        key = ".".join(str(part) for part in first["loc"])
        raise BadInput(
            f"{where}: {key} was understood as {first['input']!r}. {first['msg']}.",
            "Give that key a value in its range, or leave it out to keep the built-in one.",
        ) from problem


def sources(data: Mapping[str, Any], above: str = "") -> dict[str, str]:
    """Where each value comes from, by dotted key; 'the centre' for bare ones."""
    found: dict[str, str] = {}
    for key, value in data.items():
        name = f"{above}{key}"
        if isinstance(value, dict) and "value" not in value:
            found |= sources(value, f"{name}.")
        elif name != "edition":
            found[name] = value["source"] if isinstance(value, dict) else "the centre"
    return found
