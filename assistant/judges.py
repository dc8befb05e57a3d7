"""Who judges a number read out in the check: the sums, with the centre's settings and the day.

Handed into the session, which knows no sums; the sums know no check. A judge gives a finding with the numbers that
its sentence in replies.toml says; what a finding leads to (pass, fault, hold) is the sequence file's business.
Whatever raises BadInput is asked again and never passes; what is only too early waits, and is read again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime

from assistant.check.steps import Check
from assistant.check.turns import Earlier, Judged, Numbers
from assistant.errors import BadInput, GrammarError
from assistant.sums import breathing, dates, inspection, leak, mix, stamps
from assistant.sums.breathing import Needle
from assistant.sums.compressibility import AIR_O2_SHARE
from assistant.sums.dates import Due
from assistant.sums.leak import Tightness, Valve
from assistant.sums.mix import Label
from assistant.sums.settings import Settings
from assistant.sums.spoken import say
from assistant.sums.stamps import Stamp
from assistant.sums.units import bar_from_psi, psi_from_bar

LEAST_SPAN_MIN = 0.1  # readings closer together say as little as two that are this far apart
TOO_SOON = "too_soon"  # nothing lost beyond what the check takes, and no time yet for a leak to show
UNPROVED = "unproved"  # the same, where the centre takes it all the same
OUTSIDE = "outside"  # a stamp of the future or of another century
DISORDERED = "disordered"  # a needle that rises as it is breathed from, or whose lowest is not the lowest
TOO_LITTLE = "too_little"  # gas for the breaths to tell anything
AGAIN = frozenset({Needle.DIPPED, Needle.UNMOVED, Needle.DOUBTFUL, Tightness.GAINS})


def local_day(now_s: float) -> date:
    """The day on the deck's clock."""
    return datetime.fromtimestamp(now_s, UTC).astimezone().date()


@dataclass(frozen=True, slots=True)
class Case:
    """What lies before a judge."""

    numbers: Numbers
    earlier: Earlier | None
    now_s: float
    day: date
    centre: Settings


class Judges:
    """All judges under one centre's settings. `day_of` turns wall seconds into the day that dates are judged on.

    Raises BadInput for settings whose region or material has no inspection rule.
    """

    def __init__(self, centre: Settings, day_of: Callable[[float], date] = local_day) -> None:
        self._centre, self._day_of, self._digest = centre, day_of, centre.digest
        test_months(centre)

    def judge(self, name: str, numbers: Numbers, earlier: Earlier | None, now_s: float) -> Judged:
        """What a reading is worth. Raises BadInput, in words to be spoken, for one that cannot be meant."""
        try:
            found = JUDGES[name].judge(Case(numbers, earlier, now_s, self._day_of(now_s), self._centre))
        except BadInput as refusal:
            raise BadInput(say(str(refusal)), say(refusal.mend)) from refusal
        return Judged(found.outcome, found.finding, found.reason, found.names, self._digest)


def bar_of(numbers: Numbers) -> float:
    """The pressure of a reading in bar, read in bar or in psi; BadInput when it holds none."""
    if "pressure" in numbers:
        return numbers["pressure"]
    if "pressure_psi" in numbers:
        return bar_from_psi(numbers["pressure_psi"])
    raise BadInput("No pressure was understood.", "Read the gauge in bar, or in p s i.")


def on_gauge(numbers: Numbers, bar: float, whole: Callable[[float], float] = round) -> tuple[float, str]:
    """A pressure in the unit that was read: bar as it is, psi made whole."""
    return (whole(psi_from_bar(bar)), "psi") if "pressure_psi" in numbers else (bar, "bar")


def found(outcome: str, finding: str, reason: str, **names: object) -> Judged:
    return Judged(outcome, finding, reason, names)


def starting_pressure(case: Case) -> Judged:
    """Enough for the centre's dive, and not over-filled."""
    bar, kit = bar_of(case.numbers), case.centre.kit
    low, high = on_gauge(case.numbers, kit.low_bar, math.ceil), on_gauge(case.numbers, kit.high_bar, math.floor)
    if bar < kit.low_bar:
        return found("bad", "low", f"{bar:.1f} bar is below {kit.low_bar:g} bar.", limit=low)
    if bar > kit.high_bar:
        return found("bad", "high", f"{bar:.1f} bar is above {kit.high_bar:g} bar.", limit=high)
    return found("good", "enough", f"{bar:.1f} bar is {kit.low_bar:g} bar or more.", limit=low)


def pressure_left(case: Case) -> Judged:
    """What came back: a cylinder all but empty may have water in it."""
    bar, least = bar_of(case.numbers), case.centre.kit.left_bar
    limit = on_gauge(case.numbers, least, math.ceil)
    if bar < least:
        return found("bad", "empty", f"{bar:.1f} bar is below {least:g} bar.", limit=limit)
    return found("good", "left", f"{bar:.1f} bar is {least:g} bar or more.", limit=limit)


def test_months(centre: Settings) -> int:
    """Months between pressure tests by the centre's region and material."""
    kit = centre.kit
    rules = inspection.applying(kit.region, kit.material, frozenset(), inspection.rules())
    return next(rule.months for rule in rules if rule.what == "test")


def test_date(case: Case) -> Judged:
    """The month stamped on the cylinder, against its interval."""
    stamp, practice = Stamp(*divmod(int(case.numbers["month_year"]), 100)), case.centre.dates
    try:
        stamps.in_time(stamp, case.day, practice)
    except BadInput as problem:
        first, now = (practice.earliest_year, 1), (case.day.year, case.day.month)
        return found("again", OUTSIDE, f"{problem} {problem.mend}", first=month(*first), now=month(*now))
    due = dates.judge("pressure test", stamp, test_months(case.centre), case.day, practice)
    last = month(due.last_good_day.year, due.last_good_day.month)
    return found("bad" if due.due is Due.OUT else "good", due.due.value, due.reason, last=last)


def month(year: int, number: int) -> tuple[float, str]:
    return year * 100 + number, "month"


def mix_planned(case: Case) -> Judged:
    """The oxygen read from label or analyser, against the mix and depth that are planned."""
    kit, practice = case.centre.kit, case.centre.mix
    percent = next(case.numbers[name] for name in ("air", "oxygen") if name in case.numbers)
    result = mix.judge(kit.o2_percent / 100, percent / 100, kit.depth_m, practice=practice)
    names = {
        "mix": (percent, "air" if "air" in case.numbers else "percent"),
        "plan": (kit.o2_percent, "air" if abs(kit.o2_percent / 100 - AIR_O2_SHARE) < 0.001 else "percent"),
        "tolerance": (practice.label_percent, "percent"),
        "deepest": (result.mod_m, "m"), "depth": (kit.depth_m, "m"),
    }  # fmt: skip
    return found("good" if result.label is Label.MATCHES else "bad", result.label.value, result.reason, **names)


def breathed(case: Case) -> Judged:
    """The needle before, at its lowest and after three breaths, against what they take from the centre's cylinder."""
    numbers, centre = in_bar(case.numbers), case.centre
    if "start" not in numbers or "lowest" not in numbers:
        raise BadInput("One pressure was understood.", "Read where the needle started, and its lowest.")
    readings = breathing.Readings(numbers["start"], numbers["lowest"], numbers.get("end"))
    in_tenths = tenths if numbers.keys() == case.numbers.keys() else whole_psi
    gauge, share = centre.gauge.as_gauge(), centre.kit.o2_percent / 100
    try:
        readings.check(gauge)
    except BadInput as problem:
        return found("again", DISORDERED, f"{problem} {problem.mend}")
    result = breathing.judge(readings, centre.kit.water_l, gauge, o2_share=share, practice=centre.breathing)
    names = {
        "low": in_tenths(result.expected_low_bar), "high": in_tenths(result.expected_high_bar),
        "dip": in_tenths(result.dip_bar), "back": in_tenths(result.recovered_bar), "fall": in_tenths(result.lost_bar),
    }  # fmt: skip
    if result.needle is Needle.DOUBTFUL and readings.before_bar < centre.breathing.least_bar:
        return found("again", TOO_LITTLE, result.reason, least=in_tenths(centre.breathing.least_bar))
    return found(outcome(result.passes, result.needle), result.needle.value, result.reason, **names)


def leaked(case: Case) -> Judged:
    """A second reading of the same gauge, against the first; the listening beside it is the finer test."""
    if case.earlier is None:
        raise BadInput("The first pressure is missing.", "Go back and read it first.")
    span_min = (case.now_s - case.earlier.at_s) / 60
    if span_min < 0:
        raise BadInput("The clock went back between the two readings.", "Go back and read the first pressure again.")
    before, now = case.earlier.numbers, case.numbers
    both = "temperature_degc" in before and "temperature_degc" in now
    readings = [
        leak.Reading(at_min, bar_of(said), said["temperature_degc"] if both else None)
        for at_min, said in ((0.0, before), (max(span_min, LEAST_SPAN_MIN), now))
    ]
    kit, gauge = case.centre.kit, case.centre.gauge.as_gauge()
    result = leak.judge(
        readings, Valve.OPEN, kit.water_l, gauge, kit.o2_percent / 100, case.centre.leak, kit.used_l
    )
    drop = readings[0].gauge_bar - readings[1].gauge_bar
    hidden = max(result.rate_l_min, 0.0) + result.bound_l_min
    gross = case.centre.leak.gross_l_min
    wait_min = result.wait_for_min(gross) or 0.0
    names = {
        "minutes": (int(span_min), "min"), "hidden": (round(hidden), "l"), "gross": (gross, "l"),
        "wait": (math.ceil(wait_min), "min"), "left": (math.ceil(wait_min - span_min), "min"),
        "drop": on_gauge(now, round(drop, 1)), "rise": on_gauge(now, round(-drop, 1)),
    }  # fmt: skip
    passes = result.tightness in (Tightness.TIGHT, Tightness.NONE_SHOWN)
    if passes and span_min < wait_min:
        is_noted = case.centre.leak.too_soon == "note"
        return found("good" if is_noted else "later", UNPROVED if is_noted else TOO_SOON, result.reason, **names)
    return found(outcome(passes, result.tightness), result.tightness.value, result.reason, **names)


def outcome(passes: bool, finding: Needle | Tightness) -> str:
    if finding in AGAIN:
        return "again"
    return "good" if passes else "bad"


def tenths(bar: float) -> tuple[float, str]:
    return round(bar, 1), "bar"


def whole_psi(bar: float) -> tuple[float, str]:
    return round(psi_from_bar(bar)), "psi"


def in_bar(numbers: Numbers) -> Numbers:
    """A needle's pressures by their names, those read in psi (`start_psi`) in bar."""
    return {name.removesuffix("_psi"): bar_from_psi(value) if name.endswith("_psi") else value
            for name, value in numbers.items()}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Bench:
    """One judge: what it judges, the numbers it may use, and the findings that need a fault in the sequence."""

    judge: Callable[[Case], Judged]
    numbers: frozenset[str]
    bad: tuple[str, ...]
    needs_earlier: bool = False


NEEDLE = frozenset({"start", "lowest", "end"})
PRESSURES = frozenset({"pressure", "pressure_psi", "pressure_odd", "temperature_degc"})
JUDGES: Mapping[str, Bench] = {
    "starting_pressure": Bench(starting_pressure, PRESSURES, ("low", "high")),
    "pressure_left": Bench(pressure_left, PRESSURES, ("empty",)),
    "test_date": Bench(test_date, frozenset({"month_year"}), ("out",)),
    "mix": Bench(mix_planned, frozenset({"air", "oxygen"}), ("differs", "too_deep")),
    "breathing": Bench(breathed, NEEDLE | {f"{name}_psi" for name in NEEDLE}, ("restricted", "shut", "fallen")),
    "leak": Bench(leaked, PRESSURES, ("leaks",), needs_earlier=True),
}


def refuse_unjudged(check: Check) -> None:
    """GrammarError for a reading that no judge takes, a number unknown to its judge, or a finding without a fault."""
    for step in check.steps:
        if step.reading is None:
            continue
        reading, where = step.reading, f'step "{step.id}".reading'
        bench = JUDGES.get(reading.judge)
        if bench is None:
            raise GrammarError(f'no judge "{reading.judge}"', f"Use one of: {', '.join(JUDGES)}.", where)
        strange = sorted({number.name for number in reading.numbers} - bench.numbers)
        if strange:
            mend = f"It takes: {', '.join(sorted(bench.numbers))}."
            raise GrammarError(f'the judge "{reading.judge}" knows no number "{strange[0]}"', mend, where)
        missing = [finding for finding in bench.bad if finding not in reading.faults]
        if missing:
            mend = f'Add {missing[0]} = "CODE" to faults, with the code of one of the step\'s faults.'
            raise GrammarError(f'the finding "{missing[0]}" has no fault', mend, where)
        if bench.needs_earlier and not reading.since:
            raise GrammarError("the first of its two readings is not named", "Add since = STEP.", where)
