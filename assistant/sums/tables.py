"""Reads the data files of the sums from grammars/sums: tables with source and edition, and settings.

Data only comes from there or from a file that a centre names. A file that cannot be read is refused by
name; nothing falls back to the built-in one by itself.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from assistant.errors import BadInput


@cache
def built_in(name: str) -> dict[str, Any]:
    """The built-in file grammars/sums/<name>.toml; treat what comes back as read-only."""
    text = (files("grammars") / "sums" / f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def from_file(path: Path) -> dict[str, Any]:
    """A centre's own file.

    Raises: BadInput when it is not there or is no TOML; mend the file or give another.
    """
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as problem:
        raise BadInput(f"{path} cannot be read: {problem.strerror}.", "Give the path of a settings file.") from problem
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise BadInput(f"{path} is no TOML file: {problem}.", "Mend that line of it.") from problem
