"""Reasons as the voice says them."""

from __future__ import annotations

import re
from datetime import date

import pytest

from assistant.sums import breathing, content, dates, dive, leak, mix
from assistant.sums.spoken import say
from assistant.sums.stamps import Stamp


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("12 l at 200 bar", "12 litres at 200 bar"),
        ("under 0.051 l/min, within", "under 0.051 litres a minute, within"),
        ("1 min, 1 l, 1 m", "1 minute, 1 litre, 1 metre"),
        ("31.8 % at 30 m", "31.8 percent at 30 metres"),
        ("of 2021-11 is good through 2026-11-30.", "of November 2021 is good through 30 November 2026."),
        ("2020-13", "2020-13"),
        ("wait 3 min in all", "wait 3 minutes in all"),
        ("2 mm of metal", "2 mm of metal"),
    ],
)
def test_said(written: str, said: str) -> None:
    assert say(written) == said


REASONS = [
    content.measure(12, 200).reason,
    *[
        breathing.judge(breathing.Readings(*needle), 12).reason
        for needle in ((200, 200, 200), (200, 180, 200), (200, 5, 5))
    ],
    *[
        leak.judge([leak.Reading(0, 200, 20), leak.Reading(minutes, bar, 20)], leak.Valve.SHUT).reason
        for minutes, bar in ((5, 200), (1, 200), (5, 190), (5, 210))
    ],
    *[dive.plan(dive.Diver(12, 200), dive.Dive(18, minutes)).reason for minutes in (25, 40)],
    mix.judge(0.32, 0.318).reason,
    mix.judge(0.32, 0.32, 36).reason,
    dates.judge("pressure test", Stamp(2021, 11), 60, date(2026, 11, 25)).reason,
]


@pytest.mark.parametrize("reason", REASONS)
def test_no_abbreviation_is_left_for_the_voice(reason: str) -> None:
    assert re.findall(r"\d (?:l|m|min|%|K|degC)\b|/min|\d{4}-\d\d", say(reason)) == []


@pytest.mark.parametrize("reason", REASONS)
def test_a_reason_is_one_sentence(reason: str) -> None:
    assert re.findall(r"\. [A-Z]", reason) == []
    assert reason.endswith(".")
