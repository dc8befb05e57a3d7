""" "Save the log" is understood at any time, is done at once, and changes no check."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from assistant.ears import KeyboardEars

Hold = Callable[..., Any]


def test_saving_in_the_middle_changes_nothing(hold: Hold, good: dict[str, str]) -> None:
    save_calls: list[str] = []
    answers = list(good.values())
    lines = iter(["save the log", "start the check", answers[0], "save the log", "copy the log", *answers[1:]])
    held = hold(KeyboardEars(lambda prompt: next(lines)), save=lambda say: (save_calls.append("saved"), say("Copied.")))
    assert held.verdict.ready
    assert save_calls == ["saved"] * 3
    assert held.seen.lines.count("Copied.") == 3
    assert [entry.facts["step"] for entry in held.of("answered")] == list(good)
    assert held.of("doubted") == []
