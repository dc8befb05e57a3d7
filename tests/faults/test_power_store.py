"""Power cuts at seeded moments of a traced writer; and the rule catches a writer that syncs too little."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable

import pytest

WRONG = ("lost", "doubled", "unverified", "refused")
Campaign = Callable[..., tuple[dict[str, int], int]]


def can_trace() -> bool:
    tried = ["strace", "-o", os.devnull, "true"]
    return bool(shutil.which("strace")) and subprocess.run(tried, capture_output=True, check=False).returncode == 0


pytestmark = pytest.mark.skipif(not can_trace(), reason="needs strace and the right to trace")


def test_a_hundred_power_cuts(campaign: Campaign) -> None:
    counts, code = campaign("power_store.py", "--cuts", "100", "--answers", "25", "--seed", "1", "--every-sync", "2")
    assert ({name: counts[name] for name in WRONG}, code) == (dict.fromkeys(WRONG, 0), 0)
    assert counts["acknowledged_at_cuts"] > 100
    assert counts["all unsynced dropped"] > 20


def test_a_writer_that_syncs_too_little_is_caught(campaign: Campaign) -> None:
    options = ("--cuts", "40", "--answers", "25", "--seed", "1", "--synchronous", "NORMAL", "--every-sync", "9")
    counts, code = campaign("power_store.py", *options)
    assert counts["lost"] > 0
    assert code == 1
