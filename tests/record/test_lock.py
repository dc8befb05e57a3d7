"""One writer: the second is refused by name, a dead one hinders nobody, readers go on."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from assistant.errors import StoreBusy
from assistant.record import Log, Reader

DIGEST = "d" * 64
ROOT = Path(__file__).parents[2]
HOLDER = """
import sys, time
from datetime import UTC, datetime
from pathlib import Path
from assistant.record import Log
log = Log(Path(sys.argv[1]), device="other", wall=lambda: datetime.now(UTC), monotonic=time.monotonic)
log.append_all("other", [("asked", {})], "d")
print("open", flush=True)
sys.stdin.read()
"""


@pytest.fixture
def holder(store: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process that has the store open for writing."""
    process = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(store)], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdin is not None
    assert process.stdout.readline() == "open\n"
    yield process
    process.stdin.close()
    process.wait(10)
    process.stdout.close()


def test_a_second_process_is_refused_by_name(
    holder: subprocess.Popen[str], open_log: Callable[..., Log], store: Path
) -> None:
    with pytest.raises(StoreBusy, match=rf"process {holder.pid}\)") as caught:
        open_log()
    assert "end it first" in caught.value.mend


def test_reading_goes_on_beside_the_writer(holder: subprocess.Popen[str], store: Path) -> None:
    with Reader(store) as reader:
        assert [entry.device for entry in reader.entries()] == ["other"]
        assert reader.verify().ok


def test_a_killed_writer_leaves_no_lock(
    holder: subprocess.Popen[str], open_log: Callable[..., Log], store: Path
) -> None:
    holder.send_signal(signal.SIGKILL)
    holder.wait(10)
    assert open_log().append_all("a", [("asked", {})], DIGEST)[0].seq == 2


def test_a_second_log_in_the_same_process_is_refused(kept: Log, open_log: Callable[..., Log]) -> None:
    with pytest.raises(StoreBusy, match=rf"process {os.getpid()}\)"):
        open_log()


def test_a_refused_opening_gives_its_lock_back(open_log: Callable[..., Log], store: Path) -> None:
    store.parent.mkdir()
    store.write_bytes(b"not a database at all" * 100)
    for _ in range(2):
        with pytest.raises(Exception, match="cannot be read"):
            open_log()
    store.unlink()
    open_log()


def test_a_write_from_a_shell_makes_it_busy_not_wrong(kept: Log, store: Path) -> None:
    kept._db.execute("PRAGMA busy_timeout = 1")
    with closing(sqlite3.connect(store, isolation_level=None)) as shell:
        shell.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreBusy, match="Another program"):
            kept.append_all("a", [("asked", {})], DIGEST)
        shell.execute("ROLLBACK")
    assert kept.append_all("a", [("asked", {})], DIGEST)[0].seq == 14
