"""kitcall's own voice: a line of text becomes samples, by pyttsx3 and nothing else.

Each line is rendered once and kept as a WAV file in a cache folder, so that a check speaks
without waiting. pyttsx3 works in a process of its own (synthesiser.py), one line at a time, with
a deadline: a hang ends that process, not the check. Silence is not speech.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.metadata
import json
import os
import select
import subprocess
import sys
import tempfile
import threading
import zlib
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np
import soundfile

from assistant.errors import VoiceFailed
from audio.frames import Frame

DEFAULT_NAME = "gmw/en-us"
DEFAULT_RATE_WPM = 165
SLOWEST_WPM, FASTEST_WPM = 80, 450  # the range espeak-ng documents
DEADLINE_S = 10.0
SILENT_PEAK = 328  # of 32768: -40 dB; a spoken line peaks above -10 dB
MEND = "Install the synthesiser: sudo apt-get install espeak-ng. Then try `kitcall device`."
WORKER = (sys.executable, "-m", "audio.synthesiser")


class Voice:
    """Renders lines; a context manager, since it keeps a process."""

    def __init__(
        self, name: str = DEFAULT_NAME, rate_wpm: int = DEFAULT_RATE_WPM, folder: Path | None = None,
        deadline_s: float = DEADLINE_S, worker: Sequence[str] = WORKER,
    ) -> None:
        """name: as voices() lists it, or its last part; rate_wpm: words a minute, 80 to 450;
        folder: the cache, None keeps nothing; deadline_s: for one line.
        """
        if not SLOWEST_WPM <= rate_wpm <= FASTEST_WPM:
            raise VoiceFailed(f"A voice cannot speak {rate_wpm} words a minute.", "Choose 80 to 450.")
        self._how = {"voice": name, "rate": rate_wpm, "pyttsx3": importlib.metadata.version("pyttsx3")}
        self._folder = folder
        self._deadline_s = deadline_s
        self._worker = tuple(worker)
        self._process: subprocess.Popen[str] | None = None
        self._lock = threading.Lock()

    def render(self, text: str) -> tuple[Frame, int]:
        """Give a line as sound.

        Returns mono int16 samples of shape (n,) and their rate in Hz (22050 with espeak-ng).
        Raises VoiceFailed: no such voice, nothing to speak in the text, or no sound within twice the
        deadline (one restart); the guide should read the line from the screen and mend the voice.
        Checked by tests/audio/test_voice.py.
        """
        line = " ".join(text.split())
        if not any(letter.isalnum() for letter in line):
            raise VoiceFailed(f"There is nothing to speak in {text!r}.")
        key = hashlib.sha256(json.dumps([line, self._how], sort_keys=True).encode()).hexdigest()[:32]
        with self._lock:
            kept = self._take_kept(key)
            if kept is not None:
                return kept
            samples, rate_hz, wave = self._render_anew(line)
            self._keep(key, wave)
        return samples, rate_hz

    def render_all(self, texts: Iterable[str], progress: Callable[[int, int], None] = lambda done, total: None) -> None:
        """Render every line once, so that none is waited for later; progress gets (done, of how many)."""
        lines = tuple(dict.fromkeys(texts))
        for done, line in enumerate(lines, 1):
            self.render(line)
            progress(done, len(lines))

    def voices(self) -> list[str]:
        """The names of the voices that the synthesiser has."""
        with self._lock:
            names: list[str] = self._ask({"voices": True})["voices"]
        return names

    def close(self) -> None:
        """End the synthesiser's process; the next line would start it again."""
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            with contextlib.suppress(OSError):
                pipe.close()  # type: ignore[union-attr]

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _render_anew(self, line: str) -> tuple[Frame, int, bytes]:
        # In memory where there is such a place, so that a full disk does not take the voice as well.
        place = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
        with tempfile.TemporaryDirectory(prefix="kitcall-", dir=place) as scratch:
            path = Path(scratch) / "line.wav"
            self._ask({"text": line, "path": str(path), **self._how})
            wave = path.read_bytes() if path.exists() else b""
            return (*_listen(path, line), wave)

    def _ask(self, request: dict[str, Any]) -> dict[str, Any]:
        """Ask the process; a process that hangs or died is started anew, once."""
        answer = self._ask_once(request) or self._ask_once(request)
        if answer is None:
            raise VoiceFailed(f"The synthesiser ended or gave no answer within {self._deadline_s:g} s, twice.", MEND)
        if "error" in answer:
            raise VoiceFailed(f"The synthesiser failed: {answer['error']}", answer.get("mend") or MEND)
        return answer

    def _ask_once(self, request: dict[str, Any]) -> dict[str, Any] | None:
        try:
            process = self._process = self._process or self._start()
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdin.write(json.dumps(request) + "\n")
            process.stdin.flush()
            ready = poll_one(process.stdout.fileno(), self._deadline_s)
            answer = process.stdout.readline() if ready else ""
        except OSError:
            answer = ""
        if answer.endswith("\n"):
            parsed: dict[str, Any] = json.loads(answer)
            return parsed
        self.close()
        return None

    def _start(self) -> subprocess.Popen[str]:
        """In a session of its own, so that Ctrl-C at the terminal is ours to answer."""
        return subprocess.Popen(
            self._worker, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
            start_new_session=True,
        )

    def _take_kept(self, key: str) -> tuple[Frame, int] | None:
        """A kept file has its checksum in its name; one that does not hold is rendered anew."""
        for path in sorted(self._folder.glob(f"{key}-*.wav")) if self._folder else ():
            try:
                if path.stem == f"{key}-{zlib.crc32(path.read_bytes()):08x}":
                    return _listen(path, key)
            except (OSError, VoiceFailed):
                continue
        return None

    def _keep(self, key: str, wave: bytes) -> None:
        """The cache is a convenience: a full disk does not take the voice away."""
        if self._folder is None:
            return
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(prefix="line-", dir=self._folder)
            try:
                with open(handle, "wb") as file:
                    file.write(wave)
                for old in self._folder.glob(f"{key}-*.wav"):
                    old.unlink()
                os.replace(name, self._folder / f"{key}-{zlib.crc32(wave):08x}.wav")
            except OSError:
                os.unlink(name)


def _listen(path: Path, line: str) -> tuple[Frame, int]:
    try:
        samples, rate_hz = soundfile.read(path, dtype="int16")
    except (soundfile.LibsndfileError, OSError) as error:
        raise VoiceFailed(f"The synthesiser gave no sound for {line!r}: {error}", MEND) from error
    if samples.ndim != 1 or samples.size == 0 or np.abs(samples.astype(np.int32)).max() < SILENT_PEAK:
        raise VoiceFailed(f"The synthesiser gave silence for {line!r}.", MEND)
    return samples, int(rate_hz)


def poll_one(descriptor: int, within_s: float) -> bool:
    """Whether there is something to read in time; select() ends at descriptor 1,023, and a long run may pass it."""
    waiting = select.poll()
    waiting.register(descriptor, select.POLLIN)
    return bool(waiting.poll(within_s * 1000))
