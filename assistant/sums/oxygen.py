"""Oxygen exposure: share of the published limits (CNS) and lung dose (OTU).

Tables are dated data in grammars/sums/oxygen.toml; the setting exposure_table chooses one. A partial
pressure between two rows takes the next higher one. Pressures in bar are read as the table's ata, which
overstates by 1.3 % at most, on the careful side. OTU: t ((p - 0.5) / 0.5)^0.83, formula of 1970.
Checked by tests/sums/test_mix.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from assistant.errors import BadInput
from assistant.sums import tables
from assistant.sums.limits import MINUTES, Limit
from assistant.sums.units import ATM_BAR

NO_EFFECT_BAR = 0.5
OTU_POWER = 0.83
PO2_OVER = Limit("the oxygen partial pressure", "bar", 0.16, 1.6)


@dataclass(frozen=True, slots=True)
class Row:
    po2_ata: float
    single_min: int
    day_min: int


@dataclass(frozen=True, slots=True)
class Table:
    """One edition of the limits, rows from low to high."""

    name: str
    source: str
    edition: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Exposure:
    """Shares of the single and the 24 hour limit (1 is all of it), and lung dose; overstated by at most
    overstated_share, because bar are read as the table's ata."""

    single_share: float
    day_share: float
    otu: float
    table: str
    overstated_share: float
    reason: str


def table(name: str = "noaa_2001") -> Table:
    """The table of that name.

    Raises: BadInput naming the tables there are; mend exposure_table in the settings.
    """
    known = tables.built_in("oxygen")
    if name not in known:
        raise BadInput(f"The exposure table was understood as {name!r}.", f"Expected is one of {', '.join(known)}.")
    data = known[name]
    rows = tuple(Row(row["po2_ata"], row["single_min"], row["day_min"]) for row in data["rows"])
    return Table(name, data["source"], data["edition"], rows)


def row_for(po2_bar: float, limits: Table) -> Row | None:
    """The row at or above this pressure; None at or below 0.5 bar, where nothing counts.

    Raises: BadInput above 1.6 bar: the table allows no time there; plan a shallower depth or a leaner mix.
    """
    PO2_OVER.check(po2_bar)
    if po2_bar <= NO_EFFECT_BAR:
        return None
    return next(row for row in limits.rows if row.po2_ata >= po2_bar - 1e-6)


def otu(po2_bar: float, minutes: float) -> float:
    """Lung dose in OTU of minutes at a partial pressure in bar."""
    PO2_OVER.check(po2_bar)
    over = max(po2_bar - NO_EFFECT_BAR, 0.0) / NO_EFFECT_BAR  # by definition nothing counts below
    return float(MINUTES.check(minutes) * over**OTU_POWER)


def expose(stays: Iterable[tuple[float, float]], limits: Table | None = None) -> Exposure:
    """Exposure of stays given as (partial pressure in bar, minutes).

    Raises: BadInput outside 0.16 to 1.6 bar or for times that cannot be meant.
    """
    limits = limits or table()
    single = day = dose = 0.0
    for po2_bar, minutes in stays:
        dose += otu(po2_bar, minutes)
        row = row_for(po2_bar, limits)
        if row is not None:
            single += minutes / row.single_min
            day += minutes / row.day_min
    reason = (
        f"{single * 100:.0f} % of the single and {day * 100:.0f} % of the daily oxygen limit "
        f"({limits.name.replace('_', ' ')}), {dose:.0f} OTU."
    )
    return Exposure(single, day, dose, limits.name, ATM_BAR - 1, reason)
