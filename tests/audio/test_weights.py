"""The weights in 8 bits are those that ctranslate2 makes of the same file, and a file cut short is refused."""

from __future__ import annotations

import struct
from pathlib import Path

import ctranslate2
import numpy as np
import pytest

from assistant.errors import ModelError
from audio import known, opinion, weights


def test_each_row_has_its_own_scale() -> None:
    rows = np.array([[0.5, -1.0, 0.0], [0.0, 0.0, 0.0], [254.0, 3.0, -5.0]], np.float32)
    in_8_bits, scales = weights.in_8_bits(rows)
    assert in_8_bits.tolist() == [[64, -127, 0], [0, 0, 0], [127, 2, -2]]
    assert scales.tolist() == [127.0, 1.0, 0.5]


def test_the_model_says_the_very_same_as_with_the_weights_that_ctranslate2_makes() -> None:
    theirs = object.__new__(opinion.Opinion)
    theirs.__dict__.update(vars(opinion.load()))
    theirs._model = ctranslate2.models.Whisper(str(opinion.find()), device="cpu", compute_type="int8", intra_threads=1)
    noise = (np.random.default_rng(3).standard_normal(40_000) * np.hanning(40_000) * 9000).astype(np.int16)
    sounds = [ears.take_in(noise) for ears in (opinion.load(), theirs)]
    assert np.array_equal(*(np.array(sound.encoded) for sound in sounds))
    others = ("needle study", "needles teddy", "the beetle is steady", "knee")
    assert opinion.load().weigh(sounds[0], "needle steady", others) == theirs.weigh(sounds[1], "needle steady", others)


def test_a_model_cut_short_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in known.OPINION:
        (tmp_path / name).write_bytes((opinion.find() / name).read_bytes()[:300])
    with pytest.raises((struct.error, ValueError)):
        weights.write_small(tmp_path / "model.bin", tmp_path / "small.bin")
    monkeypatch.setattr(known, "OPINION", dict.fromkeys(known.OPINION, (300, "")))
    with pytest.raises(ModelError, match="is damaged"):
        opinion.Opinion(tmp_path)


def test_without_room_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def is_full(source: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(opinion, "write_small", is_full)
    with pytest.raises(ModelError, match="No space left on device"):
        opinion.Opinion(opinion.find())
