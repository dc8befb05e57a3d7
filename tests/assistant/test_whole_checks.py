"""Whole checks of a good kit on real audio: the synthesiser's voices, the real recogniser, the record on disk.

A voice that is not understood says it in other words, as the re-prompt asks, and slower or faster. What has to
be exact is every answer in the record, once each and as it was said, and the right verdict.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest

from assistant.check.turns import Expects
from assistant.commands.options import Loaded
from assistant.language.phrases import longest, parse
from assistant.language.rules import with_numbers

VOICES = ["gmw/en-gb-x-rp", "gmw/en-us", "gmw/en"]


def wordings(loaded: Loaded) -> dict[str, list[str]]:
    """Each step's pass phrases, the longest way to say each."""
    rules = with_numbers(loaded.check.rules)
    return {
        step.id: [longest(parse(phrase), rules, 5000) for phrase in step.passes]
        for step in loaded.check.steps
        if not step.needs_number
    }


def bare(words: str) -> str:
    """Without the "and" and the s that a phrase may have or not, and that a voice may swallow."""
    return words.replace(" and ", " ").replace("shuts", "shut")


@pytest.mark.parametrize("voice", VOICES)
def test_good_kit_is_ready(
    spoken: Callable[..., Any], loaded: Loaded, good: dict[str, str], voice: str
) -> None:
    others, asked = wordings(loaded), Counter()
    said: dict[str, set[str]] = {}

    def answer(expects: Expects) -> str:
        words = {"start": "start the check", "confirm": "yes confirmed", "waiting": "carry on"}
        if expects.kind in words:
            return words[expects.kind]
        ways = [good[expects.step_id], *others.get(expects.step_id, ())]
        way = ways[asked[expects.step_id] % len(ways)]
        asked[expects.step_id] += 1
        said.setdefault(expects.step_id, set()).add(way)
        return way

    held = spoken(answer, voice)
    answers = [(e.facts["step"], e.facts["outcome"], e.facts["by"]) for e in held.of("answered")]
    print(voice, "asked again:", [(e.facts["step"], e.facts["why"], e.facts["heard"]) for e in held.of("doubted")])
    assert sorted(answers) == sorted((step, "passed", "voice") for step in good)
    heard = [(e.facts["step"], e.facts["heard"]) for e in held.of("answered") if "judged" not in e.facts]
    assert [(step, words) for step, words in heard if bare(words) not in {bare(way) for way in said[step]}] == []
    numbers = [(e.facts["step"], e.facts["value"], e.facts["unit"], e.facts["finding"])
               for e in held.of("answered") if "judged" in e.facts]  # fmt: skip
    assert numbers == [
        ("test_stamp", 202403, "month", "good"), ("contents_label", 20.9, "percent", "matches"),
        ("pressure", 200, "bar", "enough"), ("pressure_again", 200, "bar", "unproved"),
    ]  # fmt: skip
    assert held.of("set_apart", "replaced", "no_spare") == []
    assert (held.verdict.ready, held.verdict.reasons, held.sound) == (True, (), True)
    assert [e.facts["verdict"] for e in held.of("verdict_given")] == ["ready"]
