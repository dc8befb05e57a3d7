"""A record in a temporary folder, with a clock and random bytes that the test holds."""

from __future__ import annotations

import itertools
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from assistant.record import Log

NOON = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)
DIGEST = "d" * 64


class Ticking:
    """One second a reading, from that many seconds after noon; monotonic from 100 s."""

    def __init__(self, after_s: int = 0) -> None:
        self._wall, self._monotonic = itertools.count(after_s), itertools.count(after_s)

    def wall(self) -> datetime:
        return NOON + timedelta(seconds=next(self._wall))

    def monotonic(self) -> float:
        return 100.0 + next(self._monotonic)


def counted_bytes(first: int = 1) -> Callable[[int], bytes]:
    numbers = itertools.count(first)
    return lambda length: next(numbers).to_bytes(length, "big")


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "deck" / "record.db"


def ticking_log(path: Path, after_s: int = 0, first: int = 1) -> Log:
    clock = Ticking(after_s)
    return Log(path, device="box-1", wall=clock.wall, monotonic=clock.monotonic, random_bytes=counted_bytes(first))


@pytest.fixture
def open_log(store: Path) -> Iterator[Callable[..., Log]]:
    """Opens logs on `store` (or on the path given) and closes them at the end."""
    opened: list[Log] = []

    def opening(path: Path = store, after_s: int = 0) -> Log:
        log = ticking_log(path, after_s, 1 + 1000 * len(opened) + after_s)
        opened.append(log)
        return log

    yield opening
    for log in opened:
        log.close()


def raw(path: Path, *statements: str) -> None:
    """Changes the store behind kitcall's back, its guards taken off and put on again."""
    with closing(sqlite3.connect(path)) as conn:
        guards = conn.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in guards:
            conn.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            conn.execute(statement)
        for _, sql in guards:
            conn.execute(sql)
        conn.commit()


@pytest.fixture
def behind_its_back(store: Path) -> Callable[..., None]:
    return lambda *statements: raw(store, *statements)


def asked(step: str, item: str) -> tuple[str, dict[str, object]]:
    return "asked", {"what": "step", "step": step, "item": item, "because": "", "turn": "", "said": ["Look."]}


def answered(step: str, outcome: str, heard: str, by: str = "voice", **more: object) -> tuple[str, dict[str, object]]:
    return "answered", {"step": step, "outcome": outcome, "heard": heard, "by": by, **more}


# thirteen events; the jacket is swapped, an answer taken back, the mask has no spare
WHOLE_CHECK: tuple[tuple[str, dict[str, object]], ...] = (
    ("check_started", {"check": "rental", "diver": "Ines", "items": {"jacket": "7", "mask": None}, "by": "voice"}),
    asked("inflator", "jacket"),
    ("doubted", {"step": "inflator", "why": "no_phrase", "text": "it is hot"}),
    answered("inflator", "fault", "inflator sticks", code="sticks"),
    ("set_apart", {"item": "jacket", "number": "7", "code": "sticks", "step": "inflator"}),
    ("replaced", {"item": "jacket", "old": "7", "new": "9", "heard": "swapped nine", "by": "voice"}),
    answered("inflator", "passed", "it stops"),
    ("withdrawn", {"what": "answered", "step": "inflator", "item": "", "because": "correct"}),
    answered("inflator", "passed", "it stops", by="typed"),
    answered("pressure", "passed", "two hundred bar", value=200, unit="bar"),
    ("no_spare", {"item": "mask"}),
    ("ate_a_banana", {"why": "a newer kitcall knows", "step": {"odd": ["shape"]}}),
    ("verdict_given", {"verdict": "hold", "reasons": [
        {"kind": "no_spare", "step": "skirt", "item": "mask", "code": ""},
        {"kind": "open", "step": "fins", "code": "x"},
    ]}),
)  # fmt: skip


@pytest.fixture(scope="session")
def kept_files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """A closed store's files, by name: one whole check, session "a", an answer a transaction. Made once."""
    folder = tmp_path_factory.mktemp("kept")
    with ticking_log(folder / "record.db") as log:
        for record in WHOLE_CHECK:
            log.append_all("a", [record], DIGEST)
    return {name: (folder / name).read_bytes() for name in ("record.db", "record.db.head")}


@pytest.fixture
def kept(open_log: Callable[..., Log], store: Path, kept_files: dict[str, bytes]) -> Log:
    """A log that holds that check, open again."""
    store.parent.mkdir()
    for name, data in kept_files.items():
        store.with_name(name).write_bytes(data)
    return open_log(after_s=len(WHOLE_CHECK))
