"""What .ci/booted tries the service with: commands, waiting, a deck with sound and a panel, folders of changed wheels.

Beside booted.py in the machine that was booted; only Python's own library.
"""

from __future__ import annotations

import hashlib
import os
import pty
import shutil
import subprocess
import threading
import time
from collections.abc import Callable
from pathlib import Path

WHEELS, TRIED = Path("/wheels"), Path("/try")
RECORD = Path("/var/lib/kitcall/record.db")
CURRENT = Path("/opt/kitcall/current")
DROP_IN = Path("/etc/systemd/system/kitcall.service.d/bench.conf")
PATIENCE_S = 240.0
KINDS = "SELECT kind FROM event ORDER BY seq"


def run(*command: str | Path, check: bool = True) -> str:
    """A command's output; ends the trial when it fails."""
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, check=False)
    if check and done.returncode:
        raise AssertionError(f"{' '.join(str(part) for part in command)}: {done.stdout}{done.stderr}")
    return done.stdout + done.stderr


def wait_for(true: Callable[[], object], what: str, patience_s: float = PATIENCE_S) -> float:
    """Seconds until it was true."""
    begun_s = time.monotonic()
    while not true():
        assert time.monotonic() - begun_s < patience_s, f"waited in vain for {what}"
        time.sleep(0.2)
    return time.monotonic() - begun_s


class Deck:
    """A virtual sound card with air between speaker and microphone, and a terminal for a panel."""

    def __init__(self) -> None:
        self.settings: list[str] = []
        self._keys, screen = pty.openpty()
        self.terminal, self.shown = os.ttyname(screen), ""
        threading.Thread(target=self._read, daemon=True).start()

    def plug_in(self) -> None:
        """Start the card; what it is found by goes into `settings`."""
        told = run(TRIED / "soundcard", "start", "/run/card")
        self.settings = [line for line in told.splitlines() if "=" in line]
        os.environ.update(line.split("=", 1) for line in self.settings)
        run("pactl", "load-module", "module-loopback", "source=deck.monitor", "sink=mouth", "latency_msec=20")
        hiss = ["pacat", "-d", "mouth", "--volume=8000", "--rate=16000", "--channels=1", "/dev/urandom"]
        self._hiss = subprocess.Popen(hiss, stderr=subprocess.DEVNULL)
        run("chmod", "755", "/run/card", "/run/card/pulse")

    def _read(self) -> None:
        while True:
            self.shown += os.read(self._keys, 65536).decode(errors="replace")

    def press(self, key: str) -> None:
        os.write(self._keys, key.encode())

    def press_until(self, key: str, true: Callable[[], bool], what: str) -> None:
        """Press now and then until it is true: a press while kitcall speaks only ends its line, and on a loaded machine
        the virtual card stalls at times, which the service tells and gets over."""
        pressed_s = float("-inf")

        def is_true() -> bool:
            nonlocal pressed_s
            if time.monotonic() - pressed_s > 4:
                self.press(key)
                pressed_s = time.monotonic()
            return true()

        wait_for(is_true, what)

    def join_to_service(self) -> None:
        """What a Pi has by itself: a panel, and sound for ALSA."""
        DROP_IN.parent.mkdir(exist_ok=True)
        words = "".join(f'Environment="{line}"\n' for line in self.settings)
        DROP_IN.write_text(
            f"[Service]\nExecStart=\nExecStart={CURRENT}/bin/kitcall box --panel text\n{words}"
            f"StandardInput=tty\nStandardError=tty\nStandardOutput=journal\nTTYPath={self.terminal}\n"
        )


def shown(name: str) -> str:
    return run("systemctl", "show", "-P", name, "kitcall.service").strip()


def is_running() -> bool:
    return shown("ActiveState") == "active"


def install(folder: Path = WHEELS, *words: str) -> str:
    return run("python3", folder / "install.py", *(words or ("install", "--sound", "alsa")), check=False)


def kinds() -> list[str]:
    if not RECORD.exists():
        return []
    record = f"sqlite3.connect('file:{RECORD}?mode=ro', uri=True)"
    look = f"import sqlite3; print(*(kind for kind, in {record}.execute('{KINDS}')))"
    return run("python3", "-c", look).split()  # in a process of its own: one that stays may see an old state


def release() -> str:
    return CURRENT.resolve().name


def changed(name: str, change: Callable[[Path], None], sums: bool = True) -> Path:
    """A copy of the folder of wheels with something changed, with fresh sums or with those of before."""
    folder = TRIED / name
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(WHEELS, folder, copy_function=os.link)
    change(folder)
    if sums:
        files = sorted(path for path in folder.rglob("*") if path.is_file() and path.name != "SHA256SUMS")
        lines = [f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.relative_to(folder)}\n" for path in files]
        replace(folder / "SHA256SUMS", "".join(lines))
    return folder


def replace(path: Path, text: str) -> None:
    """The file is a link to the good folder's, so it must not be written into."""
    path.unlink(missing_ok=True)
    path.write_text(text)
