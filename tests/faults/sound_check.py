"""The microphone pulled, muted, clipping, at a wrong rate, plugged in again; the speaker gone: on a virtual card.

    PYTHONPATH=. python tests/faults/sound_check.py --places 2 --seed 1        (a look)
    PYTHONPATH=. python tests/faults/sound_check.py --places 20 --seed 1       (the whole; some 15 minutes)

A real check through PortAudio: kitcall speaks on the card's speaker, a diver speaks into its microphone. At seeded
moments something happens to the card. Pass rule: whatever was acknowledged is there once, the chain verifies, nothing
was passed that was not said, and the check goes on, waits, or ends with what to do.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from kill_check import CHECK, EXPECTED, JUDGES, WEARS

from assistant.app import Conversation, Parts
from assistant.box import TouchedMicrophone
from assistant.check.turns import Fact, Record, Start
from assistant.ears import MicrophoneEars
from assistant.errors import KitcallError
from assistant.language.replies import shipped_replies
from assistant.mouth import SpokenMouth
from assistant.record import Log, Reader
from audio import model
from audio.ear import Ear
from audio.play import Speaker
from audio.recognise import Recogniser
from audio.voice import Voice

CARD = Path(__file__).parents[2] / ".ci/soundcard"
ANSWERS = ("one moment", "carry on", "explain that", "one moment", "carry on", "repeat that", "where are we")
LONGEST_S = 60.0
WRONG = ("lost", "not said", "unverified", "broke", "no advice", "hung")


class Card:
    """The virtual card, and what can happen to it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def do(self, what: str) -> None:
        done = subprocess.run([CARD, what, self._folder], check=True, capture_output=True, text=True, timeout=60)
        os.environ.update(line.split("=", 1) for line in done.stdout.splitlines() if "=" in line)

    def control(self, *words: str) -> None:
        subprocess.run(["pactl", *words], check=False, capture_output=True, timeout=20)

    def happen(self, what: str) -> None:
        """One event of the campaign."""
        match what:
            case "pulled":
                self.do("pull")
            case "pulled and plugged":
                self.do("pull")
                time.sleep(3)
                self.do("plug")
            case "muted":
                self.control("set-source-mute", "mic", "1")
            case "clipping":
                self.control("set-source-volume", "mic", "1000%")
            case "wrong rate":
                self.control("load-module", "module-null-sink", "sink_name=other", "rate=8000", "channels=2")
                self.control("move-source-output", "0", "other.monitor")
            case "speaker gone":
                self.control("suspend-sink", "deck", "1")


EVENTS = ("pulled", "pulled and plugged", "muted", "clipping", "wrong rate", "speaker gone")


class Speaking:
    """The diver: says the next answer whenever kitcall has finished a line and listens."""

    def __init__(self) -> None:
        self.said: list[str] = []
        self._left = list(ANSWERS)
        self._timer: threading.Timer | None = None

    def lines_over(self) -> None:
        if self._timer:
            self._timer.cancel()
        self._timer = threading.Timer(0.8, self._speak)
        self._timer.daemon = True
        self._timer.start()

    def _speak(self) -> None:
        if not self._left:
            return
        words = self._left.pop(0)
        self.said.append(words)
        with Voice() as voice:
            samples, rate_hz = voice.render(words)
        loud = (samples.astype(np.float64) * 0.5).astype(np.int16)
        command = ["pacat", "-d", "mouth", f"--rate={rate_hz}", "--channels=1", "--format=s16le"]
        subprocess.run(command, input=loud.tobytes(), check=False, timeout=30)


class Watching:
    """Lets the diver speak after each line, and stops the check when it has gone on long enough."""

    def __init__(self, diver: Speaking, until_s: float) -> None:
        self._diver, self._until_s = diver, until_s

    def said(self, text: str) -> None:
        self.look()
        self._diver.lines_over()

    def look(self) -> None:
        """With every line and every frame: a waiting check would else go on for ten minutes."""
        if time.monotonic() > self._until_s:
            raise TimeoutError

    def heard(self, fact: Fact) -> None: ...
    def recorded(self, records: Sequence[Record]) -> None: ...


def run_one(folder: Path, event: str, after_s: float, recogniser: Recogniser, counts: Counter[str]) -> None:
    store, card, diver = folder / "record.db", Card(folder / "card"), Speaking()
    card.do("start")
    counts["places"] += 1
    threading.Timer(after_s, card.happen, [event]).start()
    begun_s = time.monotonic()
    try:
        hold(store, recogniser, Watching(diver, begun_s + LONGEST_S), counts)
    except TimeoutError:
        counts["went on"] += 1
    except KitcallError as problem:
        counts["ended with advice"] += bool(problem.mend)
        counts["no advice"] += not problem.mend
    except Exception as error:  # noqa: BLE001  whatever breaks is what is looked for
        print(f"{event} after {after_s:.1f} s broke: {error!r}", file=sys.stderr)
        counts["broke"] += 1
    counts["hung"] += time.monotonic() - begun_s > 3 * LONGEST_S
    card.do("stop")
    judge(store, diver.said, counts)


def hold(store: Path, recogniser: Recogniser, watching: Watching, counts: Counter[str]) -> None:
    log = Log(store, device="victim", wall=lambda: datetime.now(UTC), monotonic=time.monotonic)
    with log, Voice(folder=store.parent / "voice") as voice, TouchedMicrophone("mic") as source, Speaker("deck") as out:
        source.each_frame = watching.look
        ears = MicrophoneEars(Ear(recogniser), source, lambda: False, out)
        parts = Parts(log, ears, SpokenMouth(voice, out, source), watching, EXPECTED, shipped_replies("en"),
                      judges=JUDGES)  # fmt: skip
        Conversation(CHECK, "s", Start(WEARS, "4", "voice"), parts).run(at_once=True)


def judge(store: Path, said: list[str], counts: Counter[str]) -> None:
    """Every pass in the record is one that the diver said."""
    if not store.exists():
        return
    with Reader(store) as reader:
        entries = list(reader.entries())
        counts["unverified"] += not reader.verify().ok
    counts["understood"] += sum(entry.kind in ("paused", "resumed") for entry in entries)
    passes = [entry for entry in entries if entry.kind == "answered" and entry.facts["outcome"] == "passed"]
    counts["passes"] += len(passes)
    counts["lost microphone recorded"] += any(entry.facts.get("part") == "microphone" for entry in entries)
    counts["not said"] += sum(str(entry.facts.get("heard", "")) not in said for entry in passes)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--places", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    dice, counts = random.Random(options.seed), Counter[str]()
    recogniser = Recogniser(model.find())
    for step in CHECK.steps[:4]:
        EXPECTED.for_step(step.id)
    for place in range(options.places):
        with tempfile.TemporaryDirectory() as name:
            event = EVENTS[place % len(EVENTS)]
            run_one(Path(name), event, dice.uniform(2, LONGEST_S / 3), recogniser, counts)
            counts[event] += 1
            print(f"{place + 1} {event}", file=sys.stderr, flush=True)
    print(json.dumps({**counts, **{each: counts[each] for each in WRONG}}))
    sys.stdout.flush()
    os._exit(int(any(counts[each] for each in WRONG)))  # timers of a diver who never got to speak may still wait


if __name__ == "__main__":
    main()
