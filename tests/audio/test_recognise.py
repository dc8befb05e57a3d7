"""vosk behind our own face: what it knows, what it gives for nothing, and a folder that is no model."""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soxr
import vosk

from assistant.errors import ModelError
from audio import opinion
from audio.frames import RATE_HZ, Frame, to_int16
from audio.model import find
from audio.recognise import Decoding, Recogniser, arrange
from audio.voice import Voice


@pytest.fixture(scope="module")
def recogniser() -> Recogniser:
    try:
        return Recogniser(find())
    except ModelError as problem:
        pytest.skip(f"no model: {problem}")


def test_the_web_client_of_vosk_is_left_out_and_whole_for_others() -> None:
    program = (
        "import sys, audio.recognise; assert 'requests' not in sys.modules; "
        "import requests; print(audio.recognise.vosk.Model.__name__, requests.get.__name__)"
    )
    said = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60)
    assert said.stdout.split() == ["Model", "get"]


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


def test_before_the_first_sound_there_are_no_words_yet(recogniser: Recogniser) -> None:
    assert recogniser.begin(["needle steady", "needle moves"], 10).partial() == ()


def test_after_an_end_of_its_own_the_words_before_it_stay(recogniser: Recogniser, say: Callable[[str], Frame]) -> None:
    decoding = recogniser.begin(["needle steady", "needle moves"], 10)
    decoding.feed(say("needle steady"))
    decoding.feed(np.zeros(65 * RATE_HZ, np.int16))
    assert decoding.partial() == ("needle", "steady")


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


STARTS: list[Callable[[], object]] = [lambda: Recogniser(find()), lambda: opinion.Opinion(opinion.find())]


@pytest.mark.parametrize("start", STARTS, ids=["first", "second"])
def test_without_a_folder_for_temporary_files_it_says_what_to_do(
    start: Callable[[], object], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    with pytest.raises(ModelError, match="gone") as refused:
        start()
    assert "TMPDIR" in refused.value.mend


def spoken(words: str, quieter: float = 1.0) -> Frame:
    with Voice() as voice:
        samples, rate_hz = voice.render(words)
    return to_int16(soxr.resample(samples.astype(np.float32) / 32768 / quieter, rate_hz, RATE_HZ))


def read(decoding: Decoding, samples: Frame) -> list[tuple[str, float]]:
    decoding.feed(samples)
    return [(reading.text, reading.score) for reading in decoding.finish()]


def test_same_sound_gives_the_same_readings_every_time(recogniser: Recogniser) -> None:
    """With the recogniser's own random dither every decode of this clip had another score."""
    faint, phrases = spoken("cut in the hose", quieter=10), ["every hose looks fine", "cut in the hose"]
    first = read(recogniser.begin(phrases, 20), faint)
    assert first[0][0]
    assert [read(recogniser.begin(phrases, 20), faint) for _ in range(4)] == [first] * 4


def test_without_its_language_model_it_knows_and_hears_the_same(recogniser: Recogniser, tmp_path: Path) -> None:
    """Against the model as it was unpacked: every word of it, and every reading and score with a list of phrases."""
    folder = find().resolve()
    graph = arrange(folder, tmp_path) / "graph" / "Gr.fst"
    words = [word.decode() for word in re.findall(rb"[a-z' -]+", graph.read_bytes())]
    graph.unlink()
    graph.symlink_to(folder / "graph" / "Gr.fst")
    whole = vosk.Model(str(tmp_path))
    assert len(words) > 150_000
    assert not [word for word in words if recogniser.knows(word) is not (whole.vosk_model_find_word(word) >= 0)]
    phrases, sound = ["every hose looks fine", "cut in the hose", "cut in a hose"], spoken("cut in the hose")
    found = read(recogniser.begin(phrases, 20), sound)
    assert len(found) > 1
    assert found == read(Decoding(whole, phrases, 20), sound)
