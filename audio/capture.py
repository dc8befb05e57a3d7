"""The microphone: frames from PortAudio, and none with our own voice in them.

PortAudio's callback copies into a bounded queue and does nothing else. Whatever is lost on the
way is counted, never hidden: a turn during which `losses` rose may lack a word, and its answer must be
doubted. A microphone that gives nothing for a second is lost, whatever its stream says of itself.
"""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Protocol, Self

from assistant.errors import MicrophoneLost
from audio.devices import LATENCY_S, Device, Way, choose, close_stream, open_stream, rescan
from audio.frames import Block, Frame, Framer

LOST_AFTER_S = 1.0
STARTS_WITHIN_S = 3.0  # Bluetooth and sound servers take their time for the first block
HOLD_OFF_S = 0.15  # room for the last echo of our own voice off a deck and its cylinders
QUEUE_BLOCKS = 1024  # some seconds; PortAudio chooses the size of a block, 5 to 60 ms


@dataclass(slots=True)
class Counts:
    """What came in since the microphone was opened; blocks are PortAudio's own."""

    frames: int = 0  # given on, 20 ms each
    hushed_blocks: int = 0  # left out because we spoke
    dropped_blocks: int = 0  # lost because nobody took them
    overflows: int = 0  # lost before they reached us, as PortAudio says

    @property
    def losses(self) -> int:
        return self.dropped_blocks + self.overflows


class FrameSource(Protocol):
    """What the ear needs of a microphone; Microphone and files.FileMicrophone fulfil it."""

    @property
    def counts(self) -> Counts: ...
    def __iter__(self) -> Iterator[Frame]: ...
    def hush(self) -> None: ...
    def listen(self, hold_off_s: float = HOLD_OFF_S) -> None: ...


class Microphone:
    """A context manager that opens and closes the device, and an iterator of frames without an end."""

    def __init__(self, device: str | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        """device: its name or a part of it (see devices.choose); None takes the default one."""
        self._name = device
        self._clock = clock
        self._blocks: queue.Queue[tuple[int, Block]] = queue.Queue(QUEUE_BLOCKS)
        self._turn = 0  # rises with every listen(), so that older blocks are known
        self._hushed = False
        self._open_from_s = 0.0
        self._last_block_s, self._allowed_s = 0.0, STARTS_WITHIN_S
        self._stream: Any = None
        self.device: Device | None = None
        self.counts = Counts()

    def open(self) -> None:
        """Raises NoMicrophone: none, none of that name, or it is in use; follow `mend`."""
        rescan(Way.IN)
        self.device = choose(Way.IN, self._name)
        self._last_block_s, self._allowed_s = self._clock(), STARTS_WITHIN_S
        self._framer = Framer(self.device.rate_hz)
        self._stream = open_stream(Way.IN, self.device, self._take)

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

    def hush(self) -> None:
        """Leave out everything from now on: our own voice begins."""
        self._hushed = True

    def listen(self, hold_off_s: float = HOLD_OFF_S) -> None:
        """Our own voice has left the speaker: frames heard `hold_off_s` from now on are given, no older ones."""
        self._turn += 1
        self._open_from_s = self._clock() + hold_off_s + LATENCY_S
        self._hushed = False

    def __iter__(self) -> Iterator[Frame]:
        """Give frames of shape (320,), int16, 16 kHz mono, as they come.

        Raises MicrophoneLost: nothing came for a second; say so, leave the check waiting, and open it again.
        Checked by tests/audio/test_capture.py and test_soundcard.py.
        """
        turn = self._turn
        while True:
            block_turn, block = self._next_block()
            if block_turn != self._turn:
                continue
            if turn != self._turn:
                turn = self._turn
                self._framer = Framer(self.device.rate_hz if self.device else 0)
            for frame in self._framer.push(block):
                self.counts.frames += 1
                yield frame

    def age_s(self) -> float:
        """Seconds since the device last gave anything; a watchdog may look at it."""
        return self._clock() - self._last_block_s

    def _next_block(self) -> tuple[int, Block]:
        while self._stream is not None:
            try:
                return self._blocks.get(timeout=LOST_AFTER_S / 10)
            except queue.Empty:
                if self.age_s() > self._allowed_s:
                    break
        name = self.device.name if self.device else self._name
        mend = "Check its plug, then run `kitcall check` again: it goes on."
        raise MicrophoneLost(f"The microphone {name!r} gives no sound any more.", mend)

    def _take(self, block: Block, count: int, when: Any, status: Any) -> None:
        """PortAudio's callback, on its own thread."""
        self._last_block_s = now_s = self._clock()
        self._allowed_s = LOST_AFTER_S
        if self._hushed or now_s < self._open_from_s:
            self.counts.hushed_blocks += 1
            return
        if status.input_overflow:
            self.counts.overflows += 1
        try:
            self._blocks.put_nowait((self._turn, block.copy()))
        except queue.Full:
            self.counts.dropped_blocks += 1
