"""A plain synthetic voice for the tests of this room. It flutters: no two renderings of a line are alike."""

from __future__ import annotations

import io
import shutil
import subprocess
from collections.abc import Callable

import numpy as np
import pytest
import soundfile as sf
import soxr
from numpy.typing import NDArray

from audio.frames import RATE_HZ

BEFORE_S, AFTER_S = 0.5, 1.0
PEAK = 0.4  # of espeak's own level


@pytest.fixture(scope="session")
def say() -> Callable[[str], NDArray[np.int16]]:
    """say(text) gives its samples, mono, 16 kHz, with quiet before and after."""
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")

    def made(text: str) -> NDArray[np.int16]:
        done = subprocess.run(["espeak-ng", "-v", "en-us", "--stdout", text], check=True, capture_output=True)
        samples, rate_hz = sf.read(io.BytesIO(done.stdout), dtype="float64")
        speech = np.asarray(soxr.resample(samples, rate_hz, RATE_HZ)) * PEAK
        return np.rint(np.pad(speech, (round(BEFORE_S * RATE_HZ), round(AFTER_S * RATE_HZ))) * 32767).astype(np.int16)

    return made
