"""Kills of the record's writer: nothing acknowledged is lost, doubled or in part; and the campaign can tell."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
WRONG = ("lost", "doubled", "partial", "unverified")


def killed(*options: str) -> tuple[dict[str, int], int]:
    command = [sys.executable, str(Path(__file__).with_name("kill_store.py")), *options]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, cwd=ROOT, env=environment, check=False)
    assert done.stdout, done.stderr
    return json.loads(done.stdout), done.returncode


def test_a_hundred_kills() -> None:
    counts, code = killed("--kills", "100", "--seed", "1")
    assert ({name: counts[name] for name in WRONG}, code) == (dict.fromkeys(WRONG, 0), 0)
    assert counts["acknowledged"] > 100  # else the kills came too early to test anything


@pytest.mark.parametrize(("writer", "seen"), [("hasty", "lost"), ("piecemeal", "partial")])
def test_the_campaign_sees_a_wrong_writer(writer: str, seen: str) -> None:
    counts, code = killed("--kills", "15", "--seed", "2", "--writer", writer)
    assert counts[seen] > 0
    assert code == 1
