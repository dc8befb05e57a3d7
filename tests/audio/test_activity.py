"""Speech activity on sound that is no speech: it stays between 0 and 1, and rests while nothing changes."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from audio.activity import Activity, Level
from audio.frames import FRAME_SAMPLES, RATE_HZ

CHANCE = np.random.default_rng(5)
STEADY: dict[str, NDArray[np.float64]] = {
    "silence": np.zeros(4 * RATE_HZ),
    "constant": np.full(4 * RATE_HZ, 9000.0),
    "hum": 9000 * np.sin(2 * np.pi * 100 * np.arange(4 * RATE_HZ) / RATE_HZ),
    "even noise": CHANCE.standard_normal(4 * RATE_HZ) * 1000,
}


def frames(samples: NDArray[np.float64]) -> list[NDArray[np.int16]]:
    whole = np.clip(samples, -32768, 32767).astype(np.int16)
    return [whole[at : at + FRAME_SAMPLES] for at in range(0, whole.size - FRAME_SAMPLES + 1, FRAME_SAMPLES)]


@pytest.mark.parametrize("samples", STEADY.values(), ids=STEADY.keys())
def test_steady_sound_is_no_voice(samples: NDArray[np.float64]) -> None:
    activity = Activity()
    assert max(activity.take(frame) for frame in frames(samples)) < 0.5


@pytest.mark.parametrize("level", [0.0, 100.0, 32767.0, 1e6], ids=["none", "faint", "full", "clipped"])
def test_a_probability_is_one(level: float) -> None:
    activity = Activity()
    found = [activity.take(frame) for frame in frames(CHANCE.standard_normal(RATE_HZ) * level)]
    assert all(0.0 <= each <= 1.0 for each in found)


@pytest.mark.parametrize(("amplitude", "expected_db"), [(32767, -3.0), (3276.7, -23.0), (327.67, -43.0)])
def test_level_of_a_tone(amplitude: float, expected_db: float) -> None:
    """A full-scale sine has an RMS 3.01 dB below full scale (1/sqrt 2); the window spreads a little of it."""
    level = Level()
    for frame in frames(amplitude * np.sin(2 * np.pi * 1000 * np.arange(RATE_HZ) / RATE_HZ)):
        level.take(frame)
    assert level.now_db == pytest.approx(expected_db, abs=2.0)


def test_a_shout_does_not_lift_the_floor() -> None:
    level = Level()
    for frame in frames(np.concatenate([CHANCE.standard_normal(RATE_HZ) * 50, CHANCE.standard_normal(4800) * 9000])):
        level.take(frame)
    assert level.now_db - level.floor_db > 30
