"""The box as the service runs it: a process with a terminal for a panel, a virtual card, systemd's socket and a record.

It tests itself, is ready, begins by a press, waits by a hold, and switches off by a long hold; then nothing is lost.
"""

from __future__ import annotations

import contextlib
import os
import pty
import select
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from assistant.errors import KitcallError
from assistant.record import Reader

PATIENCE_S = 300.0  # for a machine that many share; ten seconds each are usual


class Running:
    """A box in a terminal of its own."""

    def __init__(self, folder: Path, store: Path, run: Path) -> None:
        self.shown, self._store = "", store
        self._master, slave = pty.openpty()
        address = str(folder / "notify")
        self.manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.manager.bind(address)
        settings = {"KITCALL_DATA": str(folder), "RUNTIME_DIRECTORY": str(run), "NOTIFY_SOCKET": address}
        command = [sys.executable, "-m", "assistant", "box", "--panel", "text", "--store", str(store)]
        self.process = subprocess.Popen(
            command, stdin=slave, stdout=slave, stderr=slave, env={**os.environ, **settings}, start_new_session=True,
            cwd=Path(__file__).parents[2],
        )  # fmt: skip
        os.close(slave)

    def press(self, key: str) -> None:
        os.write(self._master, key.encode())

    def wait_for(self, true: Callable[[], bool], what: str, key: str = "") -> None:
        """Wait; with a key, press it now and then: one pressed while the box speaks only ends its line."""
        ends_s, pressed_s = time.monotonic() + PATIENCE_S, 0.0
        while not true():
            if key and time.monotonic() > pressed_s + 3:
                self.press(key)
                pressed_s = time.monotonic()
            assert self.process.poll() is None or true(), f"the box ended before {what}:\n{self.shown[-3000:]}"
            assert time.monotonic() < ends_s, f"waited in vain for {what}:\n{self.shown[-3000:]}"
            self._read()

    def _read(self) -> None:
        if select.select([self._master], [], [], 0.2)[0]:
            try:
                self.shown += os.read(self._master, 65536).decode(errors="replace")
            except OSError:  # the other end is closed
                time.sleep(0.05)

    def kinds(self) -> list[str]:
        try:
            with Reader(self._store) as reader:
                return [entry.kind for entry in reader.entries()]
        except KitcallError:
            return []

    def close(self) -> None:
        self.process.kill()
        self.process.wait()
        self.manager.close()
        os.close(self._master)


@pytest.fixture
def deck(soundcard: Callable[[str], str]) -> Iterator[None]:
    """Air between speaker and microphone, and some noise on deck."""
    module = ["pactl", "load-module", "module-loopback", "source=deck.monitor", "sink=mouth", "latency_msec=20"]
    subprocess.run(module, check=True, capture_output=True)
    hiss = np.random.default_rng(1).normal(0, 30, 16_000).astype(np.int16).tobytes()
    player = subprocess.Popen(
        ["pacat", "-d", "mouth", "--rate=16000", "--channels=1", "--format=s16le"], stdin=subprocess.PIPE
    )
    over = threading.Event()

    def play() -> None:
        assert player.stdin is not None
        while not over.is_set():
            try:
                player.stdin.write(hiss)
            except OSError:
                return

    thread = threading.Thread(target=play)
    thread.start()
    yield
    over.set()
    player.kill()
    player.wait()
    thread.join()
    with contextlib.suppress(OSError):
        player.stdin.close()  # type: ignore[union-attr]


def test_from_power_on_to_power_off(
    deck: None, tmp_path: Path, model_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("KITCALL_MODEL", str(model_folder))
    (tmp_path / "run").mkdir()
    box = Running(tmp_path, tmp_path / "record.db", tmp_path / "run")
    try:
        box.manager.settimeout(PATIENCE_S)
        assert box.manager.recv(100) == b"READY=1"
        box.wait_for(lambda: "self_tested" in box.kinds(), "the self-test")
        box.wait_for(lambda: "check_started" in box.kinds(), "the check to begin", key="p")
        box.press("h")
        box.wait_for(lambda: "paused" in box.kinds(), "the wait")
        box.press("s")
        box.wait_for(lambda: box.process.poll() is not None, "the end")
    finally:
        box.close()
    assert box.process.returncode == 0
    assert (tmp_path / "run/off").exists()
    assert "NOT FIT" not in box.shown
    with Reader(tmp_path / "record.db") as reader:
        assert reader.verify().ok
        began = next(entry for entry in reader.entries() if entry.kind == "check_started")
        assert began.facts["by"] == "key"
        assert reader.unfinished() == began.session
        assert not [entry for entry in reader.entries() if entry.kind == "answered"]
