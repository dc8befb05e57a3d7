"""What tunes never scores: voices and sentences are in one half only, and both halves hold all sorts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import sentences
import twists
import voices

ONE_PERSON = [{"flite-slt", "festival-cmu_us_slt_arctic_hts"}, {"flite-kal16", "festival-kal_diphone"}]


def test_no_voice_is_in_both_halves() -> None:
    assert {voice.name for voice in voices.TUNING} & {voice.name for voice in voices.SCORING} == set()


@pytest.mark.parametrize("person", ONE_PERSON, ids=["slt", "kal"])
def test_voices_of_one_person_are_in_one_half(person: set[str]) -> None:
    assert len({voices.VOICES[name].use for name in person}) == 1


@pytest.mark.parametrize("team", [voices.TUNING, voices.SCORING], ids=["tuning", "scoring"])
def test_each_half_holds_all_sorts(team: Sequence[voices.Voice]) -> None:
    sorts = {(voice.is_neural, voice.sex, voice.accent) for voice in team}
    wanted = {(neural, sex, accent) for neural in (True, False) for sex in "fm" for accent in ("GB", "US")}
    assert wanted <= sorts
    assert min(voice.pace for voice in team) <= 0.85
    assert max(voice.pace for voice in team) >= 1.2
    assert len({voice.engine for voice in team}) >= 4


def test_twenty_voices_score() -> None:
    assert len(voices.SCORING) >= 20


@pytest.mark.parametrize("name", ["negations", "questions", "talk"])
def test_a_sentence_is_in_one_half_and_each_half_has_some(name: str) -> None:
    texts = {text for at_step in sentences.read(name).values() for text in at_step}
    halves = [{text for text in texts if sentences.half_of(text) == half} for half in sentences.HALVES]
    assert halves[0] | halves[1] == texts
    assert halves[0] & halves[1] == set()
    assert min(map(len, halves)) > len(texts) / 3


@pytest.mark.parametrize("make", [twists.negated, twists.asked, twists.hedged])
def test_twists_never_give_the_phrase_itself(make: object) -> None:
    assert callable(make)
    made = list(make("adds gas and stops"))
    assert len(made) > 15
    assert "adds gas and stops" not in made


@pytest.mark.parametrize(
    "form",
    ["adds gas but doesn't stops", "adds gas and doesn't stop", "doesn't add gas and stops", "adds gas and never stops",
     "not adds gas and stops", "adds gas and stops except one"],
)  # fmt: skip
def test_negations_people_use_are_among_those_made(form: str) -> None:
    assert form in set(twists.negated("adds gas and stops"))


def test_trimming_keeps_the_speech_and_drops_the_quiet() -> None:
    tone = np.sin(np.arange(8000) * 0.3)
    padded = np.concatenate([np.zeros(1600), tone, np.zeros(4800)])
    assert abs(voices.trim(padded).size - tone.size) <= 2 * 160
