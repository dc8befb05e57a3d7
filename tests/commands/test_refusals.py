"""Refusals of the command line: each one by a process of its own, with its exit status and both its sentences."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from assistant.record import Log, Reader
from audio.devices import Way, list_devices

GOOD = ("start the check", "hoses gone over and okay", "inflator works and shuts off", "fins okay and straps okay")
Change = Callable[[str], str]


def refusal(done: Any) -> list[str]:
    """The two sentences, without what ALSA itself writes; a refusal ends in status 2 and no traceback."""
    assert done.returncode == 2, done.stdout + done.stderr
    lines = [line.strip() for line in done.stderr.splitlines() if not line.startswith(("ALSA", "Cannot", "Expression"))]
    assert len(lines) == 2, done.stderr
    return lines


@pytest.mark.parametrize(
    ("words", "device"),
    [(("check",), "microphone"), (("check", "--typed"), "speaker"), (("demo", "--aloud"), "speaker")],
    ids=["no microphone", "no speaker", "no speaker for the demo"],
)
def test_machine_without_sound(kitcall: Any, words: tuple[str, ...], device: str) -> None:
    if list_devices(Way.IN) or list_devices(Way.OUT):
        pytest.skip("this machine has sound")
    first, second = refusal(kitcall(*words, "--store", kitcall.store))
    assert first == f"kitcall: This machine has no {device}."
    assert second == f"Plug a {device} in, see what is there with `kitcall device`, try again."


@pytest.mark.parametrize(
    ("words", "settings", "says", "mend"),
    [
        (("check", "--model", "nowhere"), {}, "kitcall: There is no model at nowhere.", "KITCALL_MODEL"),
        (("check",), {"KITCALL_MODEL": "", "HOME": "/nonexistent", "VOSK_MODEL_PATH": ""},
         "kitcall: The recogniser's model is not on this machine.", "make demo"),
        (("check", "--sequence", "nowhere.toml"), {}, "kitcall: nowhere.toml: ", "Check its name and place."),
        (("check", "--item", "fin=3"), {}, "kitcall: --item fin=3 is not understood", "items are cylinder, regulator"),
        (("log", "show", "--store", "nowhere.db"), {}, "kitcall: There is no record at nowhere.db", ""),
        (("log", "show", "--check", "none"), {}, "kitcall: ", ""),
    ],
    ids=["no model there", "no model", "no sequence",
         "no such item", "no record", "no such check"],
)  # fmt: skip
def test_refused(kitcall: Any, words: tuple[str, ...], settings: dict[str, str], says: str, mend: str) -> None:
    first, second = refusal(kitcall(*words, settings=settings))
    assert first.startswith(says)
    assert mend in second
    assert second


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (lambda text: text + "\n[[step\n", ":"),
        (lambda text: text.replace("critical = true", "critical = true\ncolour = 1", 1), 'step[0] "hoses".colour'),
        (lambda text: text.replace("hoses gone over and okay", "hoses gone over and okay ("), ":"),
        (lambda text: text.replace("hoses gone over and okay", "every hoze looks fine", 1), "hoze"),
    ],
    ids=["not TOML", "a key that is none", "notation", "a word the recogniser lacks"],
)
def test_sequence_that_cannot_be_read(kitcall: Any, short: Path, tmp_path: Path, change: Change, where: str) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text(change(short.read_text(encoding="utf-8")), encoding="utf-8")
    first, second = refusal(kitcall.typed_check(*GOOD, sequence=bad))
    assert first.startswith(f"kitcall: {bad}")
    assert where in first
    assert second
    assert not kitcall.store.exists()


def open_log(path: Path) -> Log:
    return Log(path, device="deck", wall=lambda: datetime.now(UTC), monotonic=time.monotonic)


def test_store_of_a_newer_version(kitcall: Any) -> None:
    open_log(kitcall.store).close()
    with sqlite3.connect(kitcall.store) as db:
        db.execute("INSERT INTO migration VALUES (99, 'of later')")
        db.execute("PRAGMA user_version = 99")
    db.close()
    first, second = refusal(kitcall.typed_check(*GOOD))
    assert "newer" in first
    assert second.startswith("Update kitcall")


def test_two_processes_on_one_store(kitcall: Any, answers: Callable[[Path], list[tuple[object, ...]]]) -> None:
    """The second is refused and the first goes on; reading beside it is allowed."""
    with open_log(kitcall.store) as log:
        first, second = refusal(kitcall.typed_check(*GOOD))
        assert str(os.getpid()) in first
        assert second
        log.append_all("s1", [("answered", {"step": "hoses", "outcome": "passed", "by": "typed"})], "0" * 64)
        assert kitcall("log", "verify", "--store", kitcall.store).returncode == 0
    assert answers(kitcall.store) == [("hoses", "passed", "", "typed")]


def test_disk_that_fills_in_the_middle(
    kitcall: Any, small_disk: Path, answers: Callable[[Path], list[tuple[object, ...]]]
) -> None:
    """What was acknowledged is kept, what cannot be kept is not acknowledged; with space again the check goes on."""
    kitcall.store = small_disk / "record.db"
    open_log(kitcall.store).close()
    free = os.statvfs(small_disk)
    (small_disk / "ballast").write_bytes(bytes(free.f_bavail * free.f_frsize - 120_000))
    full = kitcall.typed_check("start the check", *["repeat that"] * 40, *GOOD[1:])
    first, second = refusal(full)
    assert "No space" in first
    assert second
    assert full.stdout.splitlines()[-1].split(maxsplit=1)[1].startswith("I cannot keep answers, so I take none.")
    kept = answers(kitcall.store)
    assert kept == []
    with Reader(kitcall.store) as reader:
        asked = sum(entry.kind == "asked" for entry in reader.entries())
    assert 0 < asked == full.stdout.count("Look at every hose")
    (small_disk / "ballast").unlink()
    assert kitcall.typed_check(*GOOD[1:]).returncode == 0
    assert len(answers(kitcall.store)) == 3
