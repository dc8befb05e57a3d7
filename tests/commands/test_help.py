"""Every command's --help, as a guide reads it: what it does, each option in words, no line too long."""

from __future__ import annotations

import pytest
from click import Group
from click.testing import CliRunner

from assistant.__main__ import WORDS, main


def commands() -> list[tuple[str, ...]]:
    """All commands with their words, also those of a group."""
    found: list[tuple[str, ...]] = [()]
    for name in WORDS:
        found.append((name,))
        command = main.get_command(None, name)  # type: ignore[arg-type]
        if isinstance(command, Group):
            found += [(name, inner) for inner in command.commands]
    return found


@pytest.mark.parametrize("words", commands(), ids=" ".join)
def test_help(words: tuple[str, ...]) -> None:
    shown = CliRunner().invoke(main, [*words, "--help"], prog_name="kitcall", terminal_width=80)
    lines = shown.output.splitlines()
    assert shown.exit_code == 0
    assert lines[0].startswith(" ".join(["Usage: kitcall", *words]))
    assert max(map(len, lines)) <= 80
    assert [line for line in lines if line.rstrip().endswith("...")] in ([], lines[:1])
    options = lines[lines.index("Options:") + 1 :]
    explained = [line for line in options if line.startswith("  -")]
    assert [line for line in explained if len(line.split("  ", 2)) < 2] == []


def test_first_page_names_the_first_steps() -> None:
    shown = CliRunner().invoke(main, ["--help"], prog_name="kitcall", terminal_width=80).output
    assert [name for name in WORDS if f"\n  {name}" not in shown] == []
    assert "kitcall device" in shown
    assert "certifies nothing" in shown
