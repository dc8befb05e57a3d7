"""`kitcall check` as its user runs it: a process that speaks into a sound card and hears a diver through it.

The card is virtual, everything else is real: PortAudio, synthesiser, recogniser, record. The diver waits until
kitcall has fallen silent, as a person does, and says it again when nothing follows.
"""

from __future__ import annotations

import queue
import subprocess
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assistant.language.replies import shipped_replies
from audio.voice import Voice

REPLIES = shipped_replies("en")
HOSES, INFLATOR = "Look at every hose where it meets the metal", "Press the inflator in short bursts."
ANSWERS = {  # what a line of kitcall's holds, and what is said to it, in turn
    REPLIES["ready"]: ("start the check", "begin the check"),
    HOSES: ("every hose and fitting okay", "hoses gone over and okay"),
    INFLATOR: ("inflator adds gas and shuts off", "inflator works and shuts off"),
    "Fins: buckles": ("fins okay and straps okay", "fins and straps okay"),
    ": all well? Say yes confirmed": ("yes confirmed", "yes certainly"),
    REPLIES["waiting"]: ("carry on", "please continue"),
}
GOOD = [(step, "passed", "", "voice") for step in ("fins", "hoses", "inflator")]
LOUD, QUIET_S, UNHEARD_S = 1000, 1.0, 20.0
PATIENCE_S, SHOULD_END_WITHIN_S = 8.0, 240.0
RAW = ["--channels=1", "--format=s16le"]


class Deck:
    """What the speaker gives out: when it was loud last."""

    def __init__(self) -> None:
        self.loud_s = 0.0

    def listen(self, recorder: subprocess.Popen[bytes]) -> None:
        assert recorder.stdout is not None
        while len(piece := recorder.stdout.read(640)) == 640:
            if np.abs(np.frombuffer(piece, np.int16).astype(np.int32)).max() > LOUD:
                self.loud_s = time.monotonic()

    def is_quiet_since(self, said_s: float) -> bool:
        """Whether what was said then has been heard, and ended; after a long time also when it was not heard."""
        now_s = time.monotonic()
        return (self.loud_s > said_s or now_s - said_s > UNHEARD_S) and now_s - self.loud_s > QUIET_S


@contextmanager
def listening_to(sink: str) -> Iterator[Deck]:
    command = ["parec", "-d", f"{sink}.monitor", "--rate=16000", "--latency-msec=20", *RAW]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as recorder:
        deck = Deck()
        ear = threading.Thread(target=deck.listen, args=(recorder,))
        ear.start()
        try:
            yield deck
        finally:
            recorder.kill()
            ear.join()


class Diver:
    """Answers what kitcall asks, in its own voice; `pull_at` is a question at which the microphone is pulled."""

    def __init__(self, voice: Voice, card: Callable[[str], str], pull_at: str = "") -> None:
        self._voice, self._card, self._pull_at = voice, card, pull_at
        self.lines: list[str] = []
        self._knows = {words: deque(ways) for words, ways in ANSWERS.items()}
        self._ways, self._asked_s, self._again_s = deque[str](), 0.0, float("inf")

    def talk(self, lines: queue.Queue[str | None], deck: Deck) -> None:
        """Until kitcall ends."""
        ends_s = time.monotonic() + SHOULD_END_WITHIN_S
        while time.monotonic() < ends_s:
            try:
                line = lines.get(timeout=0.1)
            except queue.Empty:
                self._take_turn(deck)
                continue
            if line is None:
                return
            self._listen(line)
        raise AssertionError("the check does not end:\n" + "\n".join(self.lines))

    def _listen(self, line: str) -> None:
        self.lines.append(line)
        if line.startswith("  "):
            self._again_s = float("inf")  # it heard something, and goes on by itself
        elif line.startswith("kitcall"):
            self._asked_s, self._again_s = time.monotonic(), float("inf")
            self._ways = next((ways for words, ways in self._knows.items() if words in line), self._ways)
            if REPLIES["microphone_lost"] in line:
                self._card("plug")
            if self._pull_at and self._pull_at in line:
                self._pull_at, self._ways = "", deque()
                self._card("pull")

    def _take_turn(self, deck: Deck) -> None:
        is_asked = self._asked_s and deck.is_quiet_since(self._asked_s)
        if self._ways and (is_asked or time.monotonic() > self._again_s):
            self._asked_s, self._again_s = 0.0, time.monotonic() + PATIENCE_S
            samples, rate_hz = self._voice.render(self._ways[0])
            self._ways.rotate(-1)
            player = ["pacat", "-d", "mouth", f"--rate={rate_hz}", "--latency-msec=100", *RAW]
            subprocess.run(player, input=samples.tobytes(), check=True, timeout=30)


def pump(kitcall: subprocess.Popen[str], lines: queue.Queue[str | None]) -> None:
    assert kitcall.stdout is not None
    for line in kitcall.stdout:
        lines.put(line.rstrip("\n"))
    lines.put(None)


@pytest.fixture
def hold(kitcall: Any, soundcard: Callable[[str], str], short: Path, tmp_path: Path) -> Callable[..., Any]:
    """hold(pull_at) holds the short check through the card; gives exit status and the lines on the screen."""

    def run(pull_at: str = "") -> tuple[int, list[str]]:
        words = ["check", "--microphone", "mic", "--speaker", "deck", "--sequence", short, "--store", kitcall.store]
        lines: queue.Queue[str | None] = queue.Queue()
        with (
            Voice("gmw/en-gb-x-rp", 150, tmp_path) as voice, listening_to("deck") as deck,
            subprocess.Popen(kitcall.command(words), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                             stderr=subprocess.STDOUT, text=True, env=kitcall.environment) as process,
        ):  # fmt: skip
            reader = threading.Thread(target=pump, args=(process, lines))
            reader.start()
            diver = Diver(voice, soundcard, pull_at)
            try:
                diver.talk(lines, deck)
            finally:
                process.kill()
                reader.join()
        print("\n".join(diver.lines))
        return process.wait(), diver.lines

    return run


def said(lines: list[str]) -> list[str]:
    return [line.removeprefix("kitcall").strip() for line in lines if line.startswith("kitcall")]


def test_short_check(hold: Callable[..., Any], kitcall: Any, answers: Callable[..., Any]) -> None:
    status, lines = hold()
    assert sorted(answers(kitcall.store)) == GOOD
    assert said(lines)[-2:] == [REPLIES.say("verdict_ready", count=3), "In the shallows, breathe from both second "
                                "stages with your buddy. On any doubt, call the dive."]  # fmt: skip
    assert (status, lines[-2].split()) == (0, ["verdict", "READY"])


def test_microphone_pulled_and_plugged_again(
    hold: Callable[..., Any], kitcall: Any, answers: Callable[..., Any]
) -> None:
    """It says so, waits, hears again what is plugged in, and goes on where it stood; nothing is lost or doubled."""
    status, lines = hold(pull_at=INFLATOR)
    assert sorted(answers(kitcall.store)) == GOOD
    words = said(lines)
    away = words.index(REPLIES["microphone_lost"])
    assert words[away + 1 : away + 3] == [REPLIES["microphone_back"], REPLIES["waiting"]]
    assert words[away + 3].startswith(REPLIES.say("carrying_on", prompt=INFLATOR))
    assert (status, lines[-2].split()) == (0, ["verdict", "READY"])
