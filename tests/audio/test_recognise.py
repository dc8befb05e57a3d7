"""vosk behind our own face: what it knows, what it gives for nothing, and a folder that is no model."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soxr

from assistant.errors import ModelError
from audio.frames import RATE_HZ, to_int16
from audio.model import find
from audio.recognise import Recogniser
from audio.voice import Voice


@pytest.fixture(scope="module")
def recogniser() -> Recogniser:
    try:
        return Recogniser(find())
    except ModelError as problem:
        pytest.skip(f"no model: {problem}")


@pytest.mark.parametrize(
    ("word", "known"), [("inflator", True), ("octopus", True), ("nitrox", False), ("drysuit", False), ("", False)]
)
def test_knows(recogniser: Recogniser, word: str, known: bool) -> None:
    assert recogniser.knows(word) is known


@pytest.mark.parametrize("count", [0, 1, 320, 16000], ids=["nothing", "one sample", "one frame", "a second"])
def test_silence_gives_one_reading_without_words(recogniser: Recogniser, count: int) -> None:
    decoding = recogniser.begin(["needle steady", "needle moves"], 10)
    decoding.feed(np.zeros(count, np.int16))
    assert decoding.partial() == ()
    assert [reading.tokens for reading in decoding.finish()][:1] == [()]


def test_readings_come_best_first(recogniser: Recogniser) -> None:
    decoding = recogniser.begin(["needle steady", "needle moves"], 10)
    decoding.feed((np.random.default_rng(1).standard_normal(32000) * 3000).astype(np.int16))
    scores = [reading.score for reading in decoding.finish()]
    assert scores == sorted(scores, reverse=True)


def test_a_folder_that_is_no_model_is_refused(tmp_path: Path) -> None:
    (tmp_path / "conf").mkdir()
    (tmp_path / "conf" / "mfcc.conf").write_text("")
    with pytest.raises(ModelError, match="does not load"):
        Recogniser(tmp_path)


def test_same_sound_gives_the_same_readings_every_time(recogniser: Recogniser) -> None:
    """With the recogniser's own random dither every decode of this clip had another score."""
    with Voice() as voice:
        spoken, rate_hz = voice.render("cut in the hose")
    faint = to_int16(soxr.resample(spoken.astype(np.float32) / 327_680, rate_hz, RATE_HZ))

    def read() -> list[tuple[str, float]]:
        decoding = recogniser.begin(["every hose looks fine", "cut in the hose"], 20)
        decoding.feed(faint)
        return [(reading.text, reading.score) for reading in decoding.finish()]

    first = read()
    assert first[0][0]
    assert [read() for _ in range(4)] == [first] * 4
