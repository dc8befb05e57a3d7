"""Kills of a group at some of its points: nothing spoken of is lost or doubled, and the boat can be made ready."""

from __future__ import annotations

from collections.abc import Callable

WRONG = ("not killed", "lost", "doubled", "not ready", "wrong record", "changed", "unverified")


def test_kills_at_some_points_of_a_group(campaign: Callable[..., tuple[dict[str, int], int]]) -> None:
    counts, code = campaign("kill_group.py", "--every", "19")
    assert ({name: counts[name] for name in WRONG}, code) == (dict.fromkeys(WRONG, 0), 0)
    assert counts["kills"] >= 7
    assert counts["acknowledged"] > 100
