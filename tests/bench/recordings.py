"""Recordings of people beside the repository: orders, kitchen noise and single digits, with their labels.

Nothing of them is kept here. A clip's half comes from a hash of its name: tune on "tuning", report "scoring".
The mix is the rule of the public speech-to-intent benchmark: the noise is scaled so that the loudest 2048
samples of speech and those of noise stand in the ratio asked for, and the sum is set to half of full scale.
"""

from __future__ import annotations

import csv
import json
import zlib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import click
import numpy as np
import soundfile as sf
from numpy.typing import NDArray

SPEECH = Path(__file__).resolve().parents[3] / "shared/speech"
RATE_HZ = 16_000
RATIOS_DB = (24, 21, 18, 15, 12, 9, 6)
LOUDEST_SAMPLES = 2048

Sound = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Clip:
    """One recording and what was said in it."""

    path: Path
    speaker: str
    meaning: str
    slots: dict[str, str]

    @property
    def half(self) -> str:
        """tuning or scoring."""
        return "scoring" if zlib.crc32(self.path.name.encode()) & 1 else "tuning"


def need(folder: str) -> Path:
    """The folder, or an end with what to do."""
    found = SPEECH / folder
    if not found.is_dir():
        raise click.ClickException(
            f"No recordings at ../shared/speech/{folder}: this benchmark measures speech of people, which is not "
            "part of this repository. Put the recordings there to run it."
        )
    return found


def orders(half: str) -> list[Clip]:
    """The spoken orders of one half, or of "all"."""
    folder = need("orders")
    with (folder / "labels.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    clips = [Clip(folder / row["file"], "", row["intent"], json.loads(row["slots"])) for row in rows]
    return [clip for clip in clips if half in ("all", clip.half)]


def digits(half: str) -> list[Clip]:
    """The spoken digits of one half, or of "all"; files are named DIGIT_SPEAKER_TAKE."""
    paths = sorted(need("digits").glob("*.flac"))
    clips = [Clip(path, path.stem.split("_")[1], path.stem.split("_")[0], {}) for path in paths]
    return [clip for clip in clips if half in ("all", clip.half)]


def order_sound(clip: Clip, ratio_db: int | None, seed: int) -> Sound:
    """The order, clean (None) or with kitchen noise, from a place in it that depends on seed, clip and ratio."""
    speech, rate_hz = sf.read(clip.path)
    if rate_hz != RATE_HZ:
        raise click.ClickException(f"{clip.path.name} has {rate_hz} samples a second; {RATE_HZ} are expected.")
    if ratio_db is None:
        return np.asarray(speech)
    noise = kitchen()
    chance = np.random.default_rng([seed, zlib.crc32(clip.path.name.encode()), ratio_db])
    start = int(chance.integers(0, noise.size - speech.size))
    return mix(speech, noise[start : start + speech.size], ratio_db)


def mix(speech: Sound, noise: Sound, ratio_db: float) -> Sound:
    """Speech and as much noise, at half of full scale."""
    scale = np.sqrt(_loudest(speech) / (_loudest(noise) * 10 ** (ratio_db / 10)))
    both = speech + scale * noise
    return np.asarray(both / (2 * np.abs(both).max()))


def _loudest(sound: Sound) -> float:
    """Energy of the loudest 2048 samples."""
    count = sound.size // LOUDEST_SAMPLES
    frames = sound[: count * LOUDEST_SAMPLES].reshape(count, LOUDEST_SAMPLES)
    return float((frames**2).sum(axis=1).max())


@cache
def kitchen() -> Sound:
    """The recorded kitchen of the shared speech, whole."""
    noise, _ = sf.read(need("noise") / "kitchen.flac")
    return np.asarray(noise)
