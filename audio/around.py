"""Was more said than the phrase? How long a voice as loud as the answer was there before its first word or behind its
last.

A hedge or a denial that the recogniser swallows ("perhaps …", "… never") leaves its sound outside the words that
were read. Talk further away is softer than the answer and does not count.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assistant.events import Word
from audio.frames import FRAME_S

SOFTER_DB = 8.0  # below the answer's own level by so much: somebody else, further away; "… I think" trails off
EDGE_S = 0.06  # word times come in steps of 30 ms, and a voice fades


@dataclass(frozen=True, slots=True)
class Around:
    """Seconds of voice at the answer's level outside its words."""

    before_s: float
    after_s: float


def voice_around(words: Sequence[Word], is_voice: Sequence[bool], levels_db: Sequence[float]) -> Around:
    """Measure one utterance.

    words: those of the reading, times in seconds from the first frame of the utterance; is_voice, levels_db: one value
    for each frame of 20 ms. Without words all of the voice is before them. Checked in tests/audio/test_around.py.
    """
    at_s = (np.arange(len(is_voice)) + 0.5) * FRAME_S
    voice, levels = np.array(is_voice, bool), np.array(levels_db, float)
    start_s, end_s = (words[0].start_s, words[-1].end_s) if words else (float("inf"), float("inf"))
    inside = voice & (at_s >= start_s) & (at_s <= end_s)
    answer_db = float(np.median(levels[inside])) if inside.any() else -100.0
    loud = voice & (levels > answer_db - SOFTER_DB)
    before, after = loud & (at_s < start_s - EDGE_S), loud & (at_s > end_s + EDGE_S)
    return Around(float(before.sum()) * FRAME_S, float(after.sum()) * FRAME_S)
