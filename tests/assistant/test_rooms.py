"""Generic names are ours, and a check needs no network."""

from __future__ import annotations

import importlib
import socket
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from assistant.ears import KeyboardEars

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", ["assistant", "audio", "grammars", "hardware"])
def test_name_is_this_code(name: str) -> None:
    assert Path(str(importlib.import_module(name).__file__)).parent == ROOT / name


def test_a_typed_check_opens_no_connection(
    hold: Callable[..., Any], good: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("somebody asked for the network")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    lines = iter(["start the check", *good.values()])
    held = hold(KeyboardEars(lambda prompt: next(lines)))
    assert held.verdict.ready
    assert [entry.facts["step"] for entry in held.of("answered")] == list(good)
    assert {entry.facts["by"] for entry in held.of("answered")} == {"typed"}
