"""Fixtures that several rooms' tests share: the model, a small disk, a virtual sound card."""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from audio import devices, model

SOUNDCARD = Path(__file__).parents[1] / ".ci/soundcard"
PROGRAMS = ("pulseaudio", "pactl", "parec", "pacat")


@pytest.fixture(scope="session")
def model_folder() -> Path:
    """The recogniser's model; set-up has fetched it, so its absence is a failure and no reason to skip."""
    return model.find()


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 1 MiB in memory; needs the right to mount."""
    place = tmp_path / "card"
    place.mkdir()
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.mount(b"none", str(place).encode(), b"tmpfs", 0, b"size=1m") != 0:
        pytest.skip(f"mounting a small tmpfs is not permitted here: {os.strerror(ctypes.get_errno())}")
    yield place
    libc.umount2(str(place).encode(), 2)


@pytest.fixture
def soundcard(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[[str], str]]:
    """A virtual sound card with the devices "deck" (speaker) and "mic" (microphone), and "mouth" for pacat.

    Gives a function that takes what to do to it: "mute", "pull", "plug" or "stop".
    """
    missing = [program for program in PROGRAMS if not shutil.which(program)]
    if missing:
        pytest.skip(f"no virtual sound card: {', '.join(missing)} not installed (.ci/setup test installs them)")
    folder = tmp_path_factory.mktemp("card")

    def do(what: str) -> str:
        done = subprocess.run([SOUNDCARD, what, folder], check=True, capture_output=True, text=True, timeout=30)
        return done.stdout

    for line in do("start").splitlines():
        monkeypatch.setenv(*line.split("=", 1))
    try:
        assert devices.rescan(), "a test before this one left a stream open"
        yield do
    finally:
        do("stop")


