"""Where kitcall's words go: spoken through a speaker with the microphone hushed, or only shown."""

from __future__ import annotations

from audio.capture import FrameSource
from audio.play import Sounder
from audio.voice import Voice


class SpokenMouth:
    """Renders a line, hushes the microphone, plays it to its last frame, and listens again."""

    def __init__(self, voice: Voice, speaker: Sounder, microphone: FrameSource | None = None) -> None:
        self._voice, self._speaker, self._microphone = voice, speaker, microphone

    def say(self, text: str) -> None:
        """Speak one line; raises VoiceFailed or NoSpeaker."""
        samples, rate_hz = self._voice.render(text)
        if self._microphone is None:
            self._speaker.play(samples, rate_hz)
            return
        self._microphone.hush()
        try:
            self._speaker.play(samples, rate_hz)
        finally:
            self._microphone.listen()


class ShownMouth:
    """Says nothing aloud; the transcript shows the words."""

    def say(self, text: str) -> None:
        """Nothing to do."""
