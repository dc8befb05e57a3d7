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
    """One second a reading, from noon; monotonic from 100 s."""

    def __init__(self) -> None:
        self._wall, self._monotonic = itertools.count(), itertools.count()

    def wall(self) -> datetime:
        return NOON + timedelta(seconds=next(self._wall))

    def monotonic(self) -> float:
        return 100.0 + next(self._monotonic)


def counted_bytes() -> Callable[[int], bytes]:
    numbers = itertools.count(1)
    return lambda length: next(numbers).to_bytes(length, "big")


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "deck" / "record.db"


@pytest.fixture
def open_log(store: Path) -> Iterator[Callable[..., Log]]:
    """Opens logs on `store` (or on the path given) and closes them at the end."""
    opened: list[Log] = []

    def opening(path: Path = store) -> Log:
        clock = Ticking()
        log = Log(path, device="box-1", wall=clock.wall, monotonic=clock.monotonic, random_bytes=counted_bytes())
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


WHOLE_CHECK: tuple[tuple[str, dict[str, object]], ...] = (
    (
        "check_started",
        {
            "check": "rental",
            "title": "Rental kit",
            "diver": "Ines",
            "items": {"jacket": "7", "mask": None},
            "by": "voice",
        },
    ),
    ("asked", {"step": "inflator", "prompt": "Press the inflator, then let go."}),
    ("doubted", {"step": "inflator", "why": "no_phrase", "text": "it is hot"}),
    (
        "answered",
        {
            "step": "inflator",
            "outcome": "fault",
            "code": "sticks",
            "name": "the inflator sticks",
            "phrase": "inflator sticks",
            "by": "voice",
            "items": {"jacket": "7"},
        },
    ),
    ("set_apart", {"item": "jacket", "number": "7", "code": "sticks", "step": "inflator"}),
    ("replaced", {"item": "jacket", "old": "7", "new": "9"}),
    (
        "answered",
        {"step": "inflator", "outcome": "passed", "phrase": "it stops", "by": "voice", "items": {"jacket": "9"}},
    ),
    ("withdrawn", {"step": "inflator", "seq": 7}),
    (
        "answered",
        {"step": "inflator", "outcome": "passed", "phrase": "it stops", "by": "typed", "items": {"jacket": "9"}},
    ),
    (
        "answered",
        {
            "step": "pressure",
            "outcome": "passed",
            "phrase": "two hundred bar",
            "by": "voice",
            "items": {"cylinder": "31"},
            "value": 200,
            "unit": "bar",
        },
    ),
    ("no_spare", {"item": "mask"}),
    ("ate_a_banana", {"why": "a newer kitcall knows", "step": {"odd": ["shape"]}}),
    ("verdict_given", {"verdict": "HOLD", "reasons": ["mask: no spare", {"say": "fins not checked"}], "count": 2}),
)


@pytest.fixture
def whole_check() -> tuple[tuple[str, dict[str, object]], ...]:
    return WHOLE_CHECK


@pytest.fixture
def kept(open_log: Callable[..., Log]) -> Log:
    """A log that holds one whole check, session "a", an answer a transaction."""
    log = open_log()
    for record in WHOLE_CHECK:
        log.append_all("a", [record], DIGEST)
    return log
