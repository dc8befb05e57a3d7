"""Words about people and voice notes lie apart and can be removed; the chain holds all the same."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from assistant.record import REMOVED, Clip, Log, Personal, Reader

DIGEST = "d" * 64

FACTS = [
    ("wrapped", {"note": Personal("Ines")}, {"note": "Ines"}, {"note": REMOVED}),
    ("named diver", {"diver": "Ines"}, {"diver": "Ines"}, {"diver": REMOVED}),
    ("inside a mapping", {"who": {"diver": "Ines"}}, {"who": {"diver": "Ines"}}, {"who": {"diver": REMOVED}}),
    ("inside a list", {"all": [Personal("Ines"), 5]}, {"all": ["Ines", 5]}, {"all": [REMOVED, 5]}),
    ("a diver's number is kept", {"diver": 5}, {"diver": 5}, {"diver": 5}),
    ("no diver", {"diver": None}, {"diver": None}, {"diver": None}),
]


@pytest.mark.parametrize(("facts", "read", "removed"), [row[1:] for row in FACTS], ids=[row[0] for row in FACTS])
def test_words_are_read_back_and_gone_after_removal(
    open_log: Callable[..., Log], facts: dict[str, object], read: dict[str, object], removed: dict[str, object]
) -> None:
    log = open_log()
    entry = log.append_all("a", [("noted", facts)], DIGEST)[0]
    assert "Ines" not in entry.link.facts
    assert entry.facts == read
    assert [e.facts for e in log.entries()] == [read]
    log.remove_words("Ines")
    assert next(log.entries()).facts == removed
    assert log.verify().ok


def test_the_digest_is_of_salt_and_words(open_log: Callable[..., Log]) -> None:
    log = open_log()
    log.append_all("a", [("noted", {"diver": "Ines"})], DIGEST)
    digest, salt, text = log._db.execute("SELECT digest, salt, text FROM personal").fetchone()
    assert digest == hashlib.sha256(salt + b"Ines").hexdigest()
    assert (len(salt), text) == (16, "Ines")


def test_the_same_name_twice_cannot_be_linked_and_goes_as_one(open_log: Callable[..., Log]) -> None:
    log = open_log()
    log.append_all("a", [("noted", {"diver": "Ines"}), ("noted", {"diver": "Ines"})], DIGEST)
    log.append_all("b", [("noted", {"diver": "Otto"})], DIGEST)
    assert len({entry.link.facts for entry in log.entries()}) == 3
    assert log.remove_words("Ines") == 2
    assert [entry.facts.get("diver") for entry in log.entries()] == [REMOVED, REMOVED, "Otto", None]
    assert log.remove_words("Ines") == 0


def test_a_removal_is_an_event(open_log: Callable[..., Log]) -> None:
    log = open_log()
    entry = log.append_all("a", [("noted", {"diver": "Ines"})], DIGEST)[0]
    digest = entry.link.facts.split('"')[5]
    log.remove_words("Ines")
    last = list(log.entries())[-1]
    assert (last.session, last.kind, last.facts) == ("removed", "removed", {"what": "personal", "digests": [digest]})


def test_removed_words_are_in_no_byte_of_the_files(open_log: Callable[..., Log], store: Path) -> None:
    log = open_log()
    log.append_all("a", [("noted", {"diver": "Wilhelmina"})], DIGEST)
    files = [store, store.with_name(store.name + "-wal")]
    assert any(b"Wilhelmina" in file.read_bytes() for file in files)
    log.remove_words("Wilhelmina")
    assert not any(b"Wilhelmina" in file.read_bytes() for file in files)


def test_a_voice_note_is_kept_with_its_event_and_can_go(open_log: Callable[..., Log], store: Path) -> None:
    log = open_log()
    clip = Clip(b"RIFF" + bytes(range(256)) * 40, 16000, 0.32)
    for _ in range(2):  # the same clip named twice is stored once
        log.append_all("a", [("noted", {"step": "seal", "clip": clip.digest})], DIGEST, clips=[clip])
    log.close()
    with Reader(store) as reader:
        assert reader.clip(clip.digest) == clip
        assert reader.clip("0" * 64) is None
    log = open_log()
    assert log.remove_clip(clip.digest) == 1
    assert log.remove_clip(clip.digest) == 0
    assert log.clip(clip.digest) is None
    assert log.verify().ok


def test_a_clip_of_a_refused_answer_is_not_kept(open_log: Callable[..., Log], store: Path) -> None:
    log = open_log()
    clip = Clip(b"RIFF", None, 1.0)  # type: ignore[arg-type]
    with pytest.raises(Exception, match="refused"):
        log.append_all("a", [("noted", {"clip": clip.digest, "diver": "Ines"})], DIGEST, clips=[clip])
    with closing(sqlite3.connect(store)) as other:
        counts = [other.execute(f"SELECT count(*) FROM {t}").fetchone()[0] for t in ("event", "personal", "clip")]
    assert counts == [0, 0, 0]
