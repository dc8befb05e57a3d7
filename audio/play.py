"""The speaker: plays a line and returns when its last frame has left.

One stream stays open for as long as the speaker does, giving silence between lines: some USB
devices are lost after a few openings. After a pause a quarter of a second of silence goes first, since
idle amplifiers swallow the beginning of a word. Half-duplex rests on play() returning on time.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from types import TracebackType
from typing import Any, Protocol, Self

import numpy as np
import soxr

from assistant.errors import BadInput, NoSpeaker
from audio.devices import Way, choose, close_stream, open_stream, rescan
from audio.frames import Block, Frame

LEAD_IN_S = 0.25
IDLE_AFTER_S = 2.0
LOST_AFTER_S = 2.0


class Sounder(Protocol):
    """What the app needs of a speaker; Speaker and SilentSpeaker fulfil it, and pass one contract suite."""

    def play(self, samples: Frame, rate_hz: int) -> bool: ...
    def stop(self) -> None: ...


class Speaker:
    """A context manager that opens and closes one stream; play() from one thread, stop() from any."""

    def __init__(self, device: str | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        """device: its name or a part of it (see devices.choose); None takes the default one."""
        self._name = device
        self._clock = clock
        self._stream: Any = None
        self._rest: Block = np.zeros(0, np.float32)
        self._left = threading.Event()
        self._left.set()
        self._stopped = False
        self._ends_s = 0.0  # on the stream's clock: when the last frame leaves
        self._last_call_s = self._idle_since_s = 0.0

    def open(self) -> None:
        """Raises NoSpeaker: none, none of that name, or it is in use; follow `mend`."""
        rescan(Way.OUT)
        self.device = choose(Way.OUT, self._name)
        self._last_call_s, self._idle_since_s = self._clock(), float("-inf")
        self._stream = open_stream(Way.OUT, self.device, self._give)

    def close(self) -> None:
        """Close the device; it may be opened again. May be called twice."""
        stream, self._stream = self._stream, None
        if stream is not None:
            close_stream(stream)

    def __enter__(self) -> Self:
        self.open()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def play(self, samples: Frame, rate_hz: int) -> bool:
        """Play mono int16 samples of shape (n,) at rate_hz.

        Returns True when the last frame has left the device, False when stop() ended it.
        Raises NoSpeaker: closed, or it takes no sound any more; the guide reads the screen meanwhile.
        Checked by tests/audio/test_play.py and test_soundcard.py (against the sound that came out).
        """
        _refuse_unfit(samples, rate_hz)
        if self._stream is None:
            raise NoSpeaker("The speaker is closed.", "Open it before speaking.")
        self._stopped = False
        line = self._with_lead_in(_to_device(samples, rate_hz, self.device.rate_hz))
        self._rest = line
        self._left.clear()  # after the line is there, or the callback would find it ended
        self._wait_till_taken()
        self._idle_since_s = self._clock()
        return not self._stopped

    def stop(self) -> None:
        """End the line that is being played, within the device's latency."""
        self._stopped = True

    def _with_lead_in(self, line: Block) -> Block:
        if self._clock() - self._idle_since_s < IDLE_AFTER_S:
            return line
        return np.concatenate([np.zeros(int(LEAD_IN_S * self.device.rate_hz), np.float32), line])

    def _wait_till_taken(self) -> None:
        self._last_call_s = self._clock()
        while not self._left.wait(LOST_AFTER_S / 10):
            if self._clock() - self._last_call_s > LOST_AFTER_S:
                raise NoSpeaker(f"The speaker {self.device.name!r} takes no sound any more.", "Check its plug.")
        time.sleep(min(max(self._ends_s - self._stream.time, 0.0), LOST_AFTER_S))

    def _give(self, out: Block, count: int, when: Any, status: Any) -> None:
        """PortAudio's callback, on its own thread."""
        self._last_call_s = self._clock()
        line = self._rest[:0] if self._stopped else self._rest
        given = line[:count]
        out.fill(0.0)
        out[: given.size] = given[:, np.newaxis]
        self._rest = line[count:]
        if not self._left.is_set() and line.size <= count:
            self._ends_s = when.outputBufferDacTime + given.size / self.device.rate_hz
            self._left.set()


class SilentSpeaker:
    """A speaker for machines without one: takes no time, makes no sound, counts what it was given."""

    def __init__(self) -> None:
        self.lines = 0
        self.played_s = 0.0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        pass

    def play(self, samples: Frame, rate_hz: int) -> bool:
        """Count a line; its time is added to played_s, in seconds."""
        _refuse_unfit(samples, rate_hz)
        self.lines += 1
        self.played_s += samples.size / rate_hz
        return True

    def stop(self) -> None:
        """Nothing is being played, so nothing ends."""


def _refuse_unfit(samples: Frame, rate_hz: int) -> None:
    if samples.dtype != np.int16 or samples.ndim != 1 or samples.size == 0 or rate_hz <= 0:
        raise BadInput(f"{samples.dtype} of shape {samples.shape} at {rate_hz} Hz is no line; give mono int16 samples.")


def _to_device(samples: Frame, rate_hz: int, device_hz: int) -> Block:
    sound = samples.astype(np.float32) / 32768.0
    resampled: Block = sound if rate_hz == device_hz else soxr.resample(sound, rate_hz, device_hz)
    return resampled
