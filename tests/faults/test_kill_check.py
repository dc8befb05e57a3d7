"""Kills of a whole check between all its steps: no spoken answer is lost or doubled, and it can be finished."""

from __future__ import annotations

from collections.abc import Callable

WRONG = ("not killed", "lost", "doubled", "wrong verdict", "wrong record", "unverified")


def test_kills_at_every_point_of_some_turns(campaign: Callable[..., tuple[dict[str, int], int]]) -> None:
    counts, code = campaign("kill_check.py", "--every", "37")
    assert ({name: counts[name] for name in WRONG}, code) == (dict.fromkeys(WRONG, 0), 0)
    assert counts["kills"] >= 7
    assert counts["resumed"] >= counts["kills"] // 2
