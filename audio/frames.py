"""The one shape sound has inside kitcall: mono int16 at 16 kHz in frames of 320 samples, 20 ms.

Framer makes it from any rate and any number of channels, block by block, so that a file and
a microphone reach the ear through the same code. Channels are averaged: the two capsules of a
stereo device hear one voice in phase, a mean cannot clip, and choosing one could choose the dead one.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import soxr
from numpy.typing import NDArray

RATE_HZ = 16_000
FRAME_SAMPLES = 320
FRAME_S = FRAME_SAMPLES / RATE_HZ

Frame = NDArray[np.int16]
Block = NDArray[np.float32]


def to_int16(samples: Block) -> Frame:
    """Full scale 1.0 becomes 32768, so that a 16-bit file read as float comes back bit for bit; beyond is clipped."""
    rounded: Frame = np.clip(np.rint(samples * 32768.0), -32768, 32767).astype(np.int16)
    return rounded


class Framer:
    """Blocks in, frames out; what does not fill a frame waits for the next block."""

    def __init__(self, rate_hz: int) -> None:
        self._resampler = None if rate_hz == RATE_HZ else soxr.ResampleStream(rate_hz, RATE_HZ, 1, dtype="float32")
        self._rest: Frame = np.zeros(0, np.int16)

    def push(self, block: Block) -> Iterator[Frame]:
        """Take samples (shape (n,) or (n, channels), full scale 1.0) and give the frames that are full.

        Resampling (soxr, its HQ setting) holds back some 17 ms until the next block or finish().
        """
        return self._cut(self._to_rate(block, last=False))

    def finish(self) -> Iterator[Frame]:
        """Give what is left; the last frame is filled up with zeros."""
        yield from self._cut(self._to_rate(np.zeros(0, np.float32), last=True))
        if self._rest.size:
            yield np.pad(self._rest, (0, FRAME_SAMPLES - self._rest.size))
            self._rest = self._rest[:0]

    def _to_rate(self, block: Block, last: bool) -> Frame:
        mono = block.mean(axis=1, dtype=np.float32) if block.ndim == 2 else block
        if self._resampler is not None:
            mono = self._resampler.resample_chunk(np.ascontiguousarray(mono), last=last)
        return to_int16(mono)

    def _cut(self, samples: Frame) -> Iterator[Frame]:
        whole = np.concatenate([self._rest, samples])
        count = whole.size // FRAME_SAMPLES
        self._rest = whole[count * FRAME_SAMPLES :]
        yield from whole[: count * FRAME_SAMPLES].reshape(count, FRAME_SAMPLES)
