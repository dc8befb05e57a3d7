"""Leak test: readings of a gauge over time, corrected for temperature, and what they can and cannot show.

Each reading is turned into an amount of gas by the real-gas law at its own temperature, so a cylinder that
only cools loses nothing. A straight line through the amounts gives the rate; its bound is the worst that
half a gauge step at every reading, and the thermometer's, could do (a bound, not a standard deviation).
Without temperatures the gas may have changed by the setting's unknown_degc, and the bound says so.
A leak found never passes; nor does "none shown" while the limit could still hide. Do it with the valve SHUT: an
open one hides it. Source: gas law, least squares; no published limit was found. Checked by tests/sums/test_leak.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from assistant.errors import BadInput
from assistant.sums.compressibility import AIR_O2_SHARE
from assistant.sums.content import FREE_DEGC, Model, error_share, moles_per_l, slope_bar_k
from assistant.sums.gauge import Gauge
from assistant.sums.limits import MINUTES, TEMP, TRAPPED, WATER_VOLUME, Limit
from assistant.sums.settings import Leak, defaults

RATE = Limit("the leak", "l/min", 0.0, 1000.0)
USED = Limit("the gas used between the readings", "l", 0.0, 500.0)
START_MIN = Limit("the time of a reading", "min", 0.0, 1440.0)


class Valve(StrEnum):
    """Where the gas under test is: behind a shut valve (hoses only) or with the whole cylinder."""

    SHUT = "shut"
    OPEN = "open"


class Tightness(StrEnum):
    """Only TIGHT passes."""

    TIGHT = "tight"  # no leak shown, and a leak at the limit would have shown
    NONE_SHOWN = "none_shown"  # no leak shown, but one at the limit could still hide: wait longer
    LEAKS = "leaks"
    GAINS = "gains"  # pressure rose more than temperature explains: a reading is wrong


@dataclass(frozen=True, slots=True)
class Reading:
    """Minutes since the start, gauge bar, and the gas's degC where it was measured."""

    at_min: float
    gauge_bar: float
    temp_degc: float | None = None


@dataclass(frozen=True, slots=True)
class LeakResult:
    """Rates are losses, at the first reading's temperature; litres are free ones.

    wait_min is how long the whole test must last to tell the limit, when this one could not.
    """

    tightness: Tightness
    rate_bar_min: float
    bound_bar_min: float
    rate_l_min: float
    bound_l_min: float
    limit_l_min: float
    wait_min: float | None
    uncorrected_bar_min: float
    ideal_bar_min: float
    model_error_share: float
    reason: str

    @property
    def passes(self) -> bool:
        return self.tightness is Tightness.TIGHT

    def wait_for_min(self, leak_l_min: float) -> float | None:
        """Minutes that the whole test must last to tell a leak of so many free litres a minute; as wait_min."""
        return None if self.wait_min is None else self.wait_min * self.limit_l_min / RATE.check(leak_l_min)


@dataclass(frozen=True, slots=True)
class Line:
    """Weights that turn readings into a slope per minute by least squares."""

    weights: tuple[float, ...]
    span_min: float

    @classmethod
    def through(cls, times_min: Sequence[float]) -> Line:
        mean = sum(times_min) / len(times_min)
        spread = sum((t - mean) ** 2 for t in times_min)
        return cls(tuple((t - mean) / spread for t in times_min), times_min[-1] - times_min[0])

    def slope(self, values: Sequence[float]) -> float:
        return sum(w * v for w, v in zip(self.weights, values, strict=True))

    def worst(self, half_width: float) -> float:
        """The largest slope that errors of half_width at every reading could make."""
        return half_width * sum(abs(w) for w in self.weights)


def check(readings: Sequence[Reading], gauge: Gauge) -> None:
    """Refuse readings that cannot be meant (BadInput): take them again, in order of time."""
    if len(readings) < 2:
        raise BadInput(f"{len(readings)} reading was understood.", "A leak needs two readings or more, minutes apart.")
    for reading in readings:
        START_MIN.check(reading.at_min)
        gauge.check(reading.gauge_bar, "a reading")
        if reading.temp_degc is not None:
            TEMP.check(reading.temp_degc)
    times = [r.at_min for r in readings]
    if any(later <= earlier for earlier, later in pairwise(times)):
        said = ", ".join(f"{t:g}" for t in times)
        raise BadInput(f"The times were understood as {said} min.", "Give readings in order of time.")
    MINUTES.check(times[-1] - times[0])
    if readings[0].gauge_bar == 0:
        raise BadInput("The first reading was understood as 0 bar.", "Open the valve once, shut it, then read.")
    if len({r.temp_degc is None for r in readings}) > 1:
        raise BadInput("Some readings have a temperature and some do not.", "Give all of them one, or none.")


def loss_bar_min(readings: Sequence[Reading], o2_share: float, model: Model) -> float:
    """Loss in bar/min at the first reading's temperature: the rate of the amounts, turned back by its slope."""
    line = Line.through([r.at_min for r in readings])
    first_degc = temp_of(readings[0])
    amounts = [moles_per_l(r.gauge_bar, temp_of(r), o2_share, model) for r in readings]
    return (0.0 - line.slope(amounts)) / amount_per_bar(readings[0].gauge_bar, first_degc, o2_share, model)


def temp_of(reading: Reading) -> float:
    return FREE_DEGC if reading.temp_degc is None else reading.temp_degc


def amount_per_bar(gauge_bar: float, temp_degc: float, o2_share: float, model: Model) -> float:
    """Change of density in mol/l for each bar of gauge pressure, at this pressure and temperature."""
    low = max(gauge_bar - 1.0, 0.0)
    high = low + 1.0
    rise = moles_per_l(high, temp_degc, o2_share, model) - moles_per_l(low, temp_degc, o2_share, model)
    return rise / (high - low)


def free_per_bar_l(volume_l: float, gauge_bar: float, temp_degc: float, o2_share: float, model: Model) -> float:
    """Free litres in one bar of this volume, at this pressure and temperature."""
    free = moles_per_l(0.0, FREE_DEGC, o2_share, model)
    return volume_l * amount_per_bar(gauge_bar, temp_degc, o2_share, model) / free


def drop_bar_min(
    leak_l_min: float,
    volume_l: float,
    gauge_bar: float,
    temp_degc: float = FREE_DEGC,
    o2_share: float = AIR_O2_SHARE,
    model: Model = Model.REAL,
) -> float:
    """Bar a minute that a leak of free litres a minute takes from a volume of 0.005..40 l."""
    checked_volume(volume_l)
    return RATE.check(leak_l_min) / free_per_bar_l(volume_l, gauge_bar, temp_degc, o2_share, model)


def checked_volume(volume_l: float) -> float:
    return TRAPPED.check(volume_l) if volume_l < WATER_VOLUME.low else WATER_VOLUME.check(volume_l)


def judge(
    readings: Sequence[Reading],
    valve: Valve,
    water_l: float | None = None,
    gauge: Gauge | None = None,
    o2_share: float = AIR_O2_SHARE,
    practice: Leak | None = None,
    used_l: float = 0.0,
) -> LeakResult:
    """Judge a leak test.

    Args: readings in order of time; valve SHUT (the setting's trapped_l counts) or OPEN (water_l of the cylinder);
        used_l free litres, 0..500, that may have been breathed or purged between the readings: no leak is seen in them.
    Raises: BadInput for readings that cannot be meant, or an open valve without water_l.
    Error: the gas model's 0.3 % is far below bound_bar_min, which is printed beside the rate.
    """
    gauge = gauge or defaults().gauge.as_gauge()
    practice = practice or defaults().leak
    check(readings, gauge)
    if valve is Valve.OPEN and water_l is None:
        raise BadInput("The valve is open and no water volume was understood.", "Give the cylinder's litres.")
    volume_l = WATER_VOLUME.check(water_l) if valve is Valve.OPEN and water_l is not None else practice.trapped_l
    first = readings[0]
    per_bar_l = free_per_bar_l(volume_l, first.gauge_bar, temp_of(first), o2_share, Model.REAL)
    half_width = gauge.half_width_bar + temperature_bar(readings, o2_share, practice)
    line = Line.through([r.at_min for r in readings])
    rate, bound = loss_bar_min(readings, o2_share, Model.REAL), line.worst(half_width)
    used = USED.check(used_l) / per_bar_l / line.span_min
    tightness = decide(rate, bound, practice.limit_l_min / per_bar_l, used)
    shows_after_min = (2 * half_width * per_bar_l + used_l) / practice.limit_l_min
    result = LeakResult(
        tightness=tightness,
        rate_bar_min=rate,
        bound_bar_min=bound,
        rate_l_min=rate * per_bar_l,
        bound_l_min=bound * per_bar_l,
        limit_l_min=practice.limit_l_min,
        wait_min=shows_after_min if tightness is Tightness.NONE_SHOWN else None,
        uncorrected_bar_min=0.0 - line.slope([r.gauge_bar for r in readings]),
        ideal_bar_min=loss_bar_min(readings, o2_share, Model.IDEAL),
        model_error_share=error_share(o2_share),
        reason="",
    )
    return explain(result, line.span_min, valve, first.temp_degc is None, practice)


def temperature_bar(readings: Sequence[Reading], o2_share: float, practice: Leak) -> float:
    """How far each reading may be off, in bar, because the gas's temperature is not known better."""
    first = readings[0]
    degc = practice.reading_degc if first.temp_degc is not None else practice.unknown_degc / 2
    return degc * slope_bar_k(first.gauge_bar, temp_of(first), o2_share)


def decide(rate_bar_min: float, bound_bar_min: float, limit_bar_min: float, used_bar_min: float = 0.0) -> Tightness:
    if rate_bar_min > bound_bar_min + used_bar_min:
        return Tightness.LEAKS
    if rate_bar_min < -bound_bar_min:
        return Tightness.GAINS
    return Tightness.TIGHT if max(rate_bar_min, 0.0) + bound_bar_min <= limit_bar_min else Tightness.NONE_SHOWN


REASONS = {
    Tightness.TIGHT: "No leak that this gauge could show in {span:.3g} min: any leak is under {most:.2g} l/min, "
    "within the limit of {limit:.2g}{temperature}.",
    Tightness.NONE_SHOWN: "No leak that this gauge could show in {span:.3g} min, but {most:.2g} l/min could hide: "
    "{wait} to tell {limit:.2g} l/min{temperature}.",
    Tightness.LEAKS: "It loses {rate:.2g} bar/min, give or take {bound:.2g} ({litres:.2g} l/min at the surface), more "
    "than gauge and temperature can explain{temperature}.",
    Tightness.GAINS: "The pressure rose {gain:.2g} bar/min, give or take {bound:.2g}, more than temperature explains: "
    "a reading is wrong, take them again{temperature}.",
}


def explain(result: LeakResult, span_min: float, valve: Valve, guessed: bool, practice: Leak) -> LeakResult:
    """The same result with its reason in one sentence."""
    wait = f"wait {result.wait_min or 0:.0f} min in all"
    reason = REASONS[result.tightness].format(
        span=span_min,
        most=max(result.rate_l_min, 0.0) + result.bound_l_min,
        limit=practice.limit_l_min,
        wait=f"shut the valve, or {wait}" if valve is Valve.OPEN else wait,
        rate=result.rate_bar_min,
        gain=-result.rate_bar_min,
        bound=result.bound_bar_min,
        litres=result.rate_l_min,
        temperature=f" (temperature not measured, {practice.unknown_degc:g} K allowed)" if guessed else "",
    )
    return replace(result, reason=reason)
