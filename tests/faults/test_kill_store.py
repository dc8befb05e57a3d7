"""Kills of the record's writer: nothing acknowledged is lost, doubled or in part; and the campaign can tell."""

from __future__ import annotations

from collections.abc import Callable

import pytest

WRONG = ("lost", "doubled", "partial", "unverified")
Campaign = Callable[..., tuple[dict[str, int], int]]


def test_a_hundred_kills(campaign: Campaign) -> None:
    counts, code = campaign("kill_store.py", "--kills", "100", "--seed", "1")
    assert ({name: counts[name] for name in WRONG}, code) == (dict.fromkeys(WRONG, 0), 0)
    assert counts["acknowledged"] > 100  # else the kills came too early to test anything


@pytest.mark.parametrize(("writer", "seen"), [("hasty", "lost"), ("piecemeal", "partial")])
def test_the_campaign_sees_a_wrong_writer(campaign: Campaign, writer: str, seen: str) -> None:
    counts, code = campaign("kill_store.py", "--kills", "15", "--seed", "2", "--writer", writer)
    assert counts[seen] > 0
    assert code == 1
