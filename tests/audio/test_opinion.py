"""The second recogniser: it writes what people said, tells a phrase from its soundalikes, and is the model we know."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from numpy.typing import NDArray

from assistant.errors import ModelError
from audio import known, opinion
from audio.frames import RATE_HZ

Samples = NDArray[np.int16]
ORDERS = Path(__file__).resolve().parents[3] / "shared" / "speech" / "orders"
FIGURES = {"one": "1", "two": "2", "three": "3", "twelve": "12", "sixteen": "16", "twenty": "20"}


def weigh(samples: Samples, phrase: str, others: Sequence[str]) -> opinion.Weighed:
    model = opinion.load()
    return model.weigh(model.take_in(samples), phrase, others)


def test_it_writes_what_people_order() -> None:
    """Recordings of people from ../shared/speech (its README names the source); their labels are the outside check."""
    if not ORDERS.is_dir():
        pytest.skip("../shared/speech is not here")
    with (ORDERS / "labels.csv").open(newline="", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if json.loads(row["slots"])][:40]
    asked, written = 0, 0
    for row in rows:
        samples, rate_hz = sf.read(ORDERS / row["file"], dtype="int16")
        assert rate_hz == RATE_HZ
        text = opinion.load().write(samples).lower().replace("-", " ")
        for value in json.loads(row["slots"]).values():
            asked += 1
            written += all(word in text or FIGURES.get(word, word) in text for word in str(value).lower().split())
    print(f"{written} of {asked} slots of {len(rows)} recorded orders are in what it writes")
    assert written >= 0.7 * asked


SAID = {
    "the phrase itself": ("inflator works and shuts off", "inflator works and shuts off", "inflator works and sticks"),
    "a fault instead": ("inflator works and sticks", "inflator works and shuts off", "inflator works and sticks"),
    "a soundalike instead": ("mask and strap old", "mask and strap okay", "mask and strap old"),
    "the phrase beside that": ("mask and strap okay", "mask and strap okay", "mask and strap old"),
}


@pytest.mark.parametrize(("said", "phrase", "other"), SAID.values(), ids=SAID.keys())
def test_it_tells_a_phrase_from_another(say: Callable[[str], Samples], said: str, phrase: str, other: str) -> None:
    weighed = weigh(say(said), phrase, [other])
    assert (weighed.behind_other < 0) == (said == phrase)


def test_it_stays_near_its_own_words_for_what_was_said(say: Callable[[str], Samples]) -> None:
    said, never = "inflator works and shuts off", "computer running and battery full"
    assert weigh(say(said), said, ()).behind_written < 5 < 30 < weigh(say(said), never, ()).behind_written
    assert weigh(say(said), said, ()).behind_other == 0.0


WRITTEN = {
    "the phrase": ("Mask and strap okay.", False),
    "small words before": ("The mask and strap okay", False),
    "a hedge behind": ("Mask and strap okay, I think.", True),
    "a hedge before": ("I guess mask and strap okay.", True),
    "a hedge behind a first word heard otherwise": ("Math and strap okay I think.", True),
    "a denial in it": ("Mask and strap not okay.", True),
    "small words in it": ("Mask and the strap okay.", False),
    "a hedge before a first word heard otherwise": ("I guess math and strap okay", True),
    "a first word in two": ("Maths kid strap okay", False),
    "a last word in two": ("Mask and strap oh kay", False),
    "twice": ("Mask and strap okay. Mask and strap okay.", False),
    "twice, the second cut short": ("Mask and strap okay. Mask and", False),
    "twice with a hedge": ("Mask and strap okay, I think. Mask and strap okay, I think. Mask", True),
    "its last word twice": ("Mask and strap okay okay", True),
    "heard otherwise, twice": ("Man and trap, okay. Man and trap, okay. Man and", False),
    "its end heard otherwise": ("Mask and strip okay height.", False),
    "a denial of its end before it": ("Not strap okay, mask and strap okay.", True),
    "something else": ("Thank you very much.", False),
    "nothing": ("", False),
}


@pytest.mark.parametrize(("written", "expected"), WRITTEN.values(), ids=WRITTEN.keys())
def test_further_words_are_noticed(written: str, expected: bool) -> None:
    assert opinion.has_more(written, "mask and strap okay") == expected


def test_a_figure_that_it_writes_is_the_word() -> None:
    """ "I think three dry breaths" of a neural voice was written "I think 3 dry breaths", and passed."""
    assert opinion.has_more("I think 3 dry breaths needle solid.", "three dry breaths needle solid")
    assert not opinion.has_more("3 dry breaths, needle solid.", "three dry breaths needle solid")
    assert opinion.plain_words("20 bar, 3 breaths") == ["20", "bar", "three", "breaths"]


def test_the_same_sound_gives_the_same_opinion(say: Callable[[str], Samples]) -> None:
    sound = say("gauge reads zero")
    assert len({weigh(sound, "gauge reads zero", ["gauge needs zero"]) for _ in range(3)}) == 1


HOSTILE = {
    "empty": np.zeros(0, np.int16),
    "one sample": np.ones(1, np.int16),
    "silence": np.zeros(RATE_HZ, np.int16),
    "constant": np.full(RATE_HZ, -32768, np.int16),
    "a minute": np.random.default_rng(1).integers(-9000, 9000, 60 * RATE_HZ, dtype=np.int16),
}


@pytest.mark.parametrize("samples", HOSTILE.values(), ids=HOSTILE.keys())
def test_sound_that_is_nothing_is_far_from_a_pass(samples: Samples) -> None:
    weighed = weigh(samples, "inflator works and shuts off", ["", "inflator sticks"])
    assert np.isfinite(weighed.behind_written)
    assert max(weighed.behind_written, weighed.behind_other) > 16


def test_its_features_have_the_shape_and_range_that_it_was_trained_on() -> None:
    tone = np.rint(8000 * np.sin(2 * np.pi * 1000 * np.arange(RATE_HZ) / RATE_HZ)).astype(np.int16)
    features = opinion.log_mel(tone)
    assert (features.shape, features.dtype) == ((1, 80, opinion.SHORTEST_FRAMES), np.float32)
    assert features.max() - features.min() <= 2.0 + 1e-6
    assert opinion.log_mel(np.zeros(60 * RATE_HZ, np.int16)).shape == (1, 80, 3000)
    loudest = int(features[0, :, 50].argmax())
    assert opinion.band_edges_hz()[loudest] < 1000 < opinion.band_edges_hz()[loudest + 2]


def test_another_model_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, (size_bytes, _) in known.OPINION.items():
        (tmp_path / name).write_bytes(b"\0" * min(size_bytes, 3000))
    monkeypatch.setenv("KITCALL_OPINION", str(tmp_path))
    with pytest.raises(ModelError, match=r"model.bin has 3000 bytes instead of 75537502"):
        opinion.Opinion(opinion.find())


def test_its_bytes_are_those_measured() -> None:
    assert known.verify(opinion.find(), files=known.OPINION) == []
