"""The synthetic diver: speaks an answer into deck noise, and the real ear hears it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import soxr

from assistant.check.turns import Expects, Fact
from assistant.events import Heard
from assistant.language.expected import Expected
from assistant.language.phrases import spoken_words
from assistant.record import Clip
from assistant.rehearsal.deck_noise import idle, mix
from assistant.rehearsal.scene import ReadBack, Scene
from audio.ear import Ear
from audio.frames import RATE_HZ, Frame, Framer
from audio.voice import Voice

BEFORE_S, AFTER_S = 0.6, 1.4
NOISE_S = 20  # seconds of engine, used round and round


class Diver:
    """Fulfils app.Ears. `told` is called with each answer before it is heard; `play` with its sound when aloud."""

    by = "voice"

    def __init__(
        self,
        scene: Scene,
        voice: Voice,
        ear: Ear,
        told: Callable[[str], None],
        play: Callable[[Frame], object] = lambda samples: None,
    ) -> None:
        self._scene, self._voice, self._ear, self._told, self._play = scene, voice, ear, told, play
        self._random = np.random.default_rng(scene.shape.seed)
        self._noise = idle(NOISE_S * RATE_HZ, self._random)
        self.heard_s = 0.0
        self._was_unclear, self._read_back = False, ReadBack()
        self._heard_at = ""  # the question whose answer was heard, until the next one shows that it stood

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        """Answer the question aloud, and listen to it; when nothing is asked, say nothing. What is read back and was
        not said is denied, and the turn of the file stands."""
        is_denied = expects.kind == "confirm" and not self._read_back.is_right
        if expects.kind != "confirm":
            self._scene.understood(self._heard_at)
        if is_denied or expects.kind != "confirm":
            self._heard_at = ""
        answer = "" if expects.kind == "nothing" else self._scene.answer(expects, self._was_unclear)
        if is_denied:
            answer = self._scene.shape.deny
        if answer:
            self._told(answer)
        samples = self.sound(answer, expects.window_s)
        self._play(samples)
        listening = expected.at(expects)
        heard = self._ear.listen(frames(samples), listening, expects.window_s)
        self._was_unclear = not isinstance(heard, Heard)
        self._read_back.take(expects, listening.match(spoken_words(answer)), heard)
        if isinstance(heard, Heard) and expects.kind != "confirm":
            self._heard_at = self._scene.at(expects)
        return heard

    def sound(self, answer: str, window_s: float) -> Frame:
        """The answer in deck noise, with a moment before and after it; noise alone for no answer."""
        if not answer:
            return self._engine(round(window_s * RATE_HZ), 0.01)
        spoken, rate_hz = self._voice.render(answer)
        speech = soxr.resample(spoken.astype(np.float64) / 32768, rate_hz, RATE_HZ)
        level = 8000 / max(float(np.abs(speech).max()), 1e-9)
        speech = np.pad(speech * level, (round(BEFORE_S * RATE_HZ), round(AFTER_S * RATE_HZ))).astype(np.int16)
        self.heard_s += speech.size / RATE_HZ
        return mix(speech, self._engine_sound(speech.size), self._scene.shape.snr_db)

    def _engine_sound(self, count: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        start = int(self._random.integers(0, self._noise.size))
        return np.take(self._noise, np.arange(start, start + count), mode="wrap")

    def _engine(self, count: int, level: float) -> Frame:
        return np.asarray(self._engine_sound(count) * level * 32767).clip(-32768, 32767).astype(np.int16)

    def note(self, window_s: float) -> Clip | None:
        """The rehearsal leaves no notes."""
        return None

    def reopen(self) -> bool:
        """A rehearsal's microphone does not go away."""
        return True


def frames(samples: Frame) -> Iterator[Frame]:
    """Samples cut into frames; a last, short one is filled with silence."""
    framer = Framer(RATE_HZ)
    yield from framer.push(samples.astype(np.float32) / np.float32(32768))
    yield from framer.finish()
