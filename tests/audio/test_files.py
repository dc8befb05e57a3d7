"""Recordings become frames, or are refused; the rate conversion is checked against the sine it must keep."""

from __future__ import annotations

import contextlib
import tracemalloc
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.errors import BadRecording, MicrophoneLost
from audio.files import FileMicrophone, read_frames
from audio.frames import FRAME_SAMPLES, RATE_HZ

TONE_HZ = 440.0


def tone(rate_hz: int, length_s: float = 1.0, level: float = 0.5) -> np.ndarray:
    return (level * np.sin(2 * np.pi * TONE_HZ * np.arange(int(rate_hz * length_s)) / rate_hz)).astype(np.float32)


def read(path: Path) -> np.ndarray:
    frames = list(read_frames(path))
    assert {(frame.shape, frame.dtype) for frame in frames} == {((FRAME_SAMPLES,), np.dtype(np.int16))}
    return np.concatenate(frames)


@pytest.mark.parametrize("suffix", ["wav", "flac"])
@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("rate_hz", [8_000, 16_000, 22_050, 44_100, 48_000, 96_000])
def test_any_rate_keeps_tone_level_and_length(tmp_path: Path, rate_hz: int, channels: int, suffix: str) -> None:
    """The ideal is the same sine computed at 16 kHz; 2 % of full scale covers the filter's ripple."""
    soundfile.write(tmp_path / f"a.{suffix}", np.tile(tone(rate_hz)[:, None], channels), rate_hz)
    got = read(tmp_path / f"a.{suffix}")
    assert got.size == RATE_HZ
    middle = slice(1000, 15000)
    np.testing.assert_allclose(got[middle] / 32768, tone(RATE_HZ)[middle], atol=0.02)


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW"])
def test_any_sample_format(tmp_path: Path, subtype: str) -> None:
    soundfile.write(tmp_path / "a.wav", tone(RATE_HZ), RATE_HZ, subtype=subtype)
    np.testing.assert_allclose(read(tmp_path / "a.wav") / 32768, tone(RATE_HZ), atol=0.02)


def test_sixteen_bit_at_our_rate_is_kept_bit_for_bit(tmp_path: Path) -> None:
    written = np.random.default_rng(1).integers(-32768, 32768, 3200, dtype=np.int16)
    soundfile.write(tmp_path / "a.wav", written, RATE_HZ)
    np.testing.assert_array_equal(read(tmp_path / "a.wav"), written)


def test_channels_are_averaged(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.column_stack([tone(RATE_HZ), np.zeros(RATE_HZ, np.float32)]), RATE_HZ)
    np.testing.assert_allclose(read(tmp_path / "a.wav") / 32768, tone(RATE_HZ) / 2, atol=0.001)


@pytest.mark.parametrize(("samples", "frames"), [(1, 1), (319, 1), (320, 1), (321, 2), (16_000, 50)])
def test_last_frame_is_filled_up_with_zeros(tmp_path: Path, samples: int, frames: int) -> None:
    soundfile.write(tmp_path / "a.wav", np.full(samples, 0.5, np.float32), RATE_HZ)
    got = read(tmp_path / "a.wav")
    assert got.size == frames * FRAME_SAMPLES
    assert np.count_nonzero(got) == samples


def test_one_sample_at_another_rate_is_one_frame(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.full(1, 0.5, np.float32), 48_000)
    assert read(tmp_path / "a.wav").size == FRAME_SAMPLES


@pytest.mark.parametrize(
    ("samples", "lowest", "highest"),
    [
        (np.full(1600, 1.0), 32767, 32767),
        (np.full(1600, -1.0), -32768, -32768),
        (np.full(1600, 30.0), 32767, 32767),
        (np.full(1600, 0.25), 8192, 8192),
        (np.zeros(1600), 0, 0),
    ],
    ids=["full scale", "negative full scale", "far beyond full scale", "DC", "digital silence"],
)
def test_extremes_are_clipped_and_never_wrap(tmp_path: Path, samples: np.ndarray, lowest: int, highest: int) -> None:
    soundfile.write(tmp_path / "a.wav", samples, RATE_HZ, subtype="FLOAT")
    got = read(tmp_path / "a.wav")
    assert (got.min(), got.max()) == (lowest, highest)


def make_wild(path: Path, value: float) -> None:
    sound = tone(RATE_HZ, 3.0)
    sound[40_000] = value
    soundfile.write(path, sound, RATE_HZ, subtype="FLOAT")


def make_cut(path: Path, tail_bytes: int, suffix: str) -> None:
    whole = path.with_name(f"whole.{suffix}")
    soundfile.write(whole, np.random.default_rng(1).normal(0, 0.1, 50_000), RATE_HZ)
    path.write_bytes(whole.read_bytes()[:-tail_bytes])


BAD = {
    "missing": (lambda path: None, "There is no sound file"),
    "folder": (lambda path: path.mkdir(), "There is no sound file"),
    "no bytes": (lambda path: path.write_bytes(b""), "cannot be read"),
    "text": (lambda path: path.write_bytes(b"hello " * 100), "cannot be read"),
    "header only begun": (lambda path: path.write_bytes(b"RIFF\x00\x00\x00\x00WAVEfmt "), "cannot be read"),
    "no sound": (lambda path: soundfile.write(path, np.zeros(0), RATE_HZ), "holds no sound"),
    "not a number": (lambda path: make_wild(path, np.nan), "no sound"),
    "infinite": (lambda path: make_wild(path, np.inf), "no sound"),
    "below 8 kHz": (lambda path: soundfile.write(path, np.zeros(4000), 4000), "4000 samples a second"),
    "WAV cut short": (lambda path: make_cut(path, 2000, "wav"), "cut short"),
    "FLAC cut short": (lambda path: make_cut(path, 20_000, "flac"), "cannot be read"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_recording_is_refused_by_name(tmp_path: Path, name: str) -> None:
    make, problem = BAD[name]
    path = tmp_path / "bad.wav"
    make(path)
    with pytest.raises(BadRecording, match=problem) as refused:
        list(read_frames(path))
    assert "bad.wav" in str(refused.value)
    assert refused.value.mend


@pytest.mark.parametrize("claim", [0x7FFF_FFFF, 0xFFFF_FFFF])
def test_recorder_to_a_pipe_that_could_not_know_the_length(tmp_path: Path, claim: int) -> None:
    """Programs that write WAV to a pipe claim about the largest length there is; that is not a cut."""
    soundfile.write(tmp_path / "a.wav", tone(RATE_HZ), RATE_HZ)
    data = bytearray((tmp_path / "a.wav").read_bytes())
    data[40:44] = claim.to_bytes(4, "little")
    (tmp_path / "a.wav").write_bytes(bytes(data))
    assert read(tmp_path / "a.wav").size == RATE_HZ


@pytest.mark.parametrize("seed", range(40))
def test_flipped_bytes_give_frames_or_a_refusal(tmp_path: Path, seed: int) -> None:
    random = np.random.default_rng(seed)
    path = tmp_path / ("a.wav" if seed % 2 else "a.flac")
    soundfile.write(path, tone(RATE_HZ, 0.2), RATE_HZ)
    data = bytearray(path.read_bytes())
    for place in random.integers(0, min(len(data), 200), 5):
        data[place] = random.integers(256)
    path.write_bytes(bytes(data))
    with contextlib.suppress(BadRecording):  # any other exception fails the test
        assert {frame.shape for frame in read_frames(path)} == {(FRAME_SAMPLES,)}


def test_two_minutes_need_no_more_memory_than_a_second(tmp_path: Path) -> None:
    """Two minutes as float32 at 16 kHz would be 7.7 MB."""
    path = tmp_path / "long.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        for _ in range(2):
            file.writeframes(bytes(2 * 8000 * 60))
    tracemalloc.start()
    count = sum(1 for _ in read_frames(path))
    peak_bytes = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert count == 120 * 50
    assert peak_bytes < 2_000_000


def test_file_microphone_gives_one_file_after_the_other_and_is_then_lost(tmp_path: Path) -> None:
    for name, value in (("a.wav", 0.25), ("b.wav", 0.5)):
        soundfile.write(tmp_path / name, np.full(640, value), RATE_HZ)
    with FileMicrophone([tmp_path / "a.wav", tmp_path / "b.wav"]) as microphone:
        frames = iter(microphone)
        assert [next(frames)[0] for _ in range(4)] == [8192, 8192, 16384, 16384]
        assert (microphone.counts.frames, microphone.counts.losses) == (4, 0)
        with pytest.raises(MicrophoneLost):
            next(frames)
