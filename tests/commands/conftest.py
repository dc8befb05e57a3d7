"""The command line as a user has it: a process of its own, with a data folder of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

SHORT = Path(__file__).with_name("short.toml")


@dataclass
class CommandLine:
    """`kitcall WORDS...`, with `folder` for its record and its voice's cache."""

    folder: Path
    settings: dict[str, str]
    store: Path = field(init=False)

    def __post_init__(self) -> None:
        self.store = self.folder / "record.db"

    def command(self, words: Sequence[object]) -> list[str]:
        return [sys.executable, "-m", "assistant", *map(str, words)]

    @property
    def environment(self) -> dict[str, str]:
        return {**os.environ, "COLUMNS": "120", "XDG_DATA_HOME": str(self.folder / "data"), **self.settings}

    def __call__(self, *words: object, typed: str = "", **how: Any) -> subprocess.CompletedProcess[str]:
        """Run it to its end with these lines typed; `how` goes to subprocess.run, `settings` to the environment."""
        environment = {**self.environment, **how.pop("settings", {})}
        return subprocess.run(
            self.command(words), input=typed, capture_output=True, text=True, timeout=120, env=environment, **how
        )

    def typed_check(self, *lines: str, sequence: object = SHORT, **how: Any) -> subprocess.CompletedProcess[str]:
        """A typed and silent check with these answers."""
        words = ("check", "--typed", "--quiet", "--sequence", sequence, "--store", self.store)
        return self(*words, typed="".join(f"{line}\n" for line in lines), **how)


@pytest.fixture
def kitcall(model_folder: Path, tmp_path: Path) -> CommandLine:
    """The command line with the recogniser's model."""
    return CommandLine(tmp_path, {"KITCALL_MODEL": str(model_folder)})


@pytest.fixture
def short() -> Path:
    """A sequence file of three steps."""
    return SHORT


@pytest.fixture
def answers() -> Callable[[Path], list[tuple[object, ...]]]:
    """answers(store) reads the answers of a record: step, outcome, code, and how they came in."""
    from assistant.record import Reader

    def read(store: Path) -> list[tuple[object, ...]]:
        with Reader(store) as reader:
            assert reader.verify().ok
            told = [entry.facts for entry in reader.entries() if entry.kind == "answered"]
        return [(facts["step"], facts["outcome"], facts.get("code", ""), facts["by"]) for facts in told]

    return read
