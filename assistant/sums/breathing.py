"""Breathing test: what the needle did over a few full breaths, and what that says about the valve.

Judged from two computed numbers, not from a constant: the pressure that the breaths take from this
cylinder, and the smallest change this gauge can show. Gas that was breathed does not come back, so a
needle that recovers tells of a restriction; a needle that stays down tells how small the volume behind it is.
Any doubt is DOUBTFUL and does not pass. Source of the reasoning: case reports of needles that dip with each
breath at half-open valves (DAN case summaries); thresholds are settings. Checked by tests/sums/test_breathing.py.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from assistant.errors import BadInput
from assistant.sums.compressibility import AIR_O2_SHARE
from assistant.sums.content import FREE_DEGC, error_share, free_l, gauge_for
from assistant.sums.gauge import Gauge
from assistant.sums.limits import BREATH, BREATHS, WATER_VOLUME
from assistant.sums.settings import Breathing, defaults


class Needle(StrEnum):
    """What the needle told. Only STEADY passes."""

    STEADY = "steady"
    RESTRICTED = "restricted"  # dips and recovers: valve not fully open, or a blocked filter
    SHUT = "shut"  # falls and stays, as from a hose: the valve is shut
    FALLEN = "fallen"  # falls and stays: a small cylinder or a wrong reading
    DIPPED = "dipped"  # falls, and nobody said whether it came back
    UNMOVED = "unmoved"  # did not move where it must have: the gauge sticks, or no breath was taken
    DOUBTFUL = "doubtful"  # too little gas, or one step of the gauge too much: take it again


@dataclass(frozen=True, slots=True)
class BreathingResult:
    """Pressures in bar. Expected falls are those of the smallest and the largest full breaths; model_error_share
    is the gas model's own error in them."""

    needle: Needle
    expected_low_bar: float
    expected_high_bar: float
    smallest_bar: float
    dip_bar: float
    recovered_bar: float
    lost_bar: float
    breaths_to_show: float
    acts_like_l: float | None
    model_error_share: float
    reason: str

    @property
    def passes(self) -> bool:
        return self.needle is Needle.STEADY


@dataclass(frozen=True, slots=True)
class Readings:
    """Needle before the breaths, at its lowest during them, and settled after them (None: not said); bar."""

    before_bar: float
    lowest_bar: float
    after_bar: float | None = None

    @property
    def settled_bar(self) -> float:
        """After the breaths; where that was not said, as if it had stayed at its lowest."""
        return self.lowest_bar if self.after_bar is None else self.after_bar

    def check(self, gauge: Gauge) -> None:
        """Refuse what cannot have been read in this order (BadInput): read the needle again."""
        for value, name in ((self.before_bar, "before"), (self.lowest_bar, "lowest"), (self.settled_bar, "after")):
            gauge.check(value, f"the pressure {name}")
        if self.before_bar == 0:
            raise BadInput("The pressure before the breaths was understood as 0 bar.", "Open the valve, then read.")
        if self.lowest_bar > self.before_bar or self.lowest_bar > self.settled_bar:
            raise BadInput(f"The {self.said()}: the lowest is not the lowest.", "Say before, lowest, after, in bar.")
        if self.settled_bar > self.before_bar + gauge.smallest_bar:
            raise BadInput(f"The {self.said()}: breathing adds no gas.", "Say before, lowest, after, in bar.")

    def said(self) -> str:
        return (
            f"needle was understood as {self.before_bar:g} bar before, {self.lowest_bar:g} at its lowest "
            f"and {self.settled_bar:g} after"
        )


def expected_fall_bar(
    water_l: float,
    gauge_bar: float,
    breath_l: float,
    breaths: float = 3,
    temp_degc: float = FREE_DEGC,
    o2_share: float = AIR_O2_SHARE,
) -> float:
    """Bar by which full breaths at the surface lower a cylinder's gauge (real gas).

    Args: water_l 0.4..40 l; gauge_bar 0..340; breath_l 0.3..8 l each; breaths 1..20.
    A cylinder that holds less than the breaths need falls to zero, and that fall is given.
    """
    taken_l = BREATH.check(breath_l) * BREATHS.check(breaths)
    left_l = free_l(water_l, gauge_bar, temp_degc, o2_share) - taken_l
    empty_l = free_l(water_l, 0.0, temp_degc, o2_share)
    if left_l <= empty_l:
        return gauge_bar
    return gauge_bar - gauge_for(water_l, left_l, temp_degc, o2_share)


def judge(
    readings: Readings,
    water_l: float,
    gauge: Gauge | None = None,
    temp_degc: float = FREE_DEGC,
    o2_share: float = AIR_O2_SHARE,
    practice: Breathing | None = None,
) -> BreathingResult:
    """Judge a breathing test.

    Args: readings in bar; water_l of the cylinder on the label; gauge as it is marked; temp_degc of the gas.
    Raises: BadInput for readings that cannot be meant; the guide asks for them again.
    Error: the expected falls carry the spread of a full breath (settings), far above the 0.3 % of the gas model.
    """
    gauge = gauge or defaults().gauge.as_gauge()
    practice = practice or defaults().breathing
    WATER_VOLUME.check(water_l)
    readings.check(gauge)
    low, high = (
        expected_fall_bar(water_l, readings.before_bar, breath, practice.breaths, temp_degc, o2_share)
        for breath in (practice.small_breath_l, practice.large_breath_l)
    )
    lost = readings.before_bar - readings.settled_bar
    needle = decide(readings, low, high, gauge, practice)
    acts_like = volume_behind_l(lost, practice) if needle is Needle.FALLEN else None
    if acts_like is not None:
        needle = name_fall(readings, acts_like, practice)
    per_breath = (low / practice.breaths + high / practice.breaths) / 2
    result = BreathingResult(
        needle=needle,
        expected_low_bar=low,
        expected_high_bar=high,
        smallest_bar=gauge.smallest_bar,
        dip_bar=readings.before_bar - readings.lowest_bar,
        recovered_bar=readings.settled_bar - readings.lowest_bar,
        lost_bar=lost,
        breaths_to_show=gauge.smallest_bar / per_breath,
        acts_like_l=acts_like,
        model_error_share=error_share(o2_share),
        reason="",
    )
    return explain(result, readings, water_l, practice)


def decide(readings: Readings, low_bar: float, high_bar: float, gauge: Gauge, practice: Breathing) -> Needle:
    """The rules, hardest first."""
    lost = readings.before_bar - readings.settled_bar
    recovered = readings.settled_bar - readings.lowest_bar
    step = gauge.smallest_bar
    if recovered >= step:
        return Needle.RESTRICTED
    if lost - high_bar >= step:
        return Needle.FALLEN
    if readings.before_bar < practice.least_bar or max(lost, readings.before_bar - readings.lowest_bar) > high_bar:
        return Needle.DOUBTFUL
    if low_bar - lost >= step:
        return Needle.UNMOVED
    return Needle.STEADY


def name_fall(readings: Readings, acts_like_l: float, practice: Breathing) -> Needle:
    """Which kind of fall it is, from the volume that it acts like."""
    if readings.after_bar is None:
        return Needle.DIPPED
    return Needle.SHUT if acts_like_l <= practice.hose_gas_l else Needle.FALLEN


def volume_behind_l(lost_bar: float, practice: Breathing) -> float:
    """Water volume in litres from which the breaths would have taken this fall (ideal gas, mean breath)."""
    breath_l = (practice.small_breath_l + practice.large_breath_l) / 2
    return breath_l * practice.breaths / lost_bar


REASONS = {
    Needle.STEADY: "The needle stayed within {smallest:.3g} bar, the least this gauge shows, and {breaths:.0f} full "
    "breaths take {low:.2g} to {high:.2g} bar from {water:g} l at {before:.0f} bar: the valve feeds these breaths.",
    Needle.RESTRICTED: "The needle dipped {dip:.3g} bar and came back {recovered:.3g}, and breathed gas does not come "
    "back: the valve is not fully open or its filter is blocked.",
    Needle.SHUT: "The needle fell {lost:.3g} bar and stayed, where {water:g} l lose {low:.2g} to {high:.2g}: that is "
    "what {acts:.2g} l of hose hold, so the valve is shut.",
    Needle.FALLEN: "The needle fell {lost:.3g} bar and stayed, where {water:g} l lose {low:.2g} to {high:.2g}: that is "
    "a cylinder of about {acts:.2g} l, or a wrong reading.",
    Needle.DIPPED: "The needle fell {dip:.3g} bar where {water:g} l lose {low:.2g} to {high:.2g}: back again means a "
    "valve not fully open, still down means a shut one or another cylinder.",
    Needle.UNMOVED: "The needle fell {lost:.3g} bar where {breaths:.0f} full breaths take at least {low:.2g} bar from "
    "{water:g} l: the gauge sticks, or the breaths were not full.",
    Needle.DOUBTFUL: "The needle moved {dip:.3g} bar where {low:.2g} to {high:.2g} are expected and this gauge shows "
    "{smallest:.3g}: too close to tell, take the breaths again.",
}
LOW_REASON = (
    "At {before:.0f} bar there is too little gas for this test to say anything about the valve: take it again at "
    "{least:.0f} bar or more."
)


def explain(result: BreathingResult, readings: Readings, water_l: float, practice: Breathing) -> BreathingResult:
    """The same result with its reason in one sentence."""
    low_gas = result.needle is Needle.DOUBTFUL and readings.before_bar < practice.least_bar
    reason = (LOW_REASON if low_gas else REASONS[result.needle]).format(
        smallest=result.smallest_bar,
        breaths=practice.breaths,
        low=result.expected_low_bar,
        high=result.expected_high_bar,
        water=water_l,
        before=readings.before_bar,
        dip=result.dip_bar,
        recovered=result.recovered_bar,
        lost=result.lost_bar,
        acts=result.acts_like_l or 0.0,
        least=practice.least_bar,
    )
    return replace(result, reason=reason)
