"""Runs a campaign script of this folder as a process of its own and reads the counts that it prints."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture
def campaign() -> Callable[..., tuple[dict[str, int], int]]:
    """campaign(script, *options) gives the counts and the exit code."""

    def run(script: str, *options: str) -> tuple[dict[str, int], int]:
        command = [sys.executable, str(Path(__file__).with_name(script)), *options]
        done = subprocess.run(
            command,
            capture_output=True,
            text=True,
            timeout=300,
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            check=False,
        )
        assert done.stdout, done.stderr
        return json.loads(done.stdout), done.returncode

    return run
