"""Every fact in every state that reduced sequences can reach, until no state is new.

After every turn the session's verdict must equal the witness's, now and at the other
time; what each turn must keep besides is listed in conftest.watch.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

LEAST_STATES = {
    "leaks": 15, "readings": 140, "two readings": 670, "times": 700, "halves": 3000, "pauses": 800, "numbers": 2000,
    "talk": 3800,
}  # fmt: skip


@pytest.mark.parametrize("name", LEAST_STATES)
def test_explore_every_state(name: str, explorers: Mapping[str, Any]) -> None:
    """The number of states is written down so that an exploration that shrinks is noticed."""
    states, turns = explorers[name].explore(limit=10000)
    print(f"{name}: {states} states, {turns} turns")
    assert states >= LEAST_STATES[name]
