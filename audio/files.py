"""Frames from WAV and FLAC files, as the microphone would give them.

Read in blocks, so that an hour needs no more memory than a second. What cannot be trusted is
refused, not repaired: a file that is cut short may have lost the word that turned a pass into a fault.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile

from assistant.errors import BadRecording
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
