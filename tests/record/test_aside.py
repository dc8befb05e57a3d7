"""A damaged store is set aside under a name with its time, whole, and a new one begins."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from errno import EPERM
from pathlib import Path
from typing import Never

import pytest

from assistant.errors import StoreBusy, StoreError, StoreNewer
from assistant.record import Log, Reader, aside, folder, open_or_set_aside
from assistant.record.schema import NEWEST

DIGEST = "d" * 64
NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


def wall() -> datetime:
    return NOON


def test_a_good_store_is_just_opened(kept: Log, open_log: Callable[..., Log], store: Path) -> None:
    kept.close()
    opening = open_or_set_aside(store, open_log, wall)
    assert (opening.set_aside, opening.damage) == (None, "")
    assert opening.log.append_all("a", [("noted", {})], DIGEST)[0].seq == 14


def edited(store: Path, strike: Callable[..., None]) -> None:
    strike("UPDATE event SET kind = 'x' WHERE seq = 4")


def scribbled(store: Path, strike: Callable[..., None]) -> None:
    data = bytearray(store.read_bytes())
    data[100:6000] = bytes(5900)
    store.write_bytes(bytes(data))


def emptied(store: Path, strike: Callable[..., None]) -> None:
    store.write_bytes(b"")


DAMAGES = [
    ("edited", edited, "event 4 does not match its own hash"),
    ("scribbled", scribbled, "cannot be read"),
    ("emptied", emptied, "the end was cut off: 13 events were recorded, 13 are gone"),
]


@pytest.mark.parametrize(("damage", "said"), [row[1:] for row in DAMAGES], ids=[row[0] for row in DAMAGES])
def test_a_damaged_store_moves_and_a_new_one_begins(
    kept: Log,
    open_log: Callable[..., Log],
    behind_its_back: Callable[..., None],
    store: Path,
    damage: Callable[[Path, Callable[..., None]], None],
    said: str,
) -> None:
    kept.close()
    damage(store, behind_its_back)
    receipts = store.with_name(store.name + ".head").read_bytes()
    opening = open_or_set_aside(store, open_log, wall)
    assert opening.set_aside == store.with_name("record.db.aside-20260504T120000Z")
    assert opening.set_aside.exists()
    assert opening.set_aside.with_name(opening.set_aside.name + ".head").read_bytes().startswith(receipts)
    assert said in opening.damage
    assert opening.log.append_all("b", [("asked", {})], DIGEST)[0].seq == 1
    assert opening.log.verify().ok


def test_the_damaged_bytes_are_kept_exactly(kept: Log, open_log: Callable[..., Log], store: Path) -> None:
    kept.close()
    store.write_bytes(b"burnt" * 2000)
    opening = open_or_set_aside(store, open_log, wall)
    assert opening.set_aside is not None
    assert opening.set_aside.read_bytes() == b"burnt" * 2000


def test_two_in_one_second_have_two_names(kept: Log, open_log: Callable[..., Log], store: Path) -> None:
    kept.close()
    names = []
    for _ in range(2):
        store.write_bytes(b"burnt" * 2000)
        opening = open_or_set_aside(store, open_log, wall)
        opening.log.close()
        assert opening.set_aside is not None
        names.append(opening.set_aside.name)
    assert names == ["record.db.aside-20260504T120000Z", "record.db.aside-20260504T120000Z-2"]


def test_a_disk_without_second_names_gets_a_copy(
    kept: Log, open_log: Callable[..., Log], store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object) -> Never:
        raise OSError(EPERM, os.strerror(EPERM))

    kept.close()
    store.write_bytes(b"burnt" * 2000)
    monkeypatch.setattr("assistant.record.aside.os.link", refused)
    opening = open_or_set_aside(store, open_log, wall)
    assert opening.set_aside is not None
    assert opening.set_aside.read_bytes() == b"burnt" * 2000


@pytest.mark.parametrize("cut", range(1, 12))
def test_power_lost_at_any_step_loses_nothing(
    kept: Log, open_log: Callable[..., Log], store: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, cut: int
) -> None:
    """Each operation on a name fails in turn; the log's events are then still whole under one name or the other."""
    kept.append_all("b", [("answered", {"n": n}) for n in range(5)], DIGEST)
    saved = tmp_path / "saved"
    saved.mkdir()
    for end in ("", "-wal", ".head"):  # as after a kill: the events lie in the write-ahead log
        shutil.copy(store.with_name(store.name + end), saved / (store.name + end))
    kept.close()
    store = saved / store.name
    steps = 0

    def failing(original: Callable[..., object]) -> Callable[..., object]:
        def step(*arguments: object, **named: object) -> object:
            nonlocal steps
            steps += 1
            if steps >= cut:
                raise InterruptedError("power")
            return original(*arguments, **named)

        return step

    monkeypatch.setattr("assistant.record.aside.os.link", failing(os.link))
    monkeypatch.setattr("assistant.record.folder.sync", failing(folder.sync))
    monkeypatch.setattr(Path, "unlink", failing(Path.unlink))
    try:
        aside.set_aside(store, NOON)
        assert cut > 8
    except InterruptedError:
        pass
    monkeypatch.undo()
    old, new = verified(store), verified(store.with_name("record.db.aside-20260504T120000Z"))
    assert "18 events, whole" in (old, new)
    assert old in ("18 events, whole", "damage named", "gone")


def verified(path: Path) -> str:
    if not path.exists():
        return "gone"
    try:
        with Reader(path) as reader:
            report = reader.verify()
    except StoreError:
        return "damage named"
    return f"{report.count} events, whole" if report.ok else "damage named"


def newer(store: Path, strike: Callable[..., None]) -> None:
    strike(f"INSERT INTO migration VALUES ({NEWEST + 1}, 'x')", f"PRAGMA user_version = {NEWEST + 1}")


def foreign(store: Path, strike: Callable[..., None]) -> None:
    strike("DROP TABLE migration", "PRAGMA application_id = 0")


KEPT_IN_PLACE = [("newer", newer, StoreNewer), ("foreign", foreign, StoreError)]


@pytest.mark.parametrize(("change", "kind"), [row[1:] for row in KEPT_IN_PLACE], ids=[row[0] for row in KEPT_IN_PLACE])
def test_what_is_not_damaged_is_not_moved(
    kept: Log,
    open_log: Callable[..., Log],
    behind_its_back: Callable[..., None],
    store: Path,
    change: Callable[[Path, Callable[..., None]], None],
    kind: type[StoreError],
) -> None:
    kept.close()
    change(store, behind_its_back)
    before = store.read_bytes()
    with pytest.raises(kind):
        open_or_set_aside(store, open_log, wall)
    assert store.read_bytes() == before
    assert [p.name for p in store.parent.iterdir() if "aside" in p.name] == []


def test_a_busy_store_is_not_moved(kept: Log, open_log: Callable[..., Log], store: Path) -> None:
    with pytest.raises(StoreBusy):
        open_or_set_aside(store, open_log, wall)
    assert store.exists()
