"""The baseline that every figure stands beside: vosk as a first program would use it.

The same model, one flat list of all phrases of the step with "[unk]", vosk's own endpoint; a result is
taken when its text equals a phrase and every word has a confidence of at least 0.7. Phrases that hold a
number would be thousands: those go in as the listening's covering list, and the text must be a phrase of it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import vosk

from assistant.errors import PhraseError
from assistant.events import Doubted, Evidence, Heard, Hearing, Listening, Silent, Why
from assistant.language.listening import Listed
from assistant.language.phrases import Rules, expand, rule_names
from assistant.language.rules import parse_once
from audio.frames import FRAME_S, RATE_HZ, Frame

SURE = 0.7
CHUNK_FRAMES = 5  # 100 ms, as its examples feed it


def flat_phrases(listening: Listed, rules: Rules, number_rules: frozenset[str]) -> list[str]:
    """Every word string of the listening, written out; its covering list where numbers make that endless."""
    nodes = [parse_once(line.phrase) for line in listening.lines]
    if any(set(rule_names(node)) & number_rules for node in nodes):
        return list(listening.phrases)
    try:
        return list(dict.fromkeys(" ".join(words) for node in nodes for words in expand(node, rules)))
    except PhraseError:  # a number by way of another rule
        return list(listening.phrases)


class PlainVosk:
    """Vosk with a list, one recogniser kept for each step."""

    def __init__(self, folder: Path) -> None:
        vosk.SetLogLevel(-1)
        self._model = vosk.Model(str(folder))
        self._kept: dict[str, Any] = {}

    def hear(self, frames: Iterable[Frame], listening: Listening, name: str, phrases: list[str]) -> Hearing:
        """The first utterance vosk ends, or what it has when the frames end."""
        decoder = self._decoder(name, phrases)
        pending, count = b"", 0
        for count, frame in enumerate(frames, 1):
            pending += frame.tobytes()
            if count % CHUNK_FRAMES:
                continue
            ended, pending = decoder.AcceptWaveform(pending), b""
            if ended and (result := json.loads(decoder.Result()))["text"]:
                return _judge(result, listening, count * FRAME_S)
        if pending:
            decoder.AcceptWaveform(pending)
        return _judge(json.loads(decoder.FinalResult()), listening, count * FRAME_S)

    def _decoder(self, name: str, phrases: list[str]) -> Any:
        if name not in self._kept:
            self._kept[name] = vosk.KaldiRecognizer(self._model, RATE_HZ, json.dumps([*phrases, "[unk]"]))
            self._kept[name].SetWords(True)
        self._kept[name].Reset()
        return self._kept[name]


def _judge(result: dict[str, Any], listening: Listening, now_s: float) -> Hearing:
    text = result["text"]
    if not text:
        return Silent(now_s)
    sure = all(word["conf"] >= SURE for word in result.get("result", []))
    match = listening.match(tuple(text.split()))
    evidence = Evidence(decided_s=now_s)
    if match is None or not sure:
        return Doubted(Why.NO_PHRASE, text, evidence=evidence)
    return Heard(match, evidence)
