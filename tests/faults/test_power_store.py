"""Power cuts at seeded moments of a traced writer; and the rule catches a writer that syncs too little."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
WRONG = ("lost", "doubled", "unverified", "refused")


def traceable() -> bool:
    return (
        bool(shutil.which("strace"))
        and subprocess.run(["strace", "-o", os.devnull, "true"], check=False).returncode == 0
    )


pytestmark = pytest.mark.skipif(not traceable(), reason="needs strace and the right to trace")


def cut(*options: str) -> tuple[dict[str, int], int]:
    command = [sys.executable, str(Path(__file__).with_name("power_store.py")), *options]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, cwd=ROOT, env=environment, check=False)
    assert done.stdout, done.stderr
    return json.loads(done.stdout), done.returncode


def test_a_hundred_power_cuts() -> None:
    counts, code = cut("--cuts", "100", "--answers", "25", "--seed", "1")
    assert ({name: counts[name] for name in WRONG}, code) == (dict.fromkeys(WRONG, 0), 0)
    assert counts["acknowledged_at_cuts"] > 100


def test_a_writer_that_syncs_too_little_is_caught() -> None:
    counts, code = cut("--cuts", "40", "--answers", "25", "--seed", "1", "--synchronous", "NORMAL")
    assert counts["lost"] > 0
    assert code == 1
