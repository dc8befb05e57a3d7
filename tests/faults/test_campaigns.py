"""A small part of the campaigns of record and clock (the whole: campaign.py). Controls show that they can fail."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable

import pytest

Campaign = Callable[..., tuple[dict[str, int], int]]


def can(*command: str) -> bool:
    return bool(shutil.which(command[0])) and subprocess.run(command, capture_output=True, check=False).returncode == 0


needs_strace = pytest.mark.skipif(not can("strace", "-o", os.devnull, "true"), reason="needs strace and leave to trace")


@needs_strace
def test_errors_at_some_system_calls(campaign: Campaign) -> None:
    counts, code = campaign("errors_store.py", "--every", "80", "--answers", "6")
    assert code == 0, counts
    assert counts["runs"] >= 8
    assert counts["refused"] > 0  # else the errors hit nothing


@needs_strace
def test_a_writer_that_tells_too_early_is_caught(campaign: Campaign) -> None:
    counts, code = campaign("errors_store.py", "--every", "20", "--answers", "5", "--hasty")
    assert counts["lost"] > 0
    assert code == 1


def test_flips_two_writers_and_little_memory(campaign: Campaign) -> None:
    counts, code = campaign("flip_store.py", "--flips", "40", "--pairs", "2", "--limits", "2", "--seed", "1")
    assert code == 0, counts
    assert counts["named"] > 5
    assert counts["set aside"] >= counts["named"]


def test_a_voice_that_hangs_dies_or_is_silent(campaign: Campaign) -> None:
    counts, code = campaign("hang_voice.py", "--places", "2")
    assert code == 0, counts
    assert (counts["runs"], counts["ended with advice"] + counts["went on"]) == (6, 6)
    assert counts["acknowledged"] > 20


def test_clock_jumps(campaign: Campaign) -> None:
    counts, code = campaign("clock_check.py", "--runs", "8", "--seed", "1")
    assert code == 0, counts
    assert counts["ready"] > 0
