"""The microphone's ears when the microphone goes away: it counts as back when sound has come, and not before."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import Any, cast

import numpy as np
import pytest

from assistant.check.turns import Expects
from assistant.ears import PROVEN_FRAMES, MicrophoneEars
from assistant.errors import AudioError, MicrophoneLost, NoMicrophone, NoSpeaker
from assistant.events import Doubted, Silent, Why
from assistant.language.expected import Expected
from audio.capture import Counts, Microphone
from audio.ear import Ear
from audio.frames import FRAME_SAMPLES, Frame
from audio.play import Speaker

EAR = cast(Ear, None)  # opening again asks nothing of it
FRAME = np.zeros(FRAME_SAMPLES, np.int16)
TONE = (9000 * np.sin(np.arange(22_050) / 8)).astype(np.int16)
CLOSED_THEN_OPENED = ["close speaker", "close microphone", "open speaker", "open microphone"]


class Part:
    """A device that writes down what is done to it, and fails on opening when it is to."""

    def __init__(self, name: str, done: list[str], refuses: AudioError | None = None, frames: int = 0) -> None:
        self._name, self._done, self._refuses, self._frames = name, done, refuses, frames

    def open(self) -> None:
        self._done.append(f"open {self._name}")
        if self._refuses:
            raise self._refuses

    def close(self) -> None:
        self._done.append(f"close {self._name}")

    def listen(self) -> None:
        self._done.append("listen")

    def __iter__(self) -> Iterator[Frame]:
        yield from [FRAME] * self._frames
        raise MicrophoneLost("gone")


@pytest.mark.parametrize(
    ("speaker", "microphone", "frames", "is_back", "done"),
    [
        (None, None, PROVEN_FRAMES, True, [*CLOSED_THEN_OPENED, "listen"]),
        (None, None, PROVEN_FRAMES - 1, False, [*CLOSED_THEN_OPENED, "listen"]),
        (None, NoMicrophone("none"), 0, False, CLOSED_THEN_OPENED),
        (NoSpeaker("none"), None, 0, False, CLOSED_THEN_OPENED[:3]),
    ],
    ids=["sound comes", "opened, and no sound", "not there", "speaker away too"],
)
def test_both_are_closed_before_one_is_opened(
    speaker: AudioError | None, microphone: AudioError | None, frames: int, is_back: bool, done: list[str]
) -> None:
    seen: list[str] = []
    parts: Any = Part("microphone", seen, microphone, frames), Part("speaker", seen, speaker)
    assert MicrophoneEars(EAR, parts[0], lambda: False, parts[1]).reopen() is is_back
    assert seen == done


@pytest.mark.parametrize("how", ["mute", "pull"], ids=["stream says active", "pulled"])
def test_microphone_comes_back_beside_an_open_speaker(soundcard: Callable[[str], str], how: str) -> None:
    """Real PortAudio: while the speaker's stream is open it never lists what was plugged in anew."""
    with Microphone("mic") as microphone, Speaker("deck") as speaker:
        ears = MicrophoneEars(EAR, microphone, lambda: False, speaker)
        next(iter(microphone))
        soundcard(how)
        with pytest.raises(MicrophoneLost):
            all(True for _ in microphone)
        assert [ears.reopen(), ears.reopen()] == [False, False]
        soundcard("plug")
        assert ears.reopen() is True
        assert speaker.play(TONE, 22_050) is True
        assert next(iter(microphone)).size == FRAME_SAMPLES
    assert threading.active_count() == 1


class Hearing:
    """An ear that only counts the frames it was given."""

    def listen(self, frames: Iterator[Frame], listening: object, window_s: float) -> Silent:
        return Silent(float(sum(1 for _ in frames)))


class Deck:
    """A microphone that gives a deck of one level, as often as it is asked."""

    counts = Counts()

    def __init__(self, rms: float) -> None:
        self._sound = np.random.default_rng(3).normal(0, rms, 50 * FRAME_SAMPLES).astype(np.int16)

    def __iter__(self) -> Iterator[Frame]:
        return iter(self._sound.reshape(50, FRAME_SAMPLES))


class Anything:
    """Listenings of a check that nobody asks for."""

    def at(self, expects: Expects) -> None:
        return None


@pytest.mark.parametrize(
    ("rms", "first"), [(30.0, Silent(50.0)), (9000.0, Why.TOO_LOUD)], ids=["a quiet deck", "an engine at the ear"]
)
def test_the_deck_is_measured_before_the_first_step_and_no_frame_is_lost(rms: float, first: object) -> None:
    ears = MicrophoneEars(cast(Ear, Hearing()), cast(Microphone, Deck(rms)), lambda: False)
    step, expected = Expects("step", "mask", window_s=8.0), cast(Expected, Anything())
    heard = ears.hear(step, expected)
    assert (heard.why if isinstance(heard, Doubted) else heard) == first
    assert ears.hear(step, expected) == Silent(50.0)
