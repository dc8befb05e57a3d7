"""Reading the files of grammars/ and of a centre: TOML to values, every refusal with its place.

The only place that finds grammars/ and opens its files. It knows shapes in general (pydantic reports
what does not fit); what a file means is said by the module that asks for it.
"""

from __future__ import annotations

import re
import tomllib
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from assistant.errors import GrammarError

Place = Path | Traversable
Shape = TypeVar("Shape", bound=BaseModel)


class Strict(BaseModel):
    """A table of a file: unknown keys are refused, types are not guessed, values do not change."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def grammar_file(name: str, language: str = "en") -> Place:
    """A file that kitcall ships, such as "commands.toml"."""
    return files("grammars") / language / name


def read_bytes(path: Place) -> bytes:
    """The file's bytes. Raises GrammarError when there is no such file, or it cannot be read."""
    try:
        return path.read_bytes()
    except OSError as problem:
        raise GrammarError(f"cannot be read ({problem.strerror})", "Check its name and place.", str(path)) from problem


def read_shape(path: Place, shape: type[Shape]) -> Shape:
    """The file as a value of that shape. Raises GrammarError with `file:line` or `file: key`."""
    return validate(parse_toml(read_bytes(path), path), shape, path)


def validate(data: dict[str, Any], shape: type[Shape], path: Place) -> Shape:
    """A dictionary as a value of that shape. Raises GrammarError with `file: key`."""
    try:
        return shape.model_validate(data)
    except ValidationError as problem:
        raise _refuse_shape(problem, data, path) from problem


def parse_toml(raw: bytes, path: Place) -> dict[str, Any]:
    """TOML as a dictionary. Raises GrammarError with `file:line`."""
    try:
        return tomllib.loads(raw.decode("utf-8"))
    except UnicodeDecodeError as problem:
        line = raw[: problem.start].count(b"\n") + 1
        raise GrammarError("not UTF-8 text", "Save the file as UTF-8.", f"{path}:{line}") from problem
    except tomllib.TOMLDecodeError as problem:
        found = re.search(r"line (\d+)", str(problem))
        where = f"{path}:{found.group(1)}" if found else str(path)
        raise GrammarError(f"not TOML: {problem}", "Mend that line; strings need quotation marks.", where) from problem


def line_of(text: str, needle: str, after: str = "") -> int:
    """The first line (from 1) that holds `needle`, at or after the line that holds `after`; 1 when none does."""
    start = max(text.find(after), 0) if after else 0
    at = text.find(needle, start)
    return text.count("\n", 0, at) + 1 if at >= 0 else 1


def _refuse_shape(problem: ValidationError, data: Any, path: Place) -> GrammarError:
    first = problem.errors()[0]
    key = key_path(first["loc"], data)
    if first["type"] == "missing":
        return GrammarError("is missing", "Add it.", f"{path}: {key}")
    if first["type"] == "extra_forbidden":
        return GrammarError("is no key that kitcall knows", "Check its spelling, or take it out.", f"{path}: {key}")
    return GrammarError(f"{first['msg'].lower()}, but it is {_short(first['input'])}", "Put that right.",
                        f"{path}: {key}")


def key_path(location: tuple[int | str, ...], data: Any = None) -> str:
    """("step", 3, "fault", 0, "say") as `step[3] "hoses".fault[0] "hose_cut".say`, ids taken from the data."""
    shown = ""
    for part in location:
        data = _inside(data, part)
        if isinstance(part, str):
            shown += f".{part}" if shown else part
            continue
        shown += f"[{part}]"
        name = next((data[key] for key in ("id", "code", "means") if isinstance(data, dict) and key in data), None)
        shown += f' "{name}"' if isinstance(name, str) else ""
    return shown


def _inside(data: Any, part: int | str) -> Any:
    try:
        return data[part]
    except (KeyError, IndexError, TypeError):
        return None


def _short(value: Any) -> str:
    shown = repr(value)
    return shown if len(shown) <= 40 else shown[:37] + "..."
