"""The ear with the real model: sound that is nothing is never an answer, and what does not change the words of a
clip does not change the decision. The clips are made by espeak-ng; the model is the one audio.model finds."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import pytest
import soxr
from numpy.typing import NDArray

from assistant.errors import KitcallError, ModelError
from assistant.events import Care, Doubted, Heard, Match, Silent, Why
from audio.ear import Ear
from audio.frames import FRAME_S, FRAME_SAMPLES, RATE_HZ
from audio.model import find
from audio.recognise import Decoding, Recogniser
from audio.turn import Settings

Samples = NDArray[np.int16]
LISTED = {"jacket stays full and hard": ("pass", Care.FIRM), "cut in the hose": ("fault:cut", Care.PLAIN)}
SECOND = RATE_HZ


class Phrases:
    """A listening of two phrases."""

    phrases = (*LISTED, "not", "the", "boat", "water", "coffee")
    rivals = ("jacket stays full and hard", "jacket stays fool and hard", "jacket strays full and hard")
    lone: tuple[str, ...] = ()

    def match(self, words: tuple[str, ...]) -> Match | None:
        found = LISTED.get(" ".join(words))
        return Match(words, *found) if found else None

    def goes_on(self, words: tuple[str, ...]) -> bool:
        return any(phrase.startswith(" ".join(words) + " ") for phrase in LISTED)

    def nears_firm(self, words: tuple[str, ...]) -> bool:
        return words[:4] == ("jacket", "stays", "full", "and")

    def turns(self, words: tuple[str, ...]) -> bool:
        return "not" in words

    def is_talk(self, words: tuple[str, ...]) -> bool:
        return not {"boat", "water", "coffee"}.isdisjoint(words)

    def is_about(self, words: tuple[str, ...]) -> bool:
        return not {"jacket", "hard", "cut", "hose", "every"}.isdisjoint(words)


@pytest.fixture(scope="module")
def ear() -> Ear:
    try:
        return Ear(Recogniser(find()))
    except ModelError as problem:
        pytest.skip(f"no model: {problem}")


def round16(samples: NDArray[np.float64]) -> Samples:
    return np.clip(np.rint(samples), -32768, 32767).astype(np.int16)


def frames(samples: Samples) -> Iterator[Samples]:
    for start in range(0, samples.size - FRAME_SAMPLES + 1, FRAME_SAMPLES):
        yield samples[start : start + FRAME_SAMPLES]


def decision(ear: Ear, samples: Samples) -> str:
    hearing = ear.listen(frames(samples), Phrases())
    return hearing.match.meaning if isinstance(hearing, Heard) else type(hearing).__name__


def noise(seconds: float, level: float, seed: int = 3) -> Samples:
    return round16(np.random.default_rng(seed).standard_normal(round(seconds * SECOND)) * level)


HOSTILE: dict[str, Samples] = {
    "empty": np.zeros(0, np.int16),
    "one sample": np.ones(1, np.int16),
    "one frame": np.full(FRAME_SAMPLES, 900, np.int16),
    "silence": np.zeros(10 * SECOND, np.int16),
    "constant": np.full(5 * SECOND, 12000, np.int16),
    "lowest value": np.full(2 * SECOND, -32768, np.int16),
    "faint noise": noise(5, 40),
    "loud noise": noise(5, 4000),
    "clipped noise": noise(3, 400000),
    "clicks": np.tile(np.r_[np.full(2, 32767), np.zeros(7998)], 8).astype(np.int16),
    "hum": round16(9000 * np.sin(2 * np.pi * 110 * np.arange(4 * SECOND) / SECOND)),
    "tone that comes and goes": round16(
        9000 * np.sin(2 * np.pi * 440 * np.arange(4 * SECOND) / SECOND) * (np.arange(4 * SECOND) // 8000 % 2)
    ),
}


@pytest.mark.parametrize("samples", HOSTILE.values(), ids=HOSTILE.keys())
def test_sound_that_is_nothing_is_no_answer(ear: Ear, samples: Samples) -> None:
    assert isinstance(ear.listen(frames(samples), Phrases()), Silent | Doubted)


@pytest.mark.parametrize(
    ("text", "expected"),
    [("jacket stays full and hard", "pass"), ("cut in the hose", "fault:cut")],
    ids=["a pass", "a fault"],
)
def test_answers(ear: Ear, say: Callable[[str], Samples], text: str, expected: str) -> None:
    assert decision(ear, say(text)) == expected


TALK = {
    "talk": ("can somebody help me with this zip", Silent),
    "talk with words of a phrase, and about it": ("put the jacket in the hall", Doubted),
    "nine seconds of talk without a pause": ("we had octopus for dinner and then we went " * 4, Silent),
}


@pytest.mark.parametrize(("text", "expected"), TALK.values(), ids=TALK.keys())
def test_talk_that_is_about_something_else_is_left_alone(
    ear: Ear, say: Callable[[str], Samples], text: str, expected: type
) -> None:
    assert isinstance(ear.listen(frames(say(text)), Phrases()), expected)


def test_what_a_pass_needs_is_begun_before_the_voice_ends(
    ear: Ear, say: Callable[[str], Samples], monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[tuple[Sequence[str], int]] = []
    taken = [0]
    begin = ear._recogniser.begin

    def note(phrases: Sequence[str], alternatives: int = 1) -> Decoding:
        begun.append((phrases, taken[0]))
        return begin(phrases, alternatives)

    def counted(samples: Samples) -> Iterator[Samples]:
        for taken[0], frame in enumerate(frames(samples), 1):
            yield frame

    monkeypatch.setattr(ear._recogniser, "begin", note)
    hearing = ear.listen(counted(say("jacket stays full and hard")), Phrases())
    assert isinstance(hearing, Heard)
    voice_ended = (hearing.evidence.speech_end_s or 0.0) / FRAME_S
    assert next(at for phrases, at in begun if phrases == Phrases.rivals) < voice_ended


CHANGES: dict[str, Callable[[Samples], Samples]] = {
    "12 dB louder": lambda clip: round16(clip * 4.0 / max(1.0, np.abs(clip.astype(float)).max() / 8000)),
    "12 dB softer": lambda clip: round16(clip / 4.0),
    "20 dB softer": lambda clip: round16(clip / 10.0),
    "half a frame later": lambda clip: np.concatenate([np.zeros(FRAME_SAMPLES // 2, np.int16), clip]),
    "seven samples later": lambda clip: np.concatenate([np.zeros(7, np.int16), clip]),
    "two seconds later": lambda clip: np.concatenate([np.zeros(2 * SECOND, np.int16), clip]),
    "silence after": lambda clip: np.concatenate([clip, np.zeros(4 * SECOND, np.int16)]),
    "upside down": lambda clip: -clip,
    "by way of 48 kHz": lambda clip: round16(
        soxr.resample(soxr.resample(clip.astype(float), RATE_HZ, 48000), 48000, RATE_HZ)
    ),
    "with a room's hiss": lambda clip: round16(clip + noise(clip.size / SECOND, 8)[: clip.size].astype(float)),
}


@pytest.mark.parametrize("text", ["jacket stays full and hard", "cut in the hose", "every hose looks"])
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_what_leaves_the_words_leaves_the_decision(
    ear: Ear, say: Callable[[str], Samples], text: str, change: Callable[[Samples], Samples]
) -> None:
    clip = say(text)
    assert decision(ear, change(clip)) == decision(ear, clip)


class Alone(Phrases):
    """A listening that hears "four" only as "could", and in which it may answer alone."""

    phrases = ("could", "would", "cut in the hose")
    rivals = ()

    def __init__(self, *lone: str) -> None:
        self.lone = lone

    def match(self, words: tuple[str, ...]) -> Match | None:
        return Match(words, "number", Care.NUMBER) if words == ("four",) else super().match(words)

    def is_talk(self, words: tuple[str, ...]) -> bool:
        return not {"could", "would"}.isdisjoint(words)


LONE = {
    "a lone word": ("four", ("four", "nine"), "four?"),
    "where none may answer": ("four", (), "Silent"),
    "another word": ("hello", ("four", "nine"), "Silent"),
    "talk": ("could somebody help me with four of them please", ("four", "nine"), "Silent"),
    "a sure phrase": ("cut in the hose", ("four", "nine"), "cut in the hose"),
}


@pytest.mark.parametrize(("text", "lone", "expected"), LONE.values(), ids=LONE.keys())
def test_a_lone_word_beaten_by_talk_is_read_back(
    ear: Ear, say: Callable[[str], Samples], text: str, lone: tuple[str, ...], expected: str
) -> None:
    hearing = ear.listen(frames(say(text)), Alone(*lone))
    is_heard = isinstance(hearing, Heard)
    found = hearing.match.text + "?" * hearing.match.is_unsure if is_heard else type(hearing).__name__
    assert found == expected


def test_speech_at_the_first_frame_is_no_pass(ear: Ear, say: Callable[[str], Samples]) -> None:
    """It began while we still spoke; who knows what came before it."""
    clip = say("jacket stays full and hard")
    begun = clip[int(np.flatnonzero(np.abs(clip) > 600)[0]) + 1600 :]
    hearing = ear.listen(frames(begun), Phrases())
    assert not isinstance(hearing, Heard)


def test_a_clipped_pass_is_asked_again(ear: Ear, say: Callable[[str], Samples]) -> None:
    clip = say("jacket stays full and hard").astype(float)
    hearing = ear.listen(frames(round16(np.clip(clip * 40, -32768, 32767))), Phrases())
    assert isinstance(hearing, Doubted)


def test_a_pass_that_the_deck_drowns_is_asked_again(ear: Ear, say: Callable[[str], Samples]) -> None:
    """At any level of noise: understood, or doubted, or not heard at all; below the stated headroom never, and below
    the greater one only to be read back."""
    clip, unsure = say("jacket stays full and hard").astype(float), []
    for level in (30, 100, 200, 300, 500, 700, 1000, 3000, 9000):
        drowned = round16(clip + noise(clip.size / SECOND, level)[: clip.size].astype(float))
        hearing = ear.listen(frames(drowned), Phrases())
        if isinstance(hearing, Heard):
            above_db = hearing.evidence.numbers["above_noise_db"]
            assert above_db >= Settings().above_noise_db
            assert hearing.match.is_unsure or above_db >= Settings().clear_db
            unsure.append(hearing.match.is_unsure)
    assert unsure[0] is False
    assert True in unsure


def test_talk_is_no_answer(ear: Ear, say: Callable[[str], Samples]) -> None:
    assert decision(ear, say("coffee the boat water")) in ("Silent", "Doubted")


def test_window_closes(ear: Ear) -> None:
    assert ear.listen(frames(np.zeros(60 * SECOND, np.int16)), Phrases(), window_s=2.0) == Silent(pytest.approx(2.0))


def test_unbroken_speech_is_too_long(ear: Ear, say: Callable[[str], Samples]) -> None:
    clip = say("every jacket and every hard hose")[SECOND // 2 : -SECOND]
    hearing = ear.listen(frames(np.tile(clip, 8)), Phrases())
    assert isinstance(hearing, Doubted)
    assert hearing.why in (Why.TOO_LONG, Why.NO_PHRASE)


def test_errors_of_the_source_pass_through(ear: Ear) -> None:
    def lost() -> Iterator[Samples]:
        yield np.zeros(FRAME_SAMPLES, np.int16)
        raise KitcallError("the microphone went away", "Plug it in.")

    with pytest.raises(KitcallError, match="went away"):
        ear.listen(lost(), Phrases())
