"""Who judges what is read out: each finding by its numbers, what is refused, and the centre's settings that move it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from assistant.check.readings import plausible, spoken_numbers
from assistant.check.steps import Check
from assistant.check.turns import Earlier
from assistant.errors import BadInput, GrammarError
from assistant.judges import JUDGES, Judges, refuse_unjudged
from assistant.language.commands import shipped_commands
from assistant.language.expected import value_of
from assistant.language.files import grammar_file
from assistant.language.listening import for_step
from assistant.language.replies import FINDINGS
from assistant.language.sequence import load
from assistant.sums import settings
from assistant.sums.breathing import Needle
from assistant.sums.dates import Due
from assistant.sums.leak import Tightness
from assistant.sums.mix import Label

TODAY = date(2026, 11, 25)
DEFAULT = Judges(settings.defaults(), lambda now_s: TODAY)
START_S = 1_000_000.0
FULL = Earlier({"pressure": 200.0}, START_S)
WARM = Earlier({"pressure": 200.0, "temperature_degc": 40.0}, START_S)

# judge, numbers, first reading, minutes since it; outcome, finding, part of the reason kept in the record
ROWS: list[tuple[str, dict[str, float], Earlier | None, float, str, str, str]] = [
    ("starting_pressure", {"pressure": 180}, None, 0, "good", "enough", "180.0 bar is 180 bar or more"),
    ("starting_pressure", {"pressure": 179}, None, 0, "bad", "low", "179.0 bar is below 180 bar"),
    ("starting_pressure", {"pressure": 310}, None, 0, "good", "enough", "310.0 bar"),
    ("starting_pressure", {"pressure": 311}, None, 0, "bad", "high", "311.0 bar is above 310 bar"),
    ("starting_pressure", {"pressure_psi": 2900}, None, 0, "good", "enough", "199.9 bar"),
    ("starting_pressure", {"pressure_psi": 2600}, None, 0, "bad", "low", "179.3 bar"),
    ("starting_pressure", {"pressure": 200, "temperature_degc": 25}, None, 0, "good", "enough", "200.0 bar"),
    ("pressure_left", {"pressure": 10}, None, 0, "good", "left", "10.0 bar is 10 bar or more"),
    ("pressure_left", {"pressure": 9}, None, 0, "bad", "empty", "9.0 bar is below 10 bar"),
    ("pressure_left", {"pressure": 0}, None, 0, "bad", "empty", "0.0 bar"),
    ("test_date", {"month_year": 202403}, None, 0, "good", "good", "good through 2029-03-31"),
    ("test_date", {"month_year": 202112}, None, 0, "good", "soon", "due soon, good through 2026-12-31"),
    ("test_date", {"month_year": 202111}, None, 0, "good", "due", "due this month, good through 2026-11-30"),
    ("test_date", {"month_year": 202110}, None, 0, "bad", "out", "is out: it was good through 2026-10-31"),
    ("mix", {"air": 20.9}, None, 0, "good", "matches", "Analysed 20.9 %"),
    ("mix", {"oxygen": 21}, None, 0, "good", "matches", "Analysed 21.0 %"),
    ("mix", {"oxygen": 32}, None, 0, "bad", "differs", "more than 1 apart"),
    ("leak", {"pressure": 195}, FULL, 12, "good", "none_shown", "No leak that this gauge could show"),
    ("leak", {"pressure": 200}, FULL, 0, "later", "too_soon", "No leak that this gauge could show"),
    ("leak", {"pressure": 200}, FULL, 7, "later", "too_soon", "No leak that this gauge could show in 7 min"),
    ("leak", {"pressure": 200}, FULL, 8, "good", "none_shown", "No leak that this gauge could show in 8 min"),
    ("leak", {"pressure": 180}, FULL, 12, "bad", "leaks", "It loses"),
    ("leak", {"pressure": 220}, FULL, 12, "again", "gains", "a reading is wrong"),
    ("leak", {"pressure": 178, "temperature_degc": 20}, WARM, 12, "good", "none_shown", "No leak"),
    ("leak", {"pressure": 178}, WARM, 12, "bad", "leaks", "temperature not measured"),
    ("breathing", {"start": 200, "lowest": 200}, None, 0, "good", "steady", "the valve feeds these breaths"),
    ("breathing", {"start_psi": 2900, "lowest_psi": 2900}, None, 0, "good", "steady", "the valve feeds these breaths"),
    ("breathing", {"start_psi": 2900, "lowest_psi": 2610, "end_psi": 2900}, None, 0, "bad", "restricted", "came back"),
    ("breathing", {"start_psi": 2900, "lowest_psi": 2750, "end_psi": 2750}, None, 0, "bad", "fallen", "wrong reading"),
    ("breathing", {"start": 200, "lowest": 180, "end": 200}, None, 0, "bad", "restricted", "came back 20"),
    ("breathing", {"start": 200, "lowest": 20, "end": 20}, None, 0, "bad", "shut", "so the valve is shut"),
    ("breathing", {"start": 200, "lowest": 190, "end": 190}, None, 0, "bad", "fallen", "or a wrong reading"),
    ("breathing", {"start": 200, "lowest": 180}, None, 0, "again", "dipped", "back again means"),
    ("breathing", {"start": 20, "lowest": 20}, None, 0, "again", "too_little", "too little gas"),
    ("breathing", {"start": 200, "lowest": 195, "end": 195}, None, 0, "again", "doubtful", "too close to tell"),
    ("breathing", {"start": 150, "lowest": 200}, None, 0, "again", "disordered", "the lowest is not the lowest"),
    ("breathing", {"start": 150, "lowest": 150, "end": 200}, None, 0, "again", "disordered", "breathing adds no gas"),
    ("test_date", {"month_year": 202703}, None, 0, "again", "outside", "A stamp was understood as 2027-03."),
    ("test_date", {"month_year": 194903}, None, 0, "again", "outside", "A stamp was understood as 1949-03."),
]


@pytest.mark.parametrize("row", ROWS, ids=[f"{r[0]} {r[5]} {list(r[1].values())}" for r in ROWS])
def test_findings(row: tuple[str, dict[str, float], Earlier | None, float, str, str, str]) -> None:
    name, numbers, first, minutes, outcome, finding, reason = row
    judged = DEFAULT.judge(name, numbers, first, START_S + minutes * 60)
    assert (judged.outcome, judged.finding) == (outcome, finding)
    assert reason in judged.reason
    assert judged.settings == settings.defaults().digest


def test_a_small_cylinder_moves_the_needle_further() -> None:
    """Judged from what the breaths take from this cylinder, not from a constant."""
    small = centre_with(kit={"water_l": 1.0})
    assert DEFAULT.judge("breathing", {"start": 200, "lowest": 190, "end": 190}, None, 0).finding == "fallen"
    assert small.judge("breathing", {"start": 200, "lowest": 190, "end": 190}, None, 0).finding == "steady"
    assert small.judge("breathing", {"start": 200, "lowest": 200}, None, 0).finding == "unmoved"


# Whoever reads psi hears psi: judge, numbers, first reading, minutes; a name of the sentence, and what it holds.
SAID: list[tuple[str, dict[str, float], Earlier | None, float, str, tuple[float, str]]] = [
    ("starting_pressure", {"pressure": 190}, None, 0, "limit", (180.0, "bar")),
    ("starting_pressure", {"pressure_psi": 2900}, None, 0, "limit", (2611, "psi")),
    ("starting_pressure", {"pressure_psi": 4600}, None, 0, "limit", (4496, "psi")),
    ("pressure_left", {"pressure_psi": 500}, None, 0, "limit", (146, "psi")),
    ("leak", {"pressure": 180}, FULL, 12, "drop", (20.0, "bar")),
    ("leak", {"pressure_psi": 2600}, Earlier({"pressure_psi": 2900.0}, START_S), 12, "drop", (300, "psi")),
    ("mix", {"air": 20.9}, None, 0, "mix", (20.9, "air")),
    ("mix", {"oxygen": 20.9}, None, 0, "mix", (20.9, "percent")),
    ("mix", {"air": 20.9}, None, 0, "plan", (20.9, "air")),
]


@pytest.mark.parametrize("row", SAID, ids=[f"{row[0]} {row[4]} {list(row[1].items())}" for row in SAID])
def test_what_the_sentence_says(
    row: tuple[str, dict[str, float], Earlier | None, float, str, tuple[float, str]]
) -> None:
    name, numbers, first, minutes, field, expected = row
    value, unit = DEFAULT.judge(name, numbers, first, START_S + minutes * 60).names[field]
    assert (pytest.approx(value, abs=1), unit) == expected


@pytest.mark.parametrize("psi", [2610, 2611, 4496, 4497])
def test_a_limit_said_in_psi_is_on_the_side_that_was_judged(psi: int) -> None:
    judged = DEFAULT.judge("starting_pressure", {"pressure_psi": psi}, None, 0)
    limit, _ = judged.names["limit"]
    assert judged.finding == ("low" if psi < 2611 else "high" if psi > 4496 else "enough")
    assert {"low": psi < limit, "high": psi > limit, "enough": psi >= limit}[judged.finding]


def test_a_mix_planned_is_said_as_percent() -> None:
    assert centre_with(kit={"o2_percent": 32.0}).judge("mix", {"air": 20.9}, None, 0).names["plan"] == (32.0, "percent")


@pytest.mark.parametrize("gross_l_min", [5.0, 20.0, 60.0])
def test_a_second_reading_too_soon_names_the_wait_after_which_it_says_something(gross_l_min: float) -> None:
    """Minutes from the spoken sentence: then, and not a minute before, no leak of that size could hide any more."""
    judges, again = centre_with(leak={"gross_l_min": gross_l_min}), {"pressure": 200.0}
    judged = judges.judge("leak", again, FULL, START_S)
    noted = centre_with(leak={"gross_l_min": gross_l_min, "too_soon": "note"}).judge("leak", again, FULL, START_S)
    assert (noted.outcome, noted.finding, noted.names) == ("good", "unproved", judged.names)
    (wait_min, unit), (gross, _) = judged.names["wait"], judged.names["gross"]
    assert (judged.finding, unit, gross) == ("too_soon", "min", gross_l_min)
    later = [judges.judge("leak", again, FULL, START_S + minutes * 60) for minutes in (wait_min - 1, wait_min)]
    assert [each.finding for each in later] == ["too_soon", "none_shown"]
    assert later[1].names["hidden"][0] <= gross_l_min


def centre_with(**sections: dict[str, Any]) -> Judges:
    """Judges of a centre that changes these settings."""
    base = settings.defaults()
    changed = {name: getattr(base, name).model_copy(update=values) for name, values in sections.items()}
    return Judges(base.model_copy(update=changed), lambda now_s: TODAY)


SETTINGS_ROWS: list[tuple[str, dict[str, dict[str, Any]], str, dict[str, float], str]] = [
    ("low limit", {"kit": {"low_bar": 150.0}}, "starting_pressure", {"pressure": 160}, "enough"),
    ("high limit", {"kit": {"high_bar": 230.0}}, "starting_pressure", {"pressure": 235}, "high"),
    ("planned mix", {"kit": {"o2_percent": 32.0}}, "mix", {"oxygen": 31.8}, "matches"),
    ("planned mix, but air", {"kit": {"o2_percent": 32.0}}, "mix", {"air": 20.9}, "differs"),
    ("planned depth", {"kit": {"o2_percent": 32.0, "depth_m": 40.0}}, "mix", {"oxygen": 32.0}, "too_deep"),
    ("region", {"kit": {"region": "australia"}}, "test_date", {"month_year": 202510}, "out"),
    ("first day", {"dates": {"month_only": "first_day"}}, "test_date", {"month_year": 202111}, "out"),
    ("a fine gauge", {"gauge": {"division_bar": 1.0}}, "breathing", {"start": 200.0, "lowest": 196.0, "end": 199.0},
     "restricted"),
]  # fmt: skip


@pytest.mark.parametrize("row", SETTINGS_ROWS, ids=[row[0] for row in SETTINGS_ROWS])
def test_the_centres_settings_decide(row: tuple[str, dict[str, dict[str, Any]], str, dict[str, float], str]) -> None:
    _, sections, name, numbers, finding = row
    judges = centre_with(**sections)
    judged = judges.judge(name, numbers, None, 0)
    assert judged.finding == finding
    assert judged.settings != settings.defaults().digest


REFUSED: list[tuple[str, dict[str, float], Earlier | None, float, str]] = [
    ("mix", {"oxygen": 45}, None, 0, "The share of oxygen was understood as 0.45"),
    ("breathing", {"start": 150}, None, 0, "One pressure was understood."),
    ("leak", {"pressure": 200}, None, 0, "The first pressure is missing."),
    ("leak", {"pressure": 200}, FULL, -1, "The clock went back"),
    ("starting_pressure", {}, None, 0, "No pressure was understood."),
]


@pytest.mark.parametrize("row", REFUSED, ids=[f"{row[0]} {list(row[1].values())}" for row in REFUSED])
def test_refused(row: tuple[str, dict[str, float], Earlier | None, float, str]) -> None:
    name, numbers, first, minutes, message = row
    with pytest.raises(BadInput) as caught:
        DEFAULT.judge(name, numbers, first, START_S + minutes * 60)
    assert message in str(caught.value)
    assert caught.value.mend


def test_a_region_without_a_rule_is_refused_before_any_check() -> None:
    with pytest.raises(BadInput, match="region was understood as 'atlantis'"):
        centre_with(kit={"region": "atlantis"})


def test_every_finding_has_its_sentence() -> None:
    own = {"starting_pressure": ("enough", "low", "high"), "pressure_left": ("left", "empty"),
           "test_date": (*Due, "outside"),
           "mix": [label for label in Label if label is not Label.TOO_LONG],
           "breathing": (*Needle, "disordered", "too_little"),
           "leak": (*Tightness, "too_soon", "unproved")}  # fmt: skip
    assert {f"{judge}_{finding}" for judge, findings in own.items() for finding in findings} == set(FINDINGS)
    assert set(own) == set(JUDGES)


@pytest.mark.parametrize("name", ["rental", "return"])
def test_shipped_sequences_are_judged(name: str) -> None:
    refuse_unjudged(load(Path(str(grammar_file(f"checks/{name}.toml"))), lambda word: True))


@pytest.mark.parametrize("name", ["rental", "return"])
@pytest.mark.parametrize("words", ["minus two hundred bar", "three thousand bar", "twenty nine hundred"])
def test_a_pressure_that_cannot_be_is_heard_so_that_it_can_be_refused(name: str, words: str) -> None:
    """At every step that reads a gauge: a value outside the step's bounds, and no number a judge would be asked of."""
    check = load(Path(str(grammar_file(f"checks/{name}.toml"))), lambda word: True)
    gauges = [step for step in check.steps if step.reading and "pressure" in {n.name for n in step.reading.numbers}]
    assert gauges != []
    for step in gauges:
        match = for_step(check, step, shipped_commands()).match(tuple(words.split()))
        assert match is not None
        assert step.reading is not None
        said = list(spoken_numbers(step.reading, match.slots, value_of))
        assert {plausible(number, value) for number, value, _ in said} == {False}


@pytest.mark.parametrize(
    ("change", "message", "mend"),
    [
        ({"judge": "taste"}, 'step "pressure".reading: no judge "taste"', "starting_pressure"),
        ({"judge": "mix"}, 'knows no number "pressure"', "air, oxygen"),
        ({"faults": {"low": "low_pressure"}}, 'the finding "high" has no fault', 'high = "CODE"'),
        ({"judge": "leak", "faults": {"leaks": "low_pressure"}}, "the first of its two readings", "since"),
    ],
    ids=["judge", "number", "fault", "first reading"],
)
def test_readings_that_nobody_judges_are_refused(change: dict[str, Any], message: str, mend: str) -> None:
    check = load(Path(str(grammar_file("checks/rental.toml"))), lambda word: True)
    with pytest.raises(GrammarError) as caught:
        refuse_unjudged(changed(check, change))
    assert message in str(caught.value)
    assert mend in caught.value.mend


def changed(check: Check, change: dict[str, Any]) -> Check:
    reading = check.step("pressure").reading
    assert reading is not None
    step = replace(check.step("pressure"), reading=replace(reading, **change))
    return replace(check, steps=(step,))
