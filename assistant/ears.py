"""Where answers come from: the microphone or the keyboard. Each gives the same facts, marked with how they came."""

from __future__ import annotations

import io
import itertools
import wave
from collections.abc import Callable, Iterable, Iterator

import numpy as np

from assistant.check.turns import Expects, Fact, Start, Stop
from assistant.errors import AudioError
from assistant.events import Doubted, Heard, Silent, Why
from assistant.language.expected import Expected
from assistant.language.phrases import spoken_words
from assistant.record import Clip
from audio.activity import Activity, Level
from audio.capture import Microphone
from audio.ear import Ear
from audio.frames import FRAME_S, RATE_HZ, Frame
from audio.play import Speaker

MEASURED_FRAMES = 30  # 0.6 s
LOUD_DB = -18.0  # a voice 6 dB above it would clip
NOTE_PAUSE_S = 1.5  # a note ends after this much quiet
PROVEN_FRAMES = 10  # 0.2 s; a microphone counts as back when so much has come


class MicrophoneEars:
    """Answers by voice. `key_pressed` is asked with every frame while the check has not begun.

    `speaker` is the one that speaks beside the microphone: to open the microphone again, both must be closed.
    """

    by = "voice"

    def __init__(
        self, ear: Ear, microphone: Microphone, key_pressed: Callable[[], bool], speaker: Speaker | None = None
    ) -> None:
        self._ear, self._microphone, self._key_pressed, self._speaker = ear, microphone, key_pressed, speaker
        self._was_pressed = self._has_measured = False

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        """Listen for one answer; a key pressed before the start begins the check. Before the first step's answer the
        deck is measured: where it leaves no room for a voice, that is said instead of guessing."""
        self._was_pressed = False
        frames = self._until_key() if expects.kind == "start" else iter(self._microphone)
        if expects.kind == "step" and not self._has_measured:
            self._has_measured = True
            first = list(itertools.islice(frames, MEASURED_FRAMES))
            if noise_db(first) > LOUD_DB:
                return Doubted(Why.TOO_LOUD, detail=f"the deck alone is at {noise_db(first):.0f} dB of full scale")
            frames = itertools.chain(first, frames)
        lost_before = self._microphone.counts.losses
        fact = self._ear.listen(frames, expected.at(expects), expects.window_s)
        if isinstance(fact, Heard) and self._microphone.counts.losses > lost_before:
            return Doubted(Why.UNSTEADY, fact.match.text, "sound was lost on the way", fact.evidence)
        return Start(by="key") if self._was_pressed else fact

    def note(self, window_s: float) -> Clip | None:
        """Record what is said now, until it has been quiet; None when nobody spoke."""
        return record_note(iter(self._microphone), window_s)

    def reopen(self) -> bool:
        """Try to open microphone and speaker again; True when frames have come.

        PortAudio looks for a device plugged in anew only while no stream is open.
        """
        parts = [part for part in (self._speaker, self._microphone) if part is not None]
        for part in parts:
            part.close()
        try:
            for part in parts:
                part.open()
            self._microphone.listen()
            return len(list(itertools.islice(self._microphone, PROVEN_FRAMES))) == PROVEN_FRAMES
        except AudioError:
            return False

    def _until_key(self) -> Iterator[Frame]:
        for frame in self._microphone:
            if self._key_pressed():
                self._was_pressed = True
                return
            yield frame


class KeyboardEars:
    """Answers typed at a terminal, one a line; the record marks them as typed."""

    by = "typed"

    def __init__(self, read_line: Callable[[str], str] = input) -> None:
        self._read_line = read_line

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        """Read one line. An empty line begins the check, and later counts as silence; the end of input stops it."""
        if expects.kind == "nothing":
            return Silent(0.0)
        try:
            words = spoken_words(self._read_line("> "))
        except EOFError:
            return Stop("typed")
        if not words:
            return Start(by="typed") if expects.kind == "start" else Silent(0.0)
        match = expected.at(expects).match(words)
        return Heard(match) if match else Doubted(Why.NO_PHRASE, " ".join(words))

    def note(self, window_s: float) -> Clip | None:
        """There is no sound to keep."""
        return None

    def reopen(self) -> bool:
        """A keyboard does not go away."""
        return True


def noise_db(frames: Iterable[Frame]) -> float:
    """The quietest level of these frames in the speech band, dB of full scale: the deck without a voice."""
    level = Level()
    for frame in frames:
        level.take(frame)
    return level.floor_db


def record_note(frames: Iterator[Frame], window_s: float) -> Clip | None:
    """Frames of a spoken note as a WAV clip, trimmed at its end; None when nobody spoke within window_s."""
    activity, kept, last_voice_s, now_s = Activity(), [], 0.0, 0.0
    for frame in itertools.islice(frames, round(window_s / FRAME_S)):
        kept.append(frame)
        now_s += FRAME_S
        if activity.take(frame) >= 0.5:
            last_voice_s = now_s
        if last_voice_s and now_s - last_voice_s > NOTE_PAUSE_S:
            break
    if not last_voice_s:
        return None
    samples = np.concatenate(kept)[: round((last_voice_s + 0.3) * RATE_HZ)]
    return Clip(wav_bytes(samples), RATE_HZ, samples.size / RATE_HZ)


def wav_bytes(samples: Frame) -> bytes:
    """Mono int16 samples at 16 kHz as the bytes of a WAV file."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(samples.astype("<i2").tobytes())
    return out.getvalue()
