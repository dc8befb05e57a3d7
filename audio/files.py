"""Frames from WAV and FLAC files, as the microphone would give them.

Read in blocks, so that an hour needs no more memory than a second. What cannot be trusted is
refused, not repaired: a file that is cut short may have lost the word that turned a pass into a fault.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
import soundfile

from assistant.errors import BadRecording, MicrophoneLost
from audio.capture import Counts
from audio.frames import FRAME_SAMPLES, Block, Frame, Framer

LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8_000, 384_000
BLOCK_S = 0.5
# A recorder that writes to a pipe cannot know the length and claims about the largest there is.
UNKNOWN_LENGTH_BYTES = 0x7FFF_0000
CLAIMED = re.compile(r"^data : (\d+) \(should be (\d+)\)", re.MULTILINE)


def read_frames(path: str | Path) -> Iterator[Frame]:
    """Give the sound of a WAV or FLAC file as frames.

    Returns frames of shape (320,), int16, 16 kHz mono (the mean of the channels); the last one is
    filled up with zeros. The file is opened at the first frame.
    Raises BadRecording: missing, unreadable, empty, cut short (for FLAC only when that place is
    reached), with values that are no sound, or at a rate outside 8 to 384 kHz. The guide should record again.
    Checked by tests/audio/test_files.py.
    """
    path = Path(path)
    if not path.is_file():
        raise BadRecording(f"There is no sound file at {path}.", "Check the path.")
    try:
        with soundfile.SoundFile(path) as file:
            _refuse_unfit(path, file)
            yield from _frames_of(path, file)
    except (soundfile.LibsndfileError, OSError) as error:
        raise BadRecording(f"{path} cannot be read as sound: {error}", "Give a WAV or FLAC file.") from error


def _refuse_unfit(path: Path, file: soundfile.SoundFile) -> None:
    mend = "Record it again, as WAV or FLAC, mono, 16 kHz or more."
    if not LOWEST_RATE_HZ <= file.samplerate <= HIGHEST_RATE_HZ:
        raise BadRecording(f"{path} says that it has {file.samplerate} samples a second.", mend)
    if file.frames == 0:
        raise BadRecording(f"{path} holds no sound.", mend)
    claim = CLAIMED.search(file.extra_info)
    if claim and int(claim[1]) < UNKNOWN_LENGTH_BYTES and int(claim[1]) > int(claim[2]):
        raise BadRecording(f"{path} is cut short: {claim[2]} bytes of sound instead of {claim[1]}.", mend)


def _frames_of(path: Path, file: soundfile.SoundFile) -> Iterator[Frame]:
    framer, given = Framer(file.samplerate), 0
    for block in file.blocks(int(file.samplerate * BLOCK_S), dtype="float32", always_2d=True):
        _refuse_wild(path, block)
        for frame in framer.push(block):
            given += 1
            yield frame
    for frame in framer.finish():
        given += 1
        yield frame
    if not given:  # so few samples that resampling left none
        yield np.zeros(FRAME_SAMPLES, np.int16)


def _refuse_wild(path: Path, block: Block) -> None:
    if not np.isfinite(block).all():
        raise BadRecording(f"{path} holds values that are no sound (not a number, or infinite).", "Record it again.")


class FileMicrophone:
    """A microphone made of recordings, one after another; it stands in for capture.Microphone.

    No time passes while it is hushed; when the recordings are at their end it is lost.
    """

    def __init__(self, paths: Iterable[str | Path]) -> None:
        self._frames = (frame for path in paths for frame in read_frames(path))
        self.counts = Counts()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._frames.close()

    def __iter__(self) -> Iterator[Frame]:
        """Give the frames; raises BadRecording as read_frames does, MicrophoneLost after the last."""
        for frame in self._frames:
            self.counts.frames += 1
            yield frame
        raise MicrophoneLost("The recordings are at their end.", "Give more recordings.")

    def hush(self) -> None:
        """Our own voice begins; a recording waits for its end."""

    def listen(self, hold_off_s: float = 0.0) -> None:
        """Our own voice has ended; a recording holds none of it."""
