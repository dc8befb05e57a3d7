"""The deck's sound: repeatable, at the level asked for, with the spectrum its sources say."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from assistant.rehearsal import deck_noise

SECOND = deck_noise.RATE_HZ
TALKER = (8000 * np.sin(2 * np.pi * 300 * np.arange(SECOND) / SECOND)).astype(np.int16)


@pytest.mark.parametrize("kind", deck_noise.KINDS)
def test_noise_is_level_and_the_same_for_the_same_seed(kind: str) -> None:
    first = deck_noise.make(kind, 2 * SECOND, 5, [TALKER])
    assert float(np.sqrt(np.mean(first**2))) == pytest.approx(1.0, abs=1e-6)
    assert np.array_equal(first, deck_noise.make(kind, 2 * SECOND, 5, [TALKER]))
    assert not np.array_equal(first, deck_noise.make(kind, 2 * SECOND, 6, [TALKER]))


@pytest.mark.parametrize("kind", deck_noise.KINDS)
@pytest.mark.parametrize("count", [0, 1, 319])
def test_short_stretches_are_made_too(kind: str, count: int) -> None:
    made = deck_noise.make(kind, count, 1, [TALKER])
    assert (made.size, bool(np.isfinite(made).all())) == (count, True)


@pytest.mark.parametrize("rpm", [1800.0, 2400.0, 3600.0])
def test_a_four_cylinder_four_stroke_fires_at_rpm_over_30(rpm: float) -> None:
    """Two firings a turn: arithmetic. Harmonics of it are the strongest lines."""
    sound = deck_noise.engine(20 * SECOND, np.random.default_rng(3), rpm)
    power = np.abs(np.fft.rfft(sound)) ** 2
    line_hz = float(np.fft.rfftfreq(sound.size, 1 / SECOND)[int(power.argmax())])
    order = line_hz / (rpm / 30)
    assert round(order) >= 1
    assert abs(order - round(order)) < 0.06


def test_wind_falls_as_turbulence_does() -> None:
    """Power ~ f^(-5/3) in the inertial range, Kolmogorov, from memory; below 300 Hz, where the hiss is not."""
    sound = deck_noise.wind(60 * SECOND, np.random.default_rng(2))
    power = np.abs(np.fft.rfft(sound)) ** 2
    f_hz = np.fft.rfftfreq(sound.size, 1 / SECOND)
    low, high = (power[(f_hz > at / 1.1) & (f_hz < at * 1.1)].mean() for at in (160.0, 280.0))
    heard = [1 / (1 + (deck_noise.MICROPHONE_HZ / at) ** 4) for at in (160.0, 280.0)]
    slope = np.log((high / heard[1]) / (low / heard[0])) / np.log(280 / 160)
    assert slope == pytest.approx(-5 / 3, abs=0.35)


@pytest.mark.parametrize("snr_db", [24.0, 12.0, 6.0, 0.0])
def test_mix_keeps_the_ratio_over_the_active_samples_only(snr_db: float) -> None:
    half: npt.NDArray[np.int16] = np.concatenate([TALKER // 4, np.zeros(3 * SECOND, np.int16)])
    noise = deck_noise.make("water", half.size, 4)
    added = deck_noise.mix(half, noise, snr_db).astype(float) - half
    ratio_db = 20 * np.log10(2000 / np.sqrt(2) / np.sqrt(np.mean(added**2)))
    assert ratio_db == pytest.approx(snr_db, abs=0.05)


def test_mix_refuses_noise_that_is_too_short() -> None:
    with pytest.raises(ValueError, match="shorter than speech"):
        deck_noise.mix(TALKER, np.ones(5), 6)


def test_a_crowd_of_nobody_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one talker"):
        deck_noise.make("crowd", SECOND, 1)
