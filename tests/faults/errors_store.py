"""Input/output errors at every k-th system call of the record's writer, once and lasting; disk full at many levels.

    PYTHONPATH=. python tests/faults/errors_store.py --every 40          (in the tests)
    PYTHONPATH=. python tests/faults/errors_store.py --levels 50         (the whole)

A writer, forked from a warm process, appends answers, telling each only once it is recorded; strace, attached before
it begins, makes the k-th write, sync, truncation or opening of the store's files fail with EIO, once or from then on.
Disk full is a small file system in memory, filled up to each level. Pass rule: every acknowledged answer is there once
and whole, chain and receipts verify, what was refused was refused as one of our errors with what to do, and afterwards
the store opens and takes an answer again.
"""

from __future__ import annotations

import argparse
import ctypes
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

from assistant.errors import StoreError
from assistant.record import Log

CALLS = "pwrite64,fsync,fdatasync,ftruncate,openat,pread64,unlink"
WRONG = ("lost", "doubled", "partial", "unverified", "not recovered", "broke", "no advice")
PARTS = 3
HUNG_S = 300.0


def open_log(store: Path) -> Log:
    return Log(store, device="victim", wall=lambda: datetime.now(UTC), monotonic=time.monotonic)


def write_answers(store: Path, answers: int, hasty: bool) -> None:
    """The writer under strace. After a refusal it says the answer again, as a diver would, and gives up in the end.

    Whoever opens the record anew goes on from what it holds, as a check does: a commit whose sync failed was refused,
    and may be there all the same.
    """
    number, refused = 1, 0
    log: Log | None = None
    while number <= answers and refused < 5:
        try:
            if log is None:
                log = open_log(store)
                log._db.execute("PRAGMA wal_autocheckpoint = 10")
                while any(entry.facts["answer"] == number for entry in log.entries()):
                    os.write(1, b"found\n")
                    number += 1
                continue
            if hasty:
                os.write(1, f"ack {number}\n".encode())
            facts = [{"answer": number, "part": part} for part in range(PARTS)]
            log.append_all("s", [("answered", fact) for fact in facts], "d")
        except StoreError as problem:
            refused += 1
            os.write(1, f"refused {bool(problem.mend)}\n".encode())
            if refused % 2 == 0 and log is not None:
                log.close()
                log = None
            continue
        os.write(1, f"ack {number}\n".encode())
        number += 1
    if log is not None:
        log.close()


def start(store: Path, answers: int, hasty: bool = False) -> int:
    """Forks a writer that waits for SIGCONT; what it tells and what breaks it go into files: see `notes`."""
    store.parent.mkdir(parents=True, exist_ok=True)
    pid = os.fork()
    if pid == 0:
        for name, descriptor in (("told", 1), ("errors", 2)):
            os.dup2(os.open(notes(store) / name, os.O_WRONLY | os.O_CREAT | os.O_APPEND), descriptor)
        os.kill(os.getpid(), signal.SIGSTOP)
        try:
            write_answers(store, answers, hasty)
            os._exit(0)
        except BaseException as error:  # noqa: BLE001 - the child must never return into the parent's code
            os.write(2, repr(error).encode())
            os._exit(1)
    os.waitpid(pid, os.WUNTRACED)
    return pid


def notes(store: Path) -> Path:
    """Where the writer's notes lie: not where a disk is full."""
    return Path(f"{store.parent}-notes")


def end(pid: int, store: Path) -> tuple[list[str], str, int]:
    """Lets the writer go; gives what it told, what broke it, and its exit status. One that hangs is killed."""
    killer = threading.Timer(HUNG_S, os.kill, (pid, signal.SIGKILL))
    killer.start()
    os.kill(pid, signal.SIGCONT)
    status = os.waitpid(pid, 0)[1]
    killer.cancel()
    return (notes(store) / "told").read_text().splitlines(), (notes(store) / "errors").read_text(), status


def inject(folder: Path, answers: int, call: str, when: str, hasty: bool = False) -> tuple[list[str], str, int]:
    """Runs the writer with that failure; gives what `end` gives."""
    store = folder / "deck/record.db"
    notes(store).mkdir()
    paths = [f"--trace-path={store}{end}" for end in ("", "-wal", "-shm", ".head", ".lock", "-journal")]
    failure = [f"--inject={call}:error=EIO:when={when}"] if call else []
    pid = start(store, answers, hasty)
    command = ["strace", "-qq", "-o", str(folder / "calls"), *paths, "-e", f"trace={CALLS}", *failure, "-p", str(pid)]
    with subprocess.Popen(command) as tracer:
        while not is_traced(pid):
            assert tracer.poll() is None, "strace could not attach"
            time.sleep(0.005)
        return end(pid, store)


def is_traced(pid: int) -> bool:
    return "TracerPid:\t0\n" not in Path(f"/proc/{pid}/status").read_text()


def judge(store: Path, told: list[str], error: str, status: int, counts: Counter[str]) -> None:
    """What is on the disk, against what was acknowledged; then the next start."""
    counts["runs"] += 1
    if counts["runs"] % 20 == 0:
        print(json.dumps(counts), file=sys.stderr, flush=True)
    acknowledged = [int(line.split()[1]) for line in told if line.startswith("ack")]
    counts["acknowledged"] += len(acknowledged)
    counts["refused"] += sum(line.startswith("refused") for line in told)
    counts["refused, yet there"] += told.count("found")
    counts["no advice"] += told.count("refused False")
    if status:
        print(f"the writer broke: {error.strip()[-400:]}", file=sys.stderr)
        counts["broke"] += 1
    seen: Counter[int] = Counter()
    try:
        with open_log(store) as log:
            report = log.verify()
            counts["unverified"] += not report.ok
            if not report.ok:
                print(report.damages, file=sys.stderr)
            seen.update(int(str(entry.facts["answer"])) for entry in log.entries())
            log.append_all("s", [("continued", {})], "d")
    except StoreError as problem:
        print(f"not recovered: {problem}", file=sys.stderr)
        counts["not recovered"] += 1
    counts["lost"] += sum(seen[number] == 0 for number in acknowledged)
    counts["partial"] += sum(0 < times < PARTS for times in seen.values())
    counts["doubled"] += sum(times > PARTS for times in seen.values())


def try_errors(answers: int, every: int, hasty: bool, counts: Counter[str]) -> None:
    """Every so many-th call of each kind, once and lasting."""
    with tempfile.TemporaryDirectory() as name:
        inject(Path(name).resolve(), answers, "", "")
        made = Counter(line.split("(")[0] for line in (Path(name) / "calls").read_text().splitlines())
    for call in CALLS.split(","):
        for place in range(1, made[call] + 1, every):
            for when in (str(place), f"{place}+"):
                with tempfile.TemporaryDirectory() as name:
                    told, error, status = inject(Path(name).resolve(), answers, call, when, hasty)
                    judge(Path(name) / "deck/record.db", told, error, status, counts)
                    counts["lasting" if when.endswith("+") else "once"] += 1


def try_levels(levels: int, counts: Counter[str]) -> None:
    """A file system of 1 MiB with less and less room; then room again."""
    libc = ctypes.CDLL(None, use_errno=True)
    for level in range(levels):
        with tempfile.TemporaryDirectory() as name:
            if libc.mount(b"none", name.encode(), b"tmpfs", 0, b"size=1m") != 0:
                raise SystemExit(f"mounting is not permitted here: {os.strerror(ctypes.get_errno())}")
            try:
                fill_up(Path(name), 4096 * level, counts)
            finally:
                libc.umount2(name.encode(), 2)


def fill_up(place: Path, free_bytes: int, counts: Counter[str]) -> None:
    ballast = place / "ballast"
    room = os.statvfs(place)
    ballast.write_bytes(bytes(room.f_bavail * room.f_frsize - free_bytes))
    store = place / "record.db"
    notes(store).mkdir()
    told, error, status = end(start(store, 400), store)
    ballast.unlink()
    judge(store, told, error, status, counts)
    shutil.rmtree(notes(store))
    counts["levels"] += 1


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--every", type=int, default=1, help="try only every so many-th call; 0 leaves errors out")
    parser.add_argument("--levels", type=int, default=0, help="how many levels of a full disk")
    parser.add_argument("--answers", type=int, default=12)
    parser.add_argument("--hasty", action="store_true", help="a writer that tells first and records then: must fail")
    options = parser.parse_args()
    counts: Counter[str] = Counter()
    if options.every:
        try_errors(options.answers, options.every, options.hasty, counts)
    try_levels(options.levels, counts)
    print(json.dumps({**counts, **{name: counts[name] for name in WRONG}}))
    return int(any(counts[name] for name in WRONG))


if __name__ == "__main__":
    sys.exit(main())
