"""A microphone that goes away in the middle: kept, said, waited for, gone on with. The clock is the test's."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

import pytest

from assistant.app import LOST_FOR_S, Conversation, Parts
from assistant.check.turns import Expects, Fact, Record, Start
from assistant.ears import KeyboardEars
from assistant.errors import AudioError, MicrophoneLost, NoSpeaker
from assistant.judges import Judges
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected
from assistant.language.files import grammar_file
from assistant.language.replies import shipped_replies
from assistant.language.sequence import load
from assistant.record import Log

CHECK = load(grammar_file("checks/rental.toml"), lambda word: True)
REPLIES = shipped_replies("en")
LOST, BACK, WAITING, READY = (REPLIES[key] for key in ("microphone_lost", "microphone_back", "waiting", "ready"))
FIRST = (CHECK.caution, CHECK.steps[0].prompt)
PULL = "PULL"  # as a line: the microphone goes away instead


def pulled(line: str) -> str:
    if line == PULL:
        raise MicrophoneLost("The microphone is gone.", "Check its plug.")
    return line


class PulledEars(KeyboardEars):
    """Lines as answers by voice; at PULL the microphone goes away, and comes back at the `back`th try."""

    by = "voice"

    def __init__(self, *lines: str, back: int = 3) -> None:
        left = iter(lines)
        super().__init__(lambda prompt: pulled(next(left)))
        self._back, self.tries = back, 0

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        if expects.kind == "nothing":
            raise MicrophoneLost("The microphone is gone.", "Check its plug.")
        return super().hear(expects, expected)

    def reopen(self) -> bool:
        self.tries += 1
        return self.tries == self._back


class Room:
    """Mouth, witness and clock of one conversation; afterwards, the kinds of its record."""

    def __init__(self, mute_when: str = "") -> None:
        self.spoken: list[str] = []
        self.kinds: list[str] = []
        self.now_s, self._mute_when = 0.0, mute_when

    def say(self, text: str) -> None:
        if text == self._mute_when:
            raise NoSpeaker("The speaker is gone.", "Check its plug.")
        self.spoken.append(text)

    def said(self, text: str) -> None: ...
    def heard(self, fact: Fact) -> None: ...
    def recorded(self, records: Sequence[Record]) -> None: ...

    def pause(self, seconds: float) -> None:
        self.now_s += seconds


@pytest.fixture
def hold(tmp_path: Path, hurried: Judges) -> Callable[[PulledEars, Room], list[str]]:
    """hold(ears, room) holds a check to its end and gives what the record then has, kind by kind."""

    def run(ears: PulledEars, room: Room) -> list[str]:
        with Log(tmp_path / "record.db", device="deck", wall=lambda: datetime.now(UTC), monotonic=lambda: room.now_s,
                 random_bytes=random.Random(4).randbytes) as log:  # fmt: skip
            expected = Expected(CHECK, shipped_commands(), lambda word: True)
            parts = Parts(log, ears, room, room, expected, REPLIES, wall_s=lambda: 1e9 + room.now_s,
                          monotonic_s=lambda: room.now_s, pause=room.pause, judges=hurried)  # fmt: skip
            try:
                Conversation(CHECK, "s1", Start(), parts).run()
            finally:
                room.kinds = [entry.kind for entry in log.entries("s1")]
        return room.kinds

    return run


START, STOP, GOOD = "start the check", "stop the check", "stamp reads march twenty twenty four"


def test_pulled_in_the_middle(hold: Callable[..., list[str]]) -> None:
    room, ears = Room(), PulledEars(START, GOOD, PULL, "carry on", STOP)
    kinds = hold(ears, room)
    assert kinds == ["check_started", "asked", "answered", "asked", "paused", "resumed", "asked", "stopped",
                     "verdict_given"]  # fmt: skip
    again = REPLIES.say("carrying_on", prompt=CHECK.steps[1].prompt)
    assert room.spoken[4:9] == ["Test stamp passed.", CHECK.steps[1].prompt, LOST, BACK,
                              WAITING]  # fmt: skip
    assert room.spoken[9] == again
    assert (ears.tries, room.now_s) == (3, 2.0)


def test_pulled_before_the_check(hold: Callable[..., list[str]]) -> None:
    room = Room()
    assert hold(PulledEars(PULL, START, STOP), room)[0] == "check_started"
    assert room.spoken[:4] == [READY, LOST, BACK, READY]


def test_pulled_after_the_verdict_changes_nothing(hold: Callable[..., list[str]]) -> None:
    room, ears = Room(), PulledEars(START, STOP)
    assert hold(ears, room)[-1] == "verdict_given"
    assert (LOST in room.spoken, ears.tries) == (False, 0)


def test_speaker_on_the_same_plug(hold: Callable[..., list[str]]) -> None:
    """The line that says so cannot be spoken; both come back together."""
    room = Room(mute_when=LOST)
    assert "resumed" in hold(PulledEars(START, PULL, "carry on", STOP), room)
    assert room.spoken[3:5] == [BACK, WAITING]


def test_away_for_too_long_ends_the_program_and_keeps_the_check(hold: Callable[..., list[str]]) -> None:
    room, ears = Room(), PulledEars(START, GOOD, PULL, back=10_000)
    with pytest.raises(AudioError, match="The microphone is gone"):
        hold(ears, room)
    assert room.now_s == pytest.approx(LOST_FOR_S, abs=1.0)
    assert room.kinds == ["check_started", "asked", "answered", "asked", "paused"]
