"""The synthesiser's own process: one JSON request a line, one JSON answer a line, all by pyttsx3.

pyttsx3 2.99 on Linux reports none of this: of several lines before one runAndWait() only the last
is kept; the first runAndWait() returns before the file is there; whatever espeak still has in hand
(a rate just set, the line's own end) makes the next runAndWait() cancel it, and with it the next line:
an empty file, or a lost rate; an unknown voice becomes the default one. So espeak is let come to
rest before each step, "finished-utterance" is waited for, and what came out is looked at.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from typing import Any, TextIO

ATTEMPTS = 3
HEADER_BYTES = 44  # a WAV file without a sample


def work(requests: TextIO, answers: TextIO) -> None:
    """Answer requests until there are no more: {"voices"} or {"text", "path", "voice", "rate"}."""
    import pyttsx3  # inside, so that reading this file needs no synthesiser

    engine: Any = None
    finished = threading.Event()

    def note_end(completed: bool) -> None:
        if completed:  # else it was cancelled, which is no end of ours
            finished.set()

    for line in requests:
        request = json.loads(line)
        try:
            if engine is None:
                engine = pyttsx3.init()
                engine.connect("finished-utterance", lambda name, completed: note_end(completed))
            answer = _speak(engine, request, finished)
        except Exception as error:  # noqa: BLE001  whatever the driver raises, the other side must be told
            answer = {"error": f"{type(error).__name__}: {error}"}
        answers.write(json.dumps(answer) + "\n")
        answers.flush()


def _speak(engine: Any, request: dict[str, Any], finished: threading.Event) -> dict[str, Any]:
    names = [voice.id for voice in engine.getProperty("voices")]
    if "voices" in request:
        return {"voices": names}
    voice = next((name for name in names if request["voice"] in (name, name.rpartition("/")[2])), None)
    if voice is None:
        near = ", ".join(name for name in names if "/en" in name)
        return {"error": f"there is no voice {request['voice']!r}", "mend": f"Choose one of: {near}."}
    for _ in range(ATTEMPTS):
        _set(engine, "voice", voice)
        _set(engine, "rate", request["rate"])
        finished.clear()
        engine.save_to_file(request["text"], request["path"])
        engine.runAndWait()
        finished.wait()  # for ever: the other side has the deadline, and ends this process
        as_asked = engine.getProperty("voice") == voice and engine.getProperty("rate") == request["rate"]
        if as_asked and os.path.getsize(request["path"]) > HEADER_BYTES:
            return {"done": True}
    return {"error": "it gave silence, or did not keep to the voice and rate that were asked for"}


def _set(engine: Any, name: str, value: Any) -> None:
    if engine.getProperty(name) != value:
        engine.setProperty(name, value)
    _rest()


def _rest() -> None:
    """Wait till espeak has nothing in hand; pyttsx3 offers no public way to ask."""
    from pyttsx3.drivers import _espeak

    while _espeak.IsPlaying():
        time.sleep(0.002)


if __name__ == "__main__":
    # pyttsx3 prints to standard output, which is where the answers go: move the answers aside.
    with open(os.dup(1), "w", encoding="utf-8") as aside:
        os.dup2(2, 1)
        work(sys.stdin, aside)
