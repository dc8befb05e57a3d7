"""Places the recogniser's model can be fetched from, each by its own ordinary client.

Used by set-up alone, never in the voice loop. A source gets an empty folder and gives a
folder or an archive inside it, or raises ModelError with its reason; model.py checks what came.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from assistant.errors import ModelError

ARTIFACT = "com.alphacephei:vosk-model-en:0.3.45:aar"
VOSK_NAME = "vosk-model-small-en-us-0.15"
DEADLINE_S = 900.0

Source = Callable[[Path, Callable[[str], None]], Path]


def fetch_by_vosk(scratch: Path, say: Callable[[str], None]) -> Path:
    """Let vosk's own downloader work in a home folder of its own, so that a half download leaves nothing behind."""
    # vosk 0.3.45: a Model that failed to load fails again in __del__, which would hide the reason.
    program = f"import vosk; vosk.Model.__del__ = lambda model: None; vosk.Model(model_name={VOSK_NAME!r})"
    home = {"HOME": str(scratch), "VOSK_MODEL_PATH": str(scratch)}
    lines = _run([sys.executable, "-c", program], scratch, home, _only_tenths(say))
    folder = scratch / ".cache/vosk" / VOSK_NAME
    if not folder.is_dir():
        reason = lines[-1][:200] if lines else "vosk's downloader gave nothing"
        raise ModelError(reason, "Is there a network?")
    return folder


def fetch_by_maven(scratch: Path, say: Callable[[str], None]) -> Path:
    """Let the Maven client copy the artefact."""
    if not shutil.which("mvn"):
        raise ModelError("the Maven client is not installed", "Install it: sudo apt-get install maven")
    goal = ["dependency:copy", f"-Dartifact={ARTIFACT}", f"-DoutputDirectory={scratch}"]
    lines = _run(["mvn", "--batch-mode", *goal], scratch, {}, _only_model_lines(say))
    archive = next(scratch.glob("*.aar"), None)
    if archive is None:
        errors = [line for line in lines if line.startswith("[ERROR]")]
        raise ModelError((errors or lines or ["Maven gave nothing"])[0][:300], "Is there a network?")
    return archive


ALL: tuple[tuple[str, Source], ...] = (("vosk's own download", fetch_by_vosk), ("the Maven client", fetch_by_maven))


def _only_model_lines(say: Callable[[str], None]) -> Callable[[str], None]:
    """Maven's own lines are many; those about the model are the progress, without their addresses."""

    def pass_on(line: str) -> None:
        if "vosk-model" in line and line.split()[0] in ("Downloading", "Downloaded"):
            say(f"  {line.split()[0].lower()} {line.split('/')[-1]}")

    return pass_on


def _only_tenths(say: Callable[[str], None]) -> Callable[[str], None]:
    """vosk's downloader redraws a bar; every tenth of the way is enough."""
    told = set()

    def pass_on(line: str) -> None:
        percent, sign, _ = line.partition("%")
        tenth = percent.split()[-1][:-1] if sign and percent.split() else ""
        if tenth and tenth not in told:
            told.add(tenth)
            say(f"  {tenth}0 %")

    return pass_on


def _run(command: list[str], folder: Path, extra: dict[str, str], on_line: Callable[[str], None]) -> list[str]:
    """Run a client to its end, or to the deadline; give its lines."""
    lines = []
    with subprocess.Popen(
        command, cwd=folder, env={**os.environ, **extra}, text=True, errors="replace",
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    ) as process, _deadline(process):
        assert process.stdout is not None
        for line in process.stdout:
            lines.append(line.strip())
            on_line(line.strip())
    return [line for line in lines if line]


@contextmanager
def _deadline(process: subprocess.Popen[str]) -> Iterator[None]:
    timer = threading.Timer(DEADLINE_S, process.kill)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
