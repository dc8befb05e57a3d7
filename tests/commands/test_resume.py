"""A check that was broken off: the process is killed, the next one goes on; only with the very same sequence file."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Answers = Callable[[Path], list[tuple[object, ...]]]


@pytest.fixture
def killed(kitcall: Any, short: Path) -> list[str]:
    """A check killed with SIGKILL after its first answer was acknowledged; gives what was said till then."""
    words = ["check", "--typed", "--quiet", "--sequence", short, "--store", kitcall.store]
    lines: list[str] = []
    with subprocess.Popen(kitcall.command(words), stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
                          env=kitcall.environment) as process:  # fmt: skip
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write("start the check\nhoses gone over and okay\n")
        process.stdin.flush()
        for line in process.stdout:
            lines.append(line.strip())
            if "Press the inflator" in line:
                break
        process.kill()
    assert process.returncode == -9
    return lines


def test_it_goes_on_where_it_stood(kitcall: Any, killed: list[str], answers: Answers) -> None:
    assert answers(kitcall.store) == [("hoses", "passed", "", "typed")]
    done = kitcall.typed_check("inflator adds gas and shuts off", "fins okay and straps okay")
    assert "The check was broken off. At Inflator we go on." in done.stdout
    assert done.returncode == 0
    assert [step for step, *_ in answers(kitcall.store)] == ["hoses", "inflator", "fins"]


def test_another_sequence_is_refused_and_nothing_is_lost(
    kitcall: Any, killed: list[str], answers: Answers, short: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other.toml"
    other.write_text(short.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    refused = kitcall.typed_check("inflator adds gas and shuts off", sequence=other)
    first, second = refused.stderr.splitlines()
    assert refused.returncode == 2
    assert "was begun with the sequence short (SHA-256" in first
    assert "--sequence FILE" in second
    assert "--new" in second
    assert answers(kitcall.store) == [("hoses", "passed", "", "typed")]


def test_a_new_one_leaves_the_old_on_hold(kitcall: Any, killed: list[str], short: Path, answers: Answers) -> None:
    words = ("check", "--typed", "--quiet", "--new", "--now", "--sequence", short, "--store", kitcall.store)
    typed = "hoses gone over and okay\ninflator adds gas and shuts off\nfins okay and straps okay\n"
    done = kitcall(*words, typed=typed)
    assert done.returncode == 0
    assert len(answers(kitcall.store)) == 4
    shown = kitcall("log", "show", "--json", "--store", kitcall.store)
    assert '"verdict": "hold"' in shown.stdout.lower().replace("null", '"hold"')
    assert '"verdict": "ready"' in shown.stdout.lower()
