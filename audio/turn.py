"""What the ear goes by, and what it has gathered in one turn."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from assistant.events import Evidence, Listening
from audio.frames import FRAME_S, Frame
from audio.gate import FINAL, FIRM, SURE, Margins, Ruling
from audio.recognise import UNKNOWN, Decoding, Reading

FULL_SCALE = 32700  # of 16 bits; a microphone or its driver clips a little below the last step


@dataclass(frozen=True, slots=True)
class Pauses:
    """Seconds of quiet that end a turn, counted from the last frame that sounded like a voice."""

    plain_s: float = 0.10
    firm_s: float = 0.30
    number_s: float = 0.30
    goes_on_s: float = 0.50
    unclear_s: float = 0.60


@dataclass(frozen=True, slots=True)
class Settings:
    """How the ear listens. Times in seconds, levels in dB of full scale."""

    pauses: Pauses = field(default_factory=Pauses)
    final: Margins = FINAL  # for the answer to what was read back
    firm: Margins = FIRM  # for everything else: what does not keep to these is no answer
    sure: Margins = SURE  # a firm phrase that does not keep to these is read back
    voice_from: float = 0.5  # the detector's probability that counts as a voice
    pre_roll_s: float = 0.50
    longest_s: float = 7.0
    more_s: float = 0.14  # so much voice outside a pass's words: more was said than the pass
    clipped: float = 0.01  # share of samples at full scale from which a pass is not believed
    lone_s: float = 0.8  # so much voice at most in a lone word; a figure has 0.2 to 0.6
    above_noise_db: float = 10.0  # of a pass's loudest frame above the deck's quietest; speech at 6 dB has 13 and more
    clear_db: float = 22.0  # the same, below which a pass or a number is read back: a soft word may be drowned
    weighty_clear_db: float = 18.0  # the same for a fault, which may be the shred of talk that rises above the noise
    alternatives: int = 10
    peek_frames: int = 5  # so often is it asked whether a pass is nearly said


@dataclass(slots=True)
class Turn:
    """What one call of listen has gathered so far."""

    listening: Listening
    early: bool = False
    now_s: float = 0.0
    segment: list[Frame] = field(default_factory=list)
    is_voice: list[bool] = field(default_factory=list)  # of each frame of the segment
    levels_db: list[float] = field(default_factory=list)
    begun_s: float | None = None
    voice_s: float = 0.0
    speech_db: float = -100.0
    noise_db: float = -100.0
    decoding: Decoding | None = None
    rivals: Decoding | None = None  # the second decoding, begun once the first nears a firm phrase
    ruling: Ruling | None = None
    readings: tuple[Reading, ...] = ()
    ruled_at_s: float = 0.0

    @property
    def samples(self) -> Frame:
        """All of the segment so far."""
        return np.concatenate(self.segment)

    @property
    def above_noise_db(self) -> float:
        """How far its loudest frame stands above the deck's quietest."""
        return self.speech_db - self.noise_db

    @property
    def is_mostly_talk(self) -> bool:
        """Sound without a listed word, or half of its words in no phrase."""
        tokens = self.readings[0].tokens
        foreign = sum(token == UNKNOWN or self.listening.is_talk((token,)) for token in tokens)
        return 2 * foreign >= len(tokens)

    @property
    def clipped(self) -> float:
        """The share of its samples at full scale."""
        return float(np.mean(np.abs(self.samples.astype(np.int32)) >= FULL_SCALE))

    def evidence(self) -> Evidence:
        """What was heard and measured, times in seconds from the first frame of the turn."""
        offset_s = self.now_s - len(self.segment) * FRAME_S
        words = tuple(
            replace(word, start_s=word.start_s + offset_s, end_s=word.end_s + offset_s)
            for word in (self.readings[0].words if self.readings else ())
        )
        return Evidence(
            words=words,
            speech_start_s=self.begun_s,
            speech_end_s=self.voice_s,
            decided_s=self.now_s,
            level_db=self.speech_db,
            noise_db=self.noise_db,
            numbers=dict(self.ruling.numbers) if self.ruling else {},
            notes=tuple(reading.text for reading in self.readings[:4]),
            written=self.ruling.written if self.ruling else "",
        )
