"""Commits per second of the record, beside plain sqlite3 with the same safety, in one run.

    python tests/bench/bench_commits.py [--answers 300] [--folder DIR]

Both write one answer a transaction, WAL with synchronous=FULL, in the same folder, in
turns of fifty so that a busy disk hits both alike. The third figure (synchronous=OFF)
shows what our own work costs without the disk. DIR should be on the disk that will
hold the record; a folder in memory measures nothing.
"""

from __future__ import annotations

import argparse
import json
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack, closing
from datetime import UTC, datetime
from pathlib import Path

from assistant.record import Log

TURN = 50
FACTS = {"step": "hoses", "outcome": "passed", "phrase": "hoses are clean", "by": "voice", "items": {"regulator": "7"}}
Commit = Callable[[], object]


def plain(path: Path) -> sqlite3.Connection:
    conn = sqlite3.connect(path, isolation_level=None)
    conn.execute("PRAGMA journal_mode = wal")
    conn.execute("PRAGMA synchronous = FULL")
    conn.execute("CREATE TABLE event (seq INTEGER PRIMARY KEY, facts TEXT)")
    return conn


def plain_commit(conn: sqlite3.Connection) -> None:
    conn.execute("BEGIN")
    conn.execute("INSERT INTO event (facts) VALUES (?)", (json.dumps(FACTS),))
    conn.execute("COMMIT")


def open_log(path: Path) -> Log:
    return Log(path, device="bench", wall=lambda: datetime.now(UTC), monotonic=time.monotonic)


def timed(commit: Commit, times: int) -> list[float]:
    taken_s = []
    for _ in range(times):
        start_s = time.perf_counter()
        commit()
        taken_s.append(time.perf_counter() - start_s)
    return taken_s


def measure(folder: Path, answers: int) -> dict[str, list[float]]:
    """Seconds of every commit, by writer."""
    with ExitStack() as stack:
        conn = stack.enter_context(closing(plain(folder / "plain.db")))
        log = stack.enter_context(open_log(folder / "log.db"))
        unsynced = stack.enter_context(open_log(folder / "unsynced.db"))
        unsynced._db.execute("PRAGMA synchronous = OFF")
        writers: dict[str, Commit] = {
            "plain sqlite3, FULL": lambda: plain_commit(conn),
            "the record, FULL": lambda: log.append_all("s", [("answered", FACTS)], "d"),
            "the record, OFF": lambda: unsynced.append_all("s", [("answered", FACTS)], "d"),
        }
        taken_s: dict[str, list[float]] = {name: [] for name in writers}
        for _ in range(max(1, answers // TURN)):
            for name, commit in writers.items():
                taken_s[name] += timed(commit, TURN)
        return taken_s


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--answers", type=int, default=300)
    parser.add_argument("--folder", type=Path, default=Path())
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=options.folder) as folder:
        taken_s = measure(Path(folder), options.answers)
    for name, all_s in taken_s.items():
        late_ms = statistics.quantiles(all_s, n=20)[-1] * 1000
        print(f"{name:<20} {len(all_s) / sum(all_s):8.0f} commits/s   median {statistics.median(all_s) * 1000:6.2f} ms"
              f"   95 % {late_ms:6.2f} ms")  # fmt: skip
    ratio = sum(taken_s["plain sqlite3, FULL"]) / sum(taken_s["the record, FULL"])
    print(f"the record does {ratio:.2f} of plain sqlite3's commits per second at the same safety")


if __name__ == "__main__":
    main()
