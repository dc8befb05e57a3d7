"""Words that sound nearly like those of a pass: everyday words, and words that a diver says of bad kit.

Finding them takes a pronouncing dictionary, seconds, and a hundred megabytes, so it is done once for a set of words, in
a process of its own, and kept in a small file. The file may be deleted at any time. It holds words of no diver.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Collection, Mapping
from functools import cache
from pathlib import Path

import numpy as np

from assistant.errors import GrammarError
from assistant.language.fillers import fillers
from assistant.language.negation import faulty_words
from assistant.language.sound import dictionary_words, distances, missing_sounds, phonemes

Soundalikes = Mapping[str, tuple[str, ...]]
COMMON_WORDS = Path("/usr/share/dict/american-english-small")  # Debian wamerican-small: SCOWL up to size 35
NEAR_SHORT, NEAR_LONG = 1, 2  # phonemes: how far a soundalike may be from a word of up to 3, and of more
SHORT = 3
NEAR_FAULTY = 2  # and a word that a diver says of bad kit, or an everyday word of talk, whatever the length
LONGEST_S = 600.0  # a slow box takes its time, once


def keep_soundalikes(words: Collection[str], folder: Path, language: str = "en") -> Soundalikes:
    """As find_soundalikes, from `folder` when they were found before, else by a process that ends when they are.

    Raises GrammarError when the list of everyday words is missing (install it) or the process fails (report it).
    Checked in tests/language/test_soundalikes.py.
    """
    kept = folder / f"{_digest(words, language)}.json"
    if not kept.exists():
        found = _find_apart(sorted(words), language)
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile("w", dir=folder, delete=False, encoding="utf-8") as file:
            file.write(found)
        os.replace(file.name, kept)
    return {word: tuple(others) for word, others in json.loads(kept.read_text(encoding="utf-8")).items()}


def find_soundalikes(words: Collection[str], language: str = "en") -> Soundalikes:
    """For each of the words the everyday words and words of bad kit that sound nearly like it, in a fixed order.

    Words of unknown sound are left out. Raises GrammarError when the list of everyday words is missing.
    """
    sounding = sorted(word for word in words if not missing_sounds((word,)))
    common, faulty = common_words(), faulty_words(language)
    known = [word for word in dictionary_words() if word in common or word in faulty]
    apart = distances([(word,) for word in sounding], [(word,) for word in known], max(NEAR_LONG, NEAR_FAULTY))
    told = faulty | set(fillers(language))  # talk that sounds like a pass must not stand beside it as talk
    far = np.array([NEAR_FAULTY if word in told else 0 for word in known])
    return {
        word: tuple(known[at] for at in np.flatnonzero((row > 0) & (row <= np.maximum(far, reach(word)))))
        for word, row in zip(sounding, apart, strict=True)
    }


def reach(word: str) -> int:
    """How many phonemes an everyday word may be away from this word."""
    return NEAR_SHORT if min(len(sound) for sound in phonemes(word)) <= SHORT else NEAR_LONG


@cache
def common_words() -> frozenset[str]:
    """Everyday English words. A rare name may sound nearer to a voice than the word that was said, so the
    rivals are words that people say. GrammarError when the list is not installed."""
    lines = _read_common().decode("utf-8").splitlines()
    return frozenset(word for word in lines if word.isalpha() and word.islower())


def _read_common() -> bytes:
    try:
        return COMMON_WORDS.read_bytes()
    except OSError as problem:
        mend = "Install it: sudo apt-get install wamerican-small"
        raise GrammarError(f"the list of everyday words is missing: {COMMON_WORDS}", mend) from problem


def _digest(words: Collection[str], language: str) -> str:
    """Of all that the result depends on: the words, both lists, and this file's own rules."""
    told = (*faulty_words(language), *fillers(language))
    parts = (" ".join(sorted(words)), " ".join(sorted(told)), Path(__file__).read_text("utf-8"))
    return hashlib.sha256("\n".join(parts).encode() + _read_common()).hexdigest()


def _find_apart(words: list[str], language: str) -> str:
    command = [sys.executable, "-m", "assistant.language.soundalikes", language, *words]
    try:
        return subprocess.run(command, capture_output=True, text=True, check=True, timeout=LONGEST_S).stdout
    except (OSError, subprocess.SubprocessError) as problem:
        said = str(getattr(problem, "stderr", "") or problem).strip()
        mend = "Run the same command again; if it stays, report this."
        raise GrammarError(f"words that sound alike could not be worked out: {said}", mend) from problem


if __name__ == "__main__":
    print(json.dumps(find_soundalikes(sys.argv[2:], sys.argv[1])))
