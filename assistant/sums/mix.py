"""Breathing mixes of oxygen and nitrogen: analysed against label, depth limits, equivalent air depth.

Depths by the trade's formula (surface 1 bar, 10 m a bar; in feet 33 fsw an ata), as its tables print them;
the weighed sea gives up to 0.4 m less, shown beside. A maximum depth is always rounded down, and it takes
the richer of label and analysis; an equivalent air depth takes the leaner. Analysed against label: the
tolerance is a setting. Sources: formulas of the NOAA Diving Manual as quoted; checked by tests/sums/test_mix.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from assistant.sums import oxygen
from assistant.sums.limits import DEPTH, DIVE_DEPTH, MINUTES, O2_SHARE, Limit
from assistant.sums.settings import Mix, defaults
from assistant.sums.water import Water, depth_at

AIR_N2_SHARE = 0.79
MSW_M_BAR = 10.0
FSW_FT_ATA = 33.0
PO2_LIMIT = Limit("the limit of the oxygen partial pressure", "bar", 1.0, 1.6)
DEPTH_FSW = Limit("the depth", "fsw", 0.0, 200.0)


class Label(StrEnum):
    """Only MATCHES passes."""

    MATCHES = "matches"
    DIFFERS = "differs"
    TOO_DEEP = "too_deep"
    TOO_LONG = "too_long"  # beyond the published oxygen exposure


@dataclass(frozen=True, slots=True)
class MixResult:
    """Depths in m. mod_m is rounded down; mod_weighed_m is the same limit in sea water of 1025 kg/m3, unrounded, and
    rule_error_m how far the trade's formula is beyond it."""

    label: Label
    difference_percent: float
    mod_m: int
    mod_exact_m: float
    mod_weighed_m: float
    rule_error_m: float
    ead_m: float | None
    po2_bar: float | None
    exposure: oxygen.Exposure | None
    reason: str

    @property
    def passes(self) -> bool:
        return self.label is Label.MATCHES


def mod_m(o2_share: float, po2_bar: float = 1.4) -> float:
    """Depth in m where oxygen reaches this partial pressure: 10 (p / share - 1), unrounded."""
    return MSW_M_BAR * (PO2_LIMIT.check(po2_bar) / O2_SHARE.check(o2_share) - 1)


def mod_fsw(o2_share: float, po2_ata: float = 1.4) -> float:
    """Depth in fsw where oxygen reaches this partial pressure in ata: 33 (p / share - 1), unrounded."""
    return FSW_FT_ATA * (PO2_LIMIT.check(po2_ata) / O2_SHARE.check(o2_share) - 1)


def mod_weighed_m(o2_share: float, po2_bar: float = 1.4, water: Water = Water.SEA, altitude_m: float = 0.0) -> float:
    """The same from the true pressure in this water at this altitude, in bar."""
    return depth_at(PO2_LIMIT.check(po2_bar) / O2_SHARE.check(o2_share), water, altitude_m)


def round_down(depth: float) -> int:
    """Whole metres or feet, never deeper; a value that is whole but for its last digit stays."""
    return math.floor(depth + 1e-9)


def ead_m(o2_share: float, depth_m: float) -> float:
    """Depth in m at which air has the same nitrogen pressure; below zero: less than at the surface."""
    return (DEPTH.check(depth_m) + MSW_M_BAR) * (1 - O2_SHARE.check(o2_share)) / AIR_N2_SHARE - MSW_M_BAR


def ead_fsw(o2_share: float, depth_fsw: float) -> float:
    """The same in fsw."""
    return (DEPTH_FSW.check(depth_fsw) + FSW_FT_ATA) * (1 - O2_SHARE.check(o2_share)) / AIR_N2_SHARE - FSW_FT_ATA


def best_share(depth_m: float, po2_bar: float = 1.4) -> float:
    """The richest share of oxygen for a depth in m; may lie outside what kitcall judges."""
    return PO2_LIMIT.check(po2_bar) / (DIVE_DEPTH.check(depth_m) / MSW_M_BAR + 1)


def judge(
    label_share: float,
    analysed_share: float,
    depth_m: float | None = None,
    minutes: float | None = None,
    practice: Mix | None = None,
) -> MixResult:
    """Judge a mix: analysis against label, and the planned depth and time where given.

    Args: shares 0.20..0.40; depth_m 1..60; minutes at it 0.1..600.
    Raises: BadInput for shares such as 2.1 or 32, and depths or times that cannot be meant; ask again.
    """
    practice = practice or defaults().mix
    rich = max(O2_SHARE.check(label_share), O2_SHARE.check(analysed_share))
    lean = min(label_share, analysed_share)
    exact = mod_m(rich, practice.po2_bar)
    weighed = mod_weighed_m(rich, practice.po2_bar)
    difference = (analysed_share - label_share) * 100
    po2 = None if depth_m is None else rich * (DIVE_DEPTH.check(depth_m) / MSW_M_BAR + 1)
    exposure = exposure_of(po2, minutes, practice)
    found = MixResult(
        label=decide(difference, depth_m, round_down(exact), exposure, practice),
        difference_percent=difference,
        mod_m=round_down(exact),
        mod_exact_m=exact,
        mod_weighed_m=weighed,
        rule_error_m=exact - weighed,
        ead_m=None if depth_m is None else ead_m(lean, depth_m),
        po2_bar=po2,
        exposure=exposure,
        reason="",
    )
    return replace(found, reason=explain(found, label_share, analysed_share, depth_m, practice))


def decide(
    difference_percent: float, depth_m: float | None, mod: int, exposure: oxygen.Exposure | None, practice: Mix
) -> Label:
    if abs(difference_percent) > practice.label_percent + 1e-6:
        return Label.DIFFERS
    if depth_m is not None and depth_m > mod:
        return Label.TOO_DEEP
    over = exposure is not None and max(exposure.single_share, exposure.day_share) > 1 + 1e-9
    return Label.TOO_LONG if over else Label.MATCHES


def exposure_of(po2_bar: float | None, minutes: float | None, practice: Mix) -> oxygen.Exposure | None:
    """The exposure, when depth and time are known and the table has a row for the pressure."""
    if minutes is not None:
        MINUTES.check(minutes)
    if po2_bar is None or minutes is None or po2_bar > practice.po2_most_bar:
        return None
    return oxygen.expose([(po2_bar, minutes)], oxygen.table(practice.exposure_table))


REASONS = {
    Label.MATCHES: "Analysed {analysed:.1f} % against {label:.1f} % on the label, within {tolerance:g}; "
    "deepest {mod} m for {limit:g} bar of oxygen.",
    Label.DIFFERS: "Analysed {analysed:.1f} % but {label:.1f} % is on the label, more than {tolerance:g} apart: "
    "not this cylinder until it is analysed again and labelled.",
    Label.TOO_DEEP: "{depth:g} m is deeper than {mod} m, the deepest for {rich:.1f} % and {limit:g} bar of oxygen.",
    Label.TOO_LONG: "Too long at {depth:g} m on {rich:.1f} %: {exposure}",
}


def explain(found: MixResult, label_share: float, analysed_share: float, depth_m: float | None, practice: Mix) -> str:
    return REASONS[found.label].format(
        analysed=analysed_share * 100,
        label=label_share * 100,
        tolerance=practice.label_percent,
        mod=found.mod_m,
        limit=practice.po2_bar,
        depth=depth_m or 0.0,
        rich=max(label_share, analysed_share) * 100,
        exposure="" if found.exposure is None else found.exposure.reason,
    )
