"""kitcall speaks for no more than three minutes in a whole check of a good kit, in its own voice at its own pace.

Speech alone: the quarter of a second of quiet that goes before a line is not counted.
"""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from assistant.app import Conversation, Parts
from assistant.check.turns import Expects, Fact, Start
from assistant.ears import KeyboardEars
from assistant.judges import Judges
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.files import grammar_file
from assistant.language.replies import shipped_replies
from assistant.language.sequence import load
from assistant.record import Log
from audio.voice import Voice

CHECK = load(grammar_file("checks/rental.toml"), lambda word: True)
MOST_S = 180.0


class GoodDiver(KeyboardEars):
    """Types the first example of every step."""

    def __init__(self) -> None:
        super().__init__(lambda prompt: self._line)
        self._line = ""

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        usual = {"start": "start the check", "confirm": "yes confirmed", "nothing": ""}
        known = usual.get(expects.kind)
        self._line = CHECK.step(expects.step_id).examples[0] if known is None else known
        return super().hear(expects, expected)


class TimedMouth:
    """Renders every line with the real voice and adds up how long it is."""

    def __init__(self, voice: Voice) -> None:
        self._voice = voice
        self.lines: list[tuple[str, float]] = []

    def say(self, text: str) -> None:
        samples, rate_hz = self._voice.render(text)
        self.lines.append((text, samples.size / rate_hz))


@pytest.fixture
def mouth() -> Iterator[TimedMouth]:
    with Voice() as voice:
        yield TimedMouth(voice)


def test_a_good_check_speaks_for_three_minutes_at_most(
    mouth: TimedMouth, tmp_path: Path, watching: Any, hurried: Judges
) -> None:
    with Log(tmp_path / "record.db", device="deck", wall=lambda: datetime.now(UTC), monotonic=time.monotonic,
             random_bytes=random.Random(4).randbytes) as log:  # fmt: skip
        expected = Expected(CHECK, shipped_commands(), lambda word: True)
        parts = Parts(log, GoodDiver(), mouth, watching, expected, shipped_replies("en"), judges=hurried)
        verdict = Conversation(CHECK, "s1", Start({"cylinder": 31}, "4", "typed"), parts).run()
    assert (verdict.ready, verdict.reasons) == (True, ())
    assert {step.prompt for step in CHECK.steps} | {CHECK.caution, CHECK.closing} <= {text for text, _ in mouth.lines}
    spoken_s = sum(seconds for _, seconds in mouth.lines)
    print(f"{spoken_s:.0f} s in {len(mouth.lines)} lines; longest:", max(mouth.lines, key=lambda line: line[1]))
    assert spoken_s <= MOST_S
