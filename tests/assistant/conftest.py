"""Whole conversations without a room: the real model, session, record and synthesiser; sound passed as samples."""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest
import soxr

from assistant.app import Conversation, Parts
from assistant.check.turns import Expects, Fact, Record, Start
from assistant.check.verdict import Verdict
from assistant.commands.options import Loaded, load_check
from assistant.ears import KeyboardEars
from assistant.judges import Judges
from assistant.language.expected import Expected
from assistant.language.replies import shipped_replies
from assistant.mouth import ShownMouth
from assistant.record import Clip, Entry, Log
from assistant.rehearsal.diver import frames
from assistant.sums.settings import load as load_settings
from audio.ear import Ear
from audio.frames import RATE_HZ, Frame
from audio.voice import Voice

Answer = Callable[[Expects], str]
Save = Callable[[Callable[[str], None]], object]
BEFORE_S, AFTER_S = 0.6, 1.4
PEAK = 9000
PACES_WPM = (15, 0, -20)  # faster, as asked, slower; the first time as asked
HISS = 12  # a microphone's own noise, -69 dB of full scale
# dates are judged on this day
JUDGES = Judges(load_settings(Path(__file__).parents[1] / "hurried.toml"), lambda now_s: date(2026, 11, 25))
NUMBERS = {"cylinder": "31", "regulator": "12", "jacket": "7"}


@pytest.fixture(scope="session")
def loaded(model_folder: Path) -> Loaded:
    """The shipped sequence with the real recogniser."""
    return load_check(None, str(model_folder))


@pytest.fixture(scope="session")
def speak(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[str, str, int], Frame]]:
    """speak(text, voice, words a minute) gives 16 kHz samples as a microphone would, at -11 dB peak."""
    folder, voices = tmp_path_factory.mktemp("voices"), {}

    def render(text: str, name: str, rate_wpm: int) -> Frame:
        voice = voices.setdefault((name, rate_wpm), Voice(name, rate_wpm, folder))
        spoken, rate_hz = voice.render(text)
        sound = soxr.resample(spoken.astype(np.float64) / 32768, rate_hz, RATE_HZ)
        sound *= PEAK / max(float(np.abs(sound).max()), 1e-9)
        padded = np.pad(sound, (round(BEFORE_S * RATE_HZ), round(AFTER_S * RATE_HZ)))
        hiss = np.random.default_rng(len(text)).normal(0, HISS, padded.size)
        return np.asarray(padded + hiss, dtype=np.int16)

    yield render
    for voice in voices.values():
        voice.close()


class SpeakingDiver:
    """Answers by voice: `answer` gives the words for each question, the real ear hears them."""

    by = "voice"

    def __init__(self, answer: Answer, sound: Callable[[str], Frame], ear: Ear) -> None:
        self._answer, self._sound, self._ear = answer, sound, ear
        self.said: list[tuple[str, str]] = []

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        if expects.kind == "nothing":
            quiet = np.random.default_rng(1).normal(0, HISS, round(expects.window_s * RATE_HZ)).astype(np.int16)
            return self._ear.listen(frames(quiet), expected.at(expects), expects.window_s)
        words = self._answer(expects)
        self.said.append((expects.step_id or expects.kind, words))
        return self._ear.listen(frames(self._sound(words)), expected.at(expects), expects.window_s)

    def note(self, window_s: float) -> Clip | None:
        return None

    def reopen(self) -> bool:
        return True


class TypingThenSpeaking(SpeakingDiver):
    """Types what `typed` knows, so that a step is reached at once; from there on speaks."""

    def __init__(self, typed: Answer, answer: Answer, sound: Callable[[str], Frame], ear: Ear) -> None:
        super().__init__(answer, sound, ear)
        self._typed = typed

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        words = "" if expects.kind == "nothing" else self._typed(expects)
        if not words:
            self.by = "voice"
            return super().hear(expects, expected)
        self.by = "typed"
        return KeyboardEars(lambda prompt: words).hear(expects, expected)


@dataclass
class Watching:
    """A witness that keeps what it saw."""

    lines: list[str] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    records: list[Record] = field(default_factory=list)

    def said(self, text: str) -> None:
        self.lines.append(text)

    def heard(self, fact: Fact) -> None:
        self.facts.append(fact)

    def recorded(self, records: Sequence[Record]) -> None:
        self.records += records


@dataclass(frozen=True)
class Held:
    """A conversation that was held: its verdict, its record as read back, and what the witness saw."""

    verdict: Verdict
    entries: list[Entry]
    seen: Watching
    sound: bool

    def of(self, *kinds: str) -> list[Entry]:
        return [entry for entry in self.entries if entry.kind in kinds]


def now() -> datetime:
    return datetime.now(UTC)


def open_log(path: Path, wall: Callable[[], datetime] = now) -> Log:
    return Log(path, device="deck", wall=wall, monotonic=time.monotonic,
               random_bytes=random.Random(4).randbytes)  # fmt: skip


@pytest.fixture(scope="session")
def hurried() -> Judges:
    """Judges of a centre that takes the second pressure at once: no test waits eight minutes for a leak."""
    return JUDGES


@pytest.fixture
def watching() -> Watching:
    """A witness."""
    return Watching()


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    """A record."""
    with open_log(tmp_path / "record.db") as kept:
        yield kept


@pytest.fixture
def hold(loaded: Loaded, tmp_path: Path) -> Callable[..., Held]:
    """hold(ears) holds a whole conversation of the shipped sequence and reads its record."""

    def run(
        ears: SpeakingDiver | KeyboardEars, at_once: bool = False, save: Save = lambda say: None,
        judges: Judges = JUDGES, wall: Callable[[], datetime] = now,
    ) -> Held:  # fmt: skip
        seen = Watching()
        with open_log(tmp_path / "record.db", wall) as log:
            parts = Parts(log, ears, ShownMouth(), seen, loaded.expected, shipped_replies("en"), save_log=save,
                          judges=judges, wall_s=lambda: wall().timestamp())  # fmt: skip
            verdict = Conversation(loaded.check, "s1", Start(NUMBERS, "4", ears.by), parts).run(at_once)
            entries = list(log.entries("s1"))
            return Held(verdict, entries, seen, log.verify().ok)

    return run


@pytest.fixture(scope="session")
def good() -> dict[str, str]:
    """A good kit's answers, step by step, in words of the sequence's own phrases."""
    return {
        "test_stamp": "stamp reads march twenty twenty four",
        "contents_label": "label says breathing air",
        "valve_seal": "seal ring okay and in place",
        "band": "band and cylinder okay",
        "hoses": "hoses gone over and okay",
        "gauge_zero": "gauge reads zero",
        "valve_open": "fully open and everything quiet",
        "pressure": "two hundred bar",
        "inflator": "inflator works and shuts off",
        "deflate_hose": "empties and closes okay",
        "shoulder_dump": "shoulder dump working okay",
        "rear_dump": "rear dump working okay",
        "relief_valve": "relief valve working okay",
        "jacket_holds": "jacket stays full okay",
        "mouthpiece_main": "mouthpiece and tie okay",
        "mouthpiece_alternate": "octopus and tie okay",
        "breaths_main": "breathing dry and needle okay",
        "breaths_alternate": "octopus breathing dry and needle okay",
        "purge": "both purges work and shut off",
        "mask": "mask and strap okay",
        "fins": "fins and straps okay",
        "weights": "weights okay and release works",
        "computer": "computer and battery okay",
        "marker": "marker and line okay",
        "last_listen": "everything remains quiet",
        "pressure_again": "two hundred bar",
    }


@pytest.fixture
def spoken(loaded: Loaded, speak: Callable[[str, str, int], Frame], hold: Callable[..., Held]) -> Callable[..., Held]:
    """spoken(answer, voice, wpm, typed) holds a check by voice; what `typed` knows is typed instead."""

    def run(answer: Answer, voice: str, rate_wpm: int = 150, typed: Answer = lambda expects: "") -> Held:
        times: Counter[str] = Counter()

        def sound(text: str) -> Frame:
            times[text] += 1  # nobody says it twice alike
            return speak(text, voice, rate_wpm + PACES_WPM[times[text] % len(PACES_WPM)])

        return hold(TypingThenSpeaking(typed, answer, sound, Ear(loaded.recogniser)))

    return run
