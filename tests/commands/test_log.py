"""`kitcall log`: a record shown and verified, also one that somebody has edited."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest

WORN = ("start the check", "hoses gone over and okay", "inflator sticks", "swapped number nine",
        "inflator adds gas and shuts off", "fins okay and straps okay")  # fmt: skip


@pytest.fixture
def kept(kitcall: Any) -> Path:
    """The record of a check with a fault and a swap."""
    assert kitcall.typed_check(*WORN).returncode == 0
    return kitcall.store


def test_show_and_verify(kitcall: Any, kept: Path) -> None:
    checks = json.loads(kitcall("log", "show", "--json", "--store", kept).stdout)["checks"]
    assert [check["verdict"] for check in checks] == ["ready"]
    words = ("log", "show", "--check", checks[0]["check"], "--store", kept)
    told = json.loads(kitcall(*words, "--json").stdout)
    assert [(answer["step"], answer["outcome"], answer["fault"]) for answer in told["answers"]] == [
        ("hoses", "passed", None), ("inflator", "fault", "sticks"),
        ("inflator", "passed", None), ("fins", "passed", None),
    ]  # fmt: skip
    assert [len(told[name]) for name in ("faults", "swaps")] == [1, 1]
    table = kitcall(*words)
    assert table.returncode == 0
    assert all(word in table.stdout for word in ("answers", "inflator", "sticks", "swaps", "jacket"))
    sound = kitcall("log", "verify", "--store", kept)
    assert (sound.returncode, sound.stdout[:18]) == (0, "The record holds: ")


def test_edited_byte_is_named(kitcall: Any, kept: Path) -> None:
    """Somebody makes the fault a pass: verify says which event, in words and for programs."""
    with sqlite3.connect(kept) as db:
        triggers = db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'event'").fetchall()
        for (name,) in triggers:
            db.execute(f'DROP TRIGGER "{name}"')
        (seq,) = db.execute("SELECT seq FROM event WHERE facts LIKE '%\"outcome\":\"fault\"%'").fetchone()
        db.execute("UPDATE event SET facts = replace(facts, 'sticks', 'sticky') WHERE seq = ?", (seq,))
    db.close()
    damaged = kitcall("log", "verify", "--store", kept)
    assert damaged.returncode == 1
    assert damaged.stdout.startswith(f"event {seq}: ")
    told = json.loads(kitcall("log", "verify", "--json", "--store", kept).stdout)
    assert (told["ok"], told["damages"][0]["seq"]) == (False, seq)
    before = kept.read_bytes()
    assert kitcall("log", "set-aside", "--store", kept).returncode == 0
    (aside,) = kept.parent.glob(f"{kept.name}.aside-*Z")
    assert aside.read_bytes() == before
    assert kitcall("log", "verify", "--store", kept).stdout == "The record holds: 0 events, each as it was written.\n"


def test_a_record_that_holds_is_not_set_aside(kitcall: Any, kept: Path) -> None:
    told = kitcall("log", "set-aside", "--store", kept)
    assert (told.returncode, told.stdout) == (0, "The record holds; it stays where it is.\n")
    assert not list(kept.parent.glob(f"{kept.name}.aside-*"))
    assert kitcall("log", "set-aside", "--store", kept.with_name("none.db")).returncode == 2
