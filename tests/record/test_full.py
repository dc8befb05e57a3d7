"""A full disk: the answer is refused whole, the log stays, and goes on when there is space again."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.errors import StoreFull
from assistant.record import Log, Reader

DIGEST = "d" * 64
LONG = ("answered", {"step": "hoses", "text": "x" * 3000})


def fill(log: Log) -> int:
    """Appends until the store is full; gives the number of acknowledged events."""
    for acknowledged in range(100_000):
        try:
            log.append_all("a", [LONG, LONG], DIGEST)
        except StoreFull:
            return 2 * acknowledged
    raise AssertionError("the store never got full")


def test_full_by_page_limit_then_space(open_log: Callable[..., Log]) -> None:
    log = open_log()
    log._db.execute("PRAGMA max_page_count = 60")
    acknowledged = fill(log)
    assert acknowledged > 20
    with pytest.raises(StoreFull, match="No space") as caught:
        log.append_all("a", [LONG, LONG], DIGEST)
    assert "say the last answer again" in caught.value.mend
    assert [e.seq for e in log.entries()] == list(range(1, acknowledged + 1))
    log._db.execute("PRAGMA max_page_count = 10000")
    assert log.append_all("a", [LONG], DIGEST)[0].seq == acknowledged + 1
    assert log.verify().ok


def test_full_disk_then_space(small_disk: Path, open_log: Callable[..., Log]) -> None:
    ballast = small_disk / "ballast"
    ballast.write_bytes(bytes(300_000))
    log = open_log(small_disk / "record.db")
    acknowledged = fill(log)
    assert [e.seq for e in log.entries()] == list(range(1, acknowledged + 1))
    assert log.verify().ok
    ballast.unlink()
    assert log.append_all("a", [LONG], DIGEST)[0].seq == acknowledged + 1
    log.close()
    with Reader(small_disk / "record.db") as reader:
        report = reader.verify()
    assert (report.ok, report.count) == (True, acknowledged + 1)


LEVELS = [0, 4096, 8192, 16_384, 32_768, 65_536]


@pytest.mark.parametrize("free_bytes", LEVELS)
def test_opening_on_a_nearly_full_disk_is_clear_and_loses_nothing(
    small_disk: Path, open_log: Callable[..., Log], free_bytes: int
) -> None:
    path = small_disk / "record.db"
    log = open_log(path)
    log.append_all("a", [LONG], DIGEST)
    log.close()
    taken = os.statvfs(small_disk)
    (small_disk / "ballast").write_bytes(bytes(max(0, taken.f_bavail * taken.f_frsize - free_bytes)))
    acknowledged = 1
    try:
        log = open_log(path)
        log.append_all("a", [LONG], DIGEST)
        acknowledged = 2
    except StoreFull:
        pass
    log.close()
    (small_disk / "ballast").unlink()
    with Reader(path) as reader:
        report = reader.verify()
    assert (report.ok, report.count) == (True, acknowledged)
