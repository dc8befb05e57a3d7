"""Words from frames, by vosk. The only file that imports vosk.

A `Recogniser` holds the model (loaded once, 78 MB); a `Decoding` is one turn's ear on
one phrase list. vosk's "grammar" is a word bigram built from the list, not the list
itself, so what comes out here are readings, never answers: the gate decides.
vosk's own endpoint may fire inside a turn; its pieces are joined here and its timing is
not used.
"""

from __future__ import annotations

import json
import mmap
import struct
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.errors import ModelError
from assistant.events import Word
from audio import heap
from audio.frames import RATE_HZ

MEND = "Run: python -m audio.model. It also needs 6 MB in the folder for temporary files (TMPDIR) while it starts."
UNKNOWN = "[unk]"  # vosk's word for sound that fits no listed word
WEB = "requests"  # vosk can fetch models with it, which this program never asks of it


def _import_vosk() -> Any:
    """vosk without its web client, which would hold 5 MB more: it cannot fetch a model in this process. Whoever else
    imports that client gets it whole."""
    stand_in = ModuleType(WEB)
    sys.modules.setdefault(WEB, stand_in)
    try:
        import vosk
    finally:
        if sys.modules.get(WEB) is stand_in:
            del sys.modules[WEB]
    return vosk


vosk = _import_vosk()

# The model was trained with a little noise under every sound (Kaldi's dither, one step of 16 bits), which Kaldi draws
# anew each time: the same samples then give another score at every decode, and a faint answer another decision. So
# Kaldi's is off, and the same noise, drawn once, is put under every utterance.
DITHER = np.rint(np.random.default_rng(0).standard_normal(1 << 17)).astype(np.int8)

# The model's own conf/model.conf searches narrowly, for free dictation. Here the list is short and the
# second-best readings decide, so the search is wide; and vosk's own endpoint is put out of the way.
SEARCH = """\
--min-active=200
--max-active=7000
--beam=13.0
--lattice-beam=6.0
--acoustic-scale=1.0
--frame-subsampling-factor=3
--endpoint.silence-phones=1:2:3:4:5:6:7:8:9:10
--endpoint.rule2.min-trailing-silence=60
--endpoint.rule3.min-trailing-silence=60
--endpoint.rule4.min-trailing-silence=60
"""

# OpenFst's file format, as in its sources (fst.h, symbol-table.cc; Apache 2.0). Every table of symbols begins with this
# number; and this is the head of a graph without states that holds one, of output symbols: number, kind, arcs, version,
# flags, properties, start, states, arcs.
SYMBOLS = struct.pack("<i", 2125658996)
NO_STATES = struct.pack("<ii6si8siiQqqq", 2125659606, 6, b"vector", 8, b"standard", 2, 2, 0, -1, 0, 0)


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read the sound. `score` is the decoder's log likelihood (higher is better),
    comparable only among the readings of one decoding."""

    words: tuple[Word, ...]
    score: float

    @property
    def tokens(self) -> tuple[str, ...]:
        return tuple(word.text for word in self.words)

    @property
    def text(self) -> str:
        return " ".join(self.tokens)


class Recogniser:
    """The loaded model.

    `folder` is an unpacked model (audio.model.find). Raises ModelError when vosk cannot load it.
    """

    def __init__(self, folder: Path) -> None:
        heap.keep_little()
        vosk.SetLogLevel(-1)
        try:
            with tempfile.TemporaryDirectory(prefix="kitcall-model-") as place:
                self._model = vosk.Model(str(arrange(folder.resolve(), Path(place))))
        except Exception as problem:  # vosk raises plain Exception
            raise ModelError(f"the model in {folder} does not load: {problem}", MEND) from problem

    def knows(self, word: str) -> bool:
        """True when the model can hear this word at all. Words it lacks vanish from a phrase list silently."""
        return bool(self._model.vosk_model_find_word(word) >= 0)

    def begin(self, phrases: Sequence[str], alternatives: int = 1) -> Decoding:
        """A fresh decoding on a phrase list."""
        return Decoding(self._model, phrases, alternatives)


class Decoding:
    """One utterance. Feed int16 mono 16 kHz samples, then `finish` once."""

    def __init__(self, model: Any, phrases: Sequence[str], alternatives: int) -> None:
        self._decoder = vosk.KaldiRecognizer(model, RATE_HZ, json.dumps([*phrases, UNKNOWN]))
        self._decoder.SetMaxAlternatives(alternatives)
        self._decoder.SetWords(True)
        self._pieces: list[list[Reading]] = []
        self._fed = 0

    def feed(self, samples: NDArray[np.int16]) -> None:
        """Decode further samples (any number)."""
        under = np.take(DITHER, np.arange(self._fed, self._fed + samples.size), mode="wrap")
        self._fed += samples.size
        dithered = np.clip(samples.astype(np.int32) + under, -32768, 32767).astype(np.int16)
        if self._decoder.AcceptWaveform(dithered.tobytes()):
            self._keep(self._decoder.Result())

    def partial(self) -> tuple[str, ...]:
        """The words so far; they move in steps of a quarter second and may still change."""
        words: list[str] = [token for piece in self._pieces for token in piece[0].tokens]
        found = json.loads(self._decoder.PartialResult())  # without a partial before the first sound, and after an end
        return (*words, *str(found.get("partial", "")).split())

    def finish(self) -> tuple[Reading, ...]:
        """All readings of the utterance, best first. At least one; the first may have no words."""
        self._keep(self._decoder.FinalResult())
        joined = [Reading((), 0.0)]
        for piece in self._pieces:
            joined = [Reading(a.words + b.words, a.score + b.score) for a in joined for b in piece]
        return tuple(sorted(joined, key=lambda reading: -reading.score)[:50])

    def _keep(self, result: str) -> None:
        found = json.loads(result)
        heard = [_reading(alternative) for alternative in found.get("alternatives", [])]
        if any(reading.words for reading in heard):
            self._pieces.append(heard)


def arrange(folder: Path, place: Path) -> Path:
    """The model's parts, linked; a search configuration of our own; and of its language model the words alone."""
    for part in ("am", "ivector"):
        (place / part).symlink_to(folder / part)
    (place / "conf").mkdir()
    features = (folder / "conf" / "mfcc.conf").read_text().rstrip()
    (place / "conf" / "mfcc.conf").write_text(f"{features}\n--dither=0\n")
    (place / "conf" / "model.conf").write_text(SEARCH)
    (place / "graph").mkdir()
    for part in ("HCLr.fst", "disambig_tid.int", "phones"):
        (place / "graph" / part).symlink_to(folder / "graph" / part)
    (place / "graph" / "Gr.fst").write_bytes(NO_STATES + _words(folder / "graph" / "Gr.fst"))
    return place


def _words(path: Path) -> bytes:
    """The table of words in the model's language model, in the order of their numbers: in any other, OpenFst would keep
    a tree of them. The rest is for dictation, without a list of phrases, and would never be asked. Both together would
    stand in memory with 47 MB. Checked in tests/audio/test_recognise.py."""
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as graph:
        start = graph.find(SYMBOLS)
        table = graph[start : graph.find(SYMBOLS, start + len(SYMBOLS))]  # it stands there twice
    (name_size,) = struct.unpack_from("<i", table, len(SYMBOLS))
    at = len(SYMBOLS) + 4 + name_size + 16
    head = table[:at]
    entries: list[bytes] = []
    while at < len(table):  # each: the word's size in bytes, the word, its number
        after = at + 12 + int.from_bytes(table[at : at + 4], "little")
        entries.append(table[at:after])
        at = after
    entries.sort(key=lambda entry: int.from_bytes(entry[-8:], "little"))
    return head + b"".join(entries)


def _reading(found: dict[str, Any]) -> Reading:
    words = tuple(
        Word(str(word["word"]), float(word["start"]), float(word["end"]), float(word.get("conf", 1.0)))
        for word in found.get("result", [])
    )
    return Reading(words, float(found.get("confidence", 0.0)))
