"""Hours on deck, sped up: checks one after another, talk and engine noise between; memory, threads, files must stay.

    PYTHONPATH=. python tests/faults/soak_check.py --hours 8 --seed 1

Time is counted in frames of sound, as the ear counts it: each round is a whole check with a fault and a swap
(typed), answers spoken through the real recogniser, and minutes of engine with nobody speaking. Pass rule: every check
ends READY, every answer is recorded once, the chain verifies, and from the first quarter on memory grows by less than
8 MB, threads and open files not at all.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
import threading
import time
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from kill_check import CHECK, EXPECTED, JUDGES, WEARS, Diver, Watcher

from assistant.app import Conversation, Parts
from assistant.check.turns import Expects, Start
from assistant.commands.measure import memory_mb
from assistant.events import Heard
from assistant.fitness import padded
from assistant.language.replies import shipped_replies
from assistant.mouth import ShownMouth
from assistant.record import Log
from assistant.rehearsal.deck_noise import idle
from assistant.rehearsal.diver import frames
from audio import model
from audio.ear import Ear
from audio.frames import FRAME_S, RATE_HZ
from audio.recognise import Recogniser
from audio.voice import Voice

NOISE_S = 60
QUIET_S = 540.0  # of engine alone between two checks
SPOKEN = (("start", "", "start the check"), ("step", "inflator", "inflator sticks"), ("step", "fins", "repeat that"))
GROWTH_MB = 8


class Session(Diver):
    """The diver of the kill campaign, whose log holds many checks."""

    def __init__(self, log: Log, session: str) -> None:
        super().__init__(log, lambda point: None)
        self._session = session

    def hear(self, expects, expected):  # type: ignore[no-untyped-def]
        has_swapped = any(entry.kind == "replaced" for entry in self._log.entries(self._session))
        self._line = "" if expects.kind == "nothing" else self._answer(expects, has_swapped)
        return super(Diver, self).hear(expects, expected)


class Clock:
    """The wall clock of the boat: it goes on with the sound."""

    def __init__(self) -> None:
        self.sound_s = 0.0

    def __call__(self) -> datetime:
        self.sound_s += 0.5
        return datetime(2026, 5, 4, 8, tzinfo=UTC) + timedelta(seconds=self.sound_s)


def check_one(log: Log, number: int, clock: Clock, counts: Counter[str]) -> None:
    session = f"s{number}"
    parts = Parts(log, Session(log, session), ShownMouth(), Watcher(), EXPECTED, shipped_replies("en"),
                  wall_s=lambda: clock().timestamp(), judges=JUDGES)  # fmt: skip
    verdict = Conversation(CHECK, session, Start(WEARS, "4", "typed"), parts).run()
    answered = [entry for entry in log.entries(session) if entry.kind == "answered"]
    counts["checks"] += 1
    counts["not ready"] += not verdict.ready
    counts["answers"] += len(answered)
    counts["lost"] += len({step.id for step in CHECK.steps} - {entry.facts["step"] for entry in answered})


def listen(ear: Ear, voice: Voice, noise: np.ndarray, clock: Clock, counts: Counter[str]) -> None:
    """Spoken answers, then engine with nobody speaking."""
    for kind, step, words in SPOKEN:
        sound = list(padded(*voice.render(words)))
        heard = ear.listen(sound, EXPECTED.at(Expects(kind, step)))
        clock.sound_s += len(sound) * FRAME_S
        counts["understood" if isinstance(heard, Heard) else "asked again"] += 1
    for _ in range(round(QUIET_S / NOISE_S)):
        ear.listen(frames(noise), EXPECTED.at(Expects("start")), NOISE_S + 1)
        clock.sound_s += NOISE_S


def look() -> tuple[int, int, int]:
    """Memory in MB, threads, open files."""
    return memory_mb("VmRSS"), threading.active_count(), len(os.listdir("/proc/self/fd"))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--hours", type=float, default=8.0)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    counts, clock, looks = Counter[str](), Clock(), []
    ear = Ear(Recogniser(model.find()))
    noise = (idle(NOISE_S * RATE_HZ, np.random.default_rng(options.seed)) * 300).astype(np.int16)
    with (
        tempfile.TemporaryDirectory() as name,
        Voice(folder=Path(name) / "voice") as voice,
        Log(Path(name) / "record.db", device="soak", wall=clock, monotonic=time.monotonic) as log,
    ):
        while clock.sound_s < options.hours * 3600:
            check_one(log, counts["checks"], clock, counts)
            listen(ear, voice, noise, clock, counts)
            looks.append(look())
            print(f"{clock.sound_s / 3600:.2f} h {looks[-1]}", file=sys.stderr, flush=True)
        counts["unverified"] += not log.verify().ok
    first, last = looks[len(looks) // 4], looks[-1]
    for name, before, after in zip(("MB", "threads", "files"), first, last, strict=True):
        counts[f"growth {name}"] = after - before
    counts["minutes of sound"], counts["most MB"] = round(clock.sound_s / 60), max(each[0] for each in looks)
    print(json.dumps(counts))
    grown = counts["growth MB"] >= GROWTH_MB or counts["growth threads"] > 0 or counts["growth files"] > 0
    return int(grown or any(counts[each] for each in ("not ready", "lost", "unverified")))


if __name__ == "__main__":
    sys.exit(main())
