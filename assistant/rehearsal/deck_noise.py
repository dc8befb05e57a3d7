"""The sound of a dive boat's deck, made by rule and seed, for the demo and the benchmark.

Every kind returns float64 samples at 16 kHz with RMS 1.0, the same for the same seed. What is taken
from where:
- engine: a four-stroke fires once per cylinder in two turns, so four cylinders fire at rpm/30 Hz (arithmetic);
  the low-frequency combustion spectrum of a four-cylinder diesel falls 30 to 47 dB per decade below 800 Hz,
  while crankcase vibration is about even from 0 to 5 kHz and the block's side is strongest at 2.9 to 3.8 kHz
  (Marples, J. Sound Vib. 52(3), 1977, 365-386, abstract). So: harmonics with a fall of 35 dB per decade, and
  a mechanical rattle over the speech band that swells with each firing.
- wind: pressure at a bare microphone follows the squared speed of the turbulence (Lyons, Hart and Raspet,
  Acoustics Today, winter 2021), whose inertial range falls as frequency^(-5/3) (from memory: Kolmogorov).
- levels: trawler deck 86 dB, ship compressor rooms 85 to 100 dB(A), a raised voice 65 dB(A) at 1 m; at 0.3 m that
  is 75.5 dB(A), so 24 to 6 dB over noise is a quiet mooring to an engine that runs. For a dive boat with its
  compressor running no published level was found; slap, hiss and valve clatter here are invented, common sense.
All pass a 100 Hz high-pass first, as small microphones do; otherwise rumble nobody hears would
fill the level and make a given ratio too easy.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

Sound = npt.NDArray[np.float64]
RATE_HZ = 16000
MICROPHONE_HZ = 100.0
ACTIVE_BELOW_DB = 35.0
_CYCLE = np.arange(4096) * 2 * np.pi / 4096


def _shaped(count: int, rng: np.random.Generator, gain: Callable[[Sound], Sound]) -> Sound:
    """Gaussian noise with the amplitude spectrum `gain(frequency_hz)`."""
    frequency_hz = np.fft.rfftfreq(count, 1 / RATE_HZ)
    spectrum = np.fft.rfft(rng.standard_normal(count)) * gain(np.maximum(frequency_hz, 1.0))
    return np.asarray(np.fft.irfft(spectrum, count), dtype=np.float64)


def _band(low_hz: float, high_hz: float) -> Callable[[Sound], Sound]:
    """A band with second-order skirts."""
    return lambda f_hz: 1.0 / np.sqrt((1 + (low_hz / f_hz) ** 4) * (1 + (f_hz / high_hz) ** 4))


def _slow(count: int, rng: np.random.Generator, corner_hz: float) -> Sound:
    """A slow wander with mean 0 and deviation 1."""
    wander = _shaped(count, rng, lambda f_hz: 1.0 / (1.0 + (f_hz / corner_hz) ** 2))
    spread = float(wander.std())
    return (wander - wander.mean()) / spread if spread > 0 else wander


def _levelled(sound: Sound) -> Sound:
    """Through the microphone's high-pass, to RMS 1.0."""
    count = sound.size
    f_hz = np.maximum(np.fft.rfftfreq(count, 1 / RATE_HZ), 0.1)
    heard = np.fft.irfft(np.fft.rfft(sound) / np.sqrt(1 + (MICROPHONE_HZ / f_hz) ** 4), count)
    rms = float(np.sqrt(np.mean(heard**2))) if count else 0.0
    return np.asarray(heard / rms if rms > 0 else heard, dtype=np.float64)


def _phase(rpm: float, count: int, rng: np.random.Generator, drift: float = 0.015) -> Sound:
    """Turns of the shaft so far, with the speed wandering by `drift` of itself."""
    speed = rpm / 60 * (1 + drift * _slow(count, rng, 0.5))
    return np.cumsum(speed) / RATE_HZ + rng.uniform()


def _one_cycle(cycle_hz: float, rng: np.random.Generator) -> Sound:
    """Two turns of the shaft as a wave, its last sample its first again; four firings, not quite alike."""
    wave = np.zeros(_CYCLE.size)
    for order in range(1, min(120, int(3000 / cycle_hz))):
        fall = 10 ** (-35 / 20 * np.log10(max(order * cycle_hz, 30.0) / 30.0))
        between = 1.0 if order % 4 == 0 else 0.25 * rng.uniform(0.3, 1.0)
        wave += fall * between * np.sin(order * _CYCLE + 2 * np.pi * rng.uniform())
    return np.append(wave, wave[0])


def engine(count: int, rng: np.random.Generator, rpm: float) -> Sound:
    """A four-cylinder four-stroke diesel at `rpm` turns a minute, `count` samples."""
    turns = _phase(rpm, count, rng)
    tone = np.interp(turns / 2 % 1.0, np.arange(_CYCLE.size + 1) / _CYCLE.size, _one_cycle(rpm / 120, rng))
    pulse = np.exp(-8 * ((2 * turns) % 1.0))
    rattle = _shaped(count, rng, lambda f_hz: _band(300, 4000)(f_hz) * (1 + 0.8 * _band(2900, 3800)(f_hz)))
    return _levelled(_levelled(tone) + 0.7 * _levelled((0.3 + pulse) * rattle))


def idle(count: int, rng: np.random.Generator) -> Sound:
    """The engine idling at 700 to 850 turns a minute."""
    return engine(count, rng, rng.uniform(700, 850))


def cruise(count: int, rng: np.random.Generator) -> Sound:
    """The engine at 2,000 to 2,600 turns a minute."""
    return engine(count, rng, rng.uniform(2000, 2600))


def wind(count: int, rng: np.random.Generator) -> Sound:
    """Gusty wind on the microphone, with some hiss of air past rails."""
    rumble = _shaped(count, rng, lambda f_hz: np.maximum(f_hz, 5.0) ** (-5 / 6))
    gust = np.exp(0.6 * _slow(count, rng, 0.4))
    hiss = _shaped(count, rng, _band(500, 2500))
    return _levelled(gust * (_levelled(rumble) + 0.35 * _levelled(hiss)))


def water(count: int, rng: np.random.Generator) -> Sound:
    """Water slapping at the hull about once a second over a steady wash."""
    wash = _levelled(_shaped(count, rng, _band(200, 2500))) * np.exp(0.3 * _slow(count, rng, 0.5))
    slaps = np.zeros(count)
    for start in rng.integers(0, max(count, 1), rng.poisson(1.2 * count / RATE_HZ) + 1):
        length = min(int(rng.uniform(0.12, 0.5) * RATE_HZ), count - int(start))
        time_s = np.arange(length) / RATE_HZ
        swell = np.minimum(time_s / 0.006, 1.0) * np.exp(-time_s / rng.uniform(0.04, 0.12))
        slaps[start : start + length] += rng.uniform(1, 4) * swell * rng.standard_normal(length)
    return _levelled(0.5 * wash + _levelled(_filtered(slaps, _band(150, 2000))))


def _filtered(sound: Sound, gain: Callable[[Sound], Sound]) -> Sound:
    f_hz = np.maximum(np.fft.rfftfreq(sound.size, 1 / RATE_HZ), 1.0)
    return np.asarray(np.fft.irfft(np.fft.rfft(sound) * gain(f_hz), sound.size), dtype=np.float64)


def compressor(count: int, rng: np.random.Generator) -> Sound:
    """A breathing-air compressor: its motor's hum, valves that clatter at every stroke, air drawn in."""
    turns = _phase(rng.uniform(1000, 1500), count, rng, 0.004)
    clatter = np.zeros(count)
    for stage in range(3):
        clatter += rng.uniform(0.5, 1.0) * np.exp(-14 * ((turns + stage / 3 + rng.uniform()) % 1.0))
    rattle = _levelled(clatter * _shaped(count, rng, _band(800, 5000)))
    intake = _levelled((1 + np.sin(2 * np.pi * turns)) * _shaped(count, rng, _band(150, 900)))
    hum = sum(np.sin(2 * np.pi * k * turns * 2) / k for k in range(1, 8))
    return _levelled(rattle + 0.8 * intake + 0.6 * _levelled(np.asarray(hum)))


def crowd(count: int, rng: np.random.Generator, talkers: Sequence[npt.NDArray[np.int16]]) -> Sound:
    """People talking over one another: six streams of the given clips (16 kHz), near and far.

    Raises ValueError when no talkers are given, since a crowd of nobody would be silence.
    """
    if not talkers:
        raise ValueError("a crowd needs at least one talker's clip")
    babble = np.zeros(count)
    for _ in range(6):
        gain, at = rng.uniform(0.3, 1.0), -int(rng.integers(0, RATE_HZ))
        while at < count:
            clip = talkers[int(rng.integers(len(talkers)))].astype(np.float64)
            start, end = max(at, 0), min(at + clip.size, count)
            if end > start and (rms := float(np.sqrt(np.mean(clip**2)))) > 0:
                babble[start:end] += gain * clip[start - at : end - at] / rms
            at += clip.size + int(rng.integers(RATE_HZ // 10, RATE_HZ // 2))
    return _levelled(babble)


def deck(count: int, rng: np.random.Generator, talkers: Sequence[npt.NDArray[np.int16]] = ()) -> Sound:
    """Engine, wind, water and, when talkers are given, people, in a mix drawn by the seed."""
    parts = [idle(count, rng), wind(count, rng), water(count, rng)]
    if talkers:
        parts.append(crowd(count, rng, talkers))
    return _levelled(np.asarray(sum(rng.uniform(0.3, 1.0) * part for part in parts)))


STEADY: dict[str, Callable[[int, np.random.Generator], Sound]] = {
    "idle": idle,
    "cruise": cruise,
    "wind": wind,
    "water": water,
    "compressor": compressor,
}
KINDS = (*STEADY, "crowd", "deck")


def make(kind: str, count: int, seed: int, talkers: Sequence[npt.NDArray[np.int16]] = ()) -> Sound:
    """`count` samples of the kind of noise named, RMS 1.0; raises KeyError for a kind not in KINDS."""
    if count == 0:
        return np.zeros(0)
    rng = np.random.default_rng(seed)
    if kind == "crowd":
        return crowd(count, rng, talkers)
    if kind == "deck":
        return deck(count, rng, talkers)
    return STEADY[kind](count, rng)


def active_rms(speech: npt.NDArray[np.int16]) -> float:
    """RMS, in sample units, over 20 ms frames within 35 dB of the loudest: pauses do not count as speech."""
    frame = RATE_HZ // 50
    whole = speech[: speech.size // frame * frame].astype(np.float64).reshape(-1, frame)
    power = np.mean(whole**2, axis=1)
    if power.size == 0 or power.max() == 0:
        return 0.0
    return float(np.sqrt(power[power >= power.max() * 10 ** (-ACTIVE_BELOW_DB / 10)].mean()))


def mix(speech: npt.NDArray[np.int16], noise: Sound, snr_db: float) -> npt.NDArray[np.int16]:
    """Speech with noise under it.

    `snr_db` is 20 log10 of active_rms(speech) over the RMS of the noise, both unweighted, the noise
    over its whole length. Returns int16 of the speech's length; the sum is turned down as a whole
    when it would clip. Raises ValueError when the noise is shorter than the speech.
    """
    if noise.size < speech.size:
        raise ValueError(f"noise of {noise.size} samples is shorter than speech of {speech.size}")
    rms = float(np.sqrt(np.mean(noise**2)))
    gain = active_rms(speech) / (rms * 10 ** (snr_db / 20)) if rms > 0 else 0.0
    both = speech.astype(np.float64) + gain * noise[: speech.size]
    peak = float(np.abs(both).max(initial=0.0))
    return (both * (32000 / peak) if peak > 32000 else both).astype(np.int16)
