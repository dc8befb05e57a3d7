"""A group from end to end in processes of their own: plan a day, lead it typed, kill it, go on, ask what came back."""

from __future__ import annotations

import json
import os
import signal
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from assistant.record import Reader

PLAN = "trip,diver,regulator,jacket,fins,litres,depth_m,minutes\nReef,1,12,7,3,12,18,20\nReef,2,14,8,4,12,18,20\n"
GOOD = ("hoses gone over and okay", "inflator works and shuts off", "fins okay and straps okay")
AFTER = ("group", "--typed", "--quiet", "--after-dive")
BACK = ("both breathed dry throughout", "jacket worked throughout", "everything stayed tight", "fifty five bar",
        "rinsed in fresh water", "both breathed in the shallows")  # fmt: skip


@pytest.fixture
def group(kitcall: Any, short: Path, tmp_path: Path) -> Callable[..., Any]:
    """group(lines) leads the planned day's trip with these lines typed."""
    (tmp_path / "day.csv").write_text(PLAN, encoding="utf-8")
    store = ("--store", kitcall.store, "--sequence", short)

    def run(*lines: str, words: tuple[str, ...] = ("group", "--typed", "--quiet")) -> Any:
        return kitcall(*words, *store, typed="".join(f"{line}\n" for line in lines))

    assert run(words=("plan-day", str(tmp_path / "day.csv"))).returncode == 0
    return run


def answers(store: Path) -> list[tuple[object, ...]]:
    with Reader(store) as reader:
        return [(e.facts["step"], e.facts["outcome"]) for e in reader.entries() if e.kind == "answered"]


def test_a_group_is_led_to_its_boat_and_back(group: Callable[..., Any], kitcall: Any) -> None:
    first = group("next diver", *GOOD, "next diver", GOOD[0])
    assert first.returncode == 1, first.stderr
    assert "Diver one: ready. 1 to go." in first.stdout
    second = group(*GOOD[1:], "leave the group")
    assert second.returncode == 0, second.stdout
    assert "The check was broken off. At Inflator we go on." in second.stdout
    assert "The boat is ready. Ready: one, two." in second.stdout
    back = group("next diver", *BACK, "next diver", "wet breath", *BACK[1:], words=AFTER)
    assert back.returncode == 0, back.stderr
    assert "Diver two: something for the shop. That was everybody." in back.stdout
    again = kitcall("plan-day", kitcall.folder / "day.csv", "--store", kitcall.store, "--date", "2026-05-05")
    assert "line 3: refused: regulator 14 is set apart." in again.stdout
    assert "Nothing was taken over." in again.stdout
    assert json.loads(kitcall("log", "verify", "--json", "--store", kitcall.store).stdout)["ok"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("group", "--typed", "--quiet", "--date", "2020-01-01"), "nothing is planned for 2020-01-01"),
        (("group", "--typed", "--quiet", "--trip", "Wreck"), 'there is no trip "Wreck"'),
        (("group", "--typed", "--quiet", "--date", "soon"), "soon is no date"),
        (("plan-day", "nowhere.csv"), "nowhere.csv cannot be read"),
    ],
    ids=["no plan", "no trip", "no date", "no file"],
)
def test_refused(group: Callable[..., Any], words: tuple[str, ...], message: str) -> None:
    done = group(words=words)
    assert (done.returncode, message in done.stderr) == (2, True), done.stderr


def test_a_plan_in_use_is_replaced_only_on_purpose(group: Callable[..., Any], tmp_path: Path) -> None:
    group("next diver", GOOD[0])
    plan = ("plan-day", str(tmp_path / "day.csv"))
    assert "divers were called already" in group(words=plan).stderr
    assert group(words=(*plan, "--replace")).returncode == 0
    assert "Not checked: one, two." in group("who is left").stdout


@pytest.mark.parametrize("at", [1, 3, 4])
def test_killed_at_once_after_an_acknowledged_answer(
    group: Callable[..., Any], kitcall: Any, short: Path, at: int
) -> None:
    """SIGKILL as soon as the answer is acknowledged; it is in the record once, and the group goes on behind it."""
    lines, acknowledged = [*GOOD[:2], "diver two", *GOOD, "diver one", GOOD[2]], 0
    said = ["next diver", *lines[: at + (at > 2)]]
    words = ("group", "--typed", "--quiet", "--store", kitcall.store, "--sequence", short)
    child = subprocess.Popen(
        kitcall.command(words), stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=kitcall.environment
    )
    assert child.stdin is not None
    assert child.stdout is not None
    child.stdin.write("".join(f"{line}\n" for line in said).encode())
    child.stdin.flush()
    heard = b""
    while acknowledged < at and (more := os.read(child.stdout.fileno(), 65536)):
        heard += more
        acknowledged = heard.count(b" passed.")
    child.send_signal(signal.SIGKILL)
    child.wait()
    child.stdin.close()
    child.stdout.close()
    assert acknowledged == at, heard
    kept = answers(kitcall.store)
    assert len(kept) == at
    rest = group(*lines[at + (at > 2):], "leave the group")
    assert rest.returncode == 0, rest.stdout
    assert answers(kitcall.store)[:at] == kept
    assert len(answers(kitcall.store)) == 6
