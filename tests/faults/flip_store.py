"""One bit of one byte of the store flipped at seeded places; two writers at once; too little memory.

    PYTHONPATH=. python tests/faults/flip_store.py --flips 60 --pairs 2 --limits 2 --seed 1        (in the tests)
    PYTHONPATH=. python tests/faults/flip_store.py --flips 500 --pairs 40 --limits 30 --seed 3     (the whole)

Pass rule of a flip: the store is refused with what to do, or verify names the damage, or the byte holds nothing (all
that can be read reads as before); and by the box's own way (set aside, begin anew) the next answer is recorded while
the old file stays. Of two writers one is refused as busy and the other loses nothing. A writer that runs out of
memory loses no acknowledged answer.
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from assistant.errors import StoreBusy, StoreError
from assistant.record import Clip, Log, Reader, open_or_set_aside

ANSWERS, DIGEST = 80, "d"
WRONG = ("missed", "not begun anew", "old one gone", "lost", "doubled", "unverified", "broke")
TABLES = ("sqlite_schema", "migration", "event", "personal", "clip")


def open_log(store: Path) -> Log:
    return Log(store, device="victim", wall=lambda: datetime.now(UTC), monotonic=time.monotonic)


def write_whole(store: Path) -> None:
    """A store with answers and a voice note, closed."""
    with open_log(store) as log:
        for number in range(ANSWERS):
            log.append_all(f"s{number % 5}", [("asked", {"n": number}), ("answered", {"answer": number})], DIGEST)
        clip = Clip(bytes(range(256)) * 40, 16000, 0.3)
        log.append_all("s1", [("noted", {"clip": clip.digest})], DIGEST, [clip])


def content(store: Path) -> list[object]:
    """Everything that the file holds for anybody who reads it."""
    with closing(sqlite3.connect(f"file:{store}?mode=ro", uri=True)) as conn:
        rows: list[object] = [conn.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall() for table in TABLES]
        return rows + [conn.execute(f"PRAGMA {name}").fetchall() for name in ("user_version", "application_id")]


def judge_flip(store: Path, before: list[object]) -> str:
    try:
        with Reader(store) as reader:
            report = reader.verify()
    except StoreError as problem:
        return "refused" if problem.mend else "missed"
    if not report.ok:
        return "named"
    try:
        return "unused" if content(store) == before else "missed"
    except sqlite3.Error:
        return "missed"


def flip(folder: Path, flips: int, dice: random.Random, counts: Counter[str]) -> None:
    whole = folder / "whole.db"
    write_whole(whole)
    data, before = whole.read_bytes(), content(whole)
    for number in range(flips):
        store = folder / f"{number}/record.db"
        store.parent.mkdir()
        place, bit = dice.randrange(len(data)), dice.randrange(8)
        store.write_bytes(data[:place] + bytes([data[place] ^ 1 << bit]) + data[place + 1 :])
        shutil.copyfile(folder / "whole.db.head", store.with_name("record.db.head"))
        outcome = judge_flip(store, before)
        counts["flips"] += 1
        counts[outcome] += 1
        if counts["flips"] % 50 == 0:
            print(json.dumps(counts), file=sys.stderr, flush=True)
        if outcome == "missed":
            print(f"missed: byte {place}, bit {bit}", file=sys.stderr)
        begin_anew(store, outcome, counts)
        shutil.rmtree(store.parent)


def begin_anew(store: Path, outcome: str, counts: Counter[str]) -> None:
    """As the keeper does with the button: the old file stays, and the next answer is recorded."""
    try:
        opening = open_or_set_aside(store, open_log, lambda: datetime.now(UTC))
    except StoreError as problem:  # a flip in the head's marks: no kitcall record any more, left where it is
        counts["left in place"] += 1
        counts["not begun anew"] += not problem.mend
        return
    with opening.log as log:
        log.append_all("new", [("continued", {})], DIGEST)
        counts["not begun anew"] += not log.verify().ok
    counts["set aside"] += opening.set_aside is not None
    counts["old one gone"] += outcome == "named" and not (opening.set_aside and opening.set_aside.exists())


def write_told(store: Path, first: int) -> None:
    """A writer of 30 answers, each told once it is recorded; says busy when another has the store."""
    try:
        with open_log(store) as log:
            for number in range(first, first + 30):
                log.append_all("s", [("answered", {"answer": number})], DIGEST)
                print(f"ack {number}", flush=True)
    except StoreBusy as problem:
        print(f"busy {bool(problem.mend)}", flush=True)


def pair(folder: Path, pairs: int, counts: Counter[str]) -> None:
    """Two processes on one store, let go together once both are there."""
    for number in range(pairs):
        store = folder / f"pair{number}.db"
        children = [start(store, first) for first in (0, 1000)]
        counts["broke"] += sum(child.stdout.readline() != "here\n" for child in children)  # type: ignore[union-attr]
        for child in children:
            child.stdin.write("\n")  # type: ignore[union-attr]
            child.stdin.flush()  # type: ignore[union-attr]
        told = [child.communicate(timeout=1200)[0].splitlines() for child in children]
        counts["pairs"] += 1
        counts["refused as busy"] += sum(lines == ["busy True"] for lines in told)
        counts["broke"] += sum(child.returncode != 0 for child in children)
        judge_told(store, [line for lines in told for line in lines], counts)


def limit(folder: Path, limits: int, counts: Counter[str]) -> None:
    """A writer with less and less address space."""
    for number in range(limits):
        store = folder / f"limit{number}.db"
        most_bytes = (16 + number) << 20
        child = start(store, 0, lambda most=most_bytes: resource.setrlimit(resource.RLIMIT_AS, (most, most)))
        told = child.communicate("\n", timeout=1200)[0].splitlines()
        counts["limits"] += 1
        counts["ended for want of memory"] += child.returncode != 0
        judge_told(store, told, counts)


def start(store: Path, first: int, before: object = None) -> subprocess.Popen[str]:
    command = [sys.executable, __file__, "--write", str(store), "--first", str(first)]
    quiet = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL, "text": True}
    return subprocess.Popen(command, preexec_fn=before, **quiet)


def judge_told(store: Path, told: list[str], counts: Counter[str]) -> None:
    acknowledged = [int(line.split()[1]) for line in told if line.startswith("ack")]
    counts["acknowledged"] += len(acknowledged)
    if not store.exists() or store.stat().st_size == 0:
        counts["lost"] += len(acknowledged)
        return
    with open_log(store) as log:
        seen = Counter(int(str(entry.facts["answer"])) for entry in log.entries())
        counts["unverified"] += not log.verify().ok
    counts["lost"] += sum(seen[number] == 0 for number in acknowledged)
    counts["doubled"] += sum(times > 1 for times in seen.values())


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name in ("flips", "pairs", "limits"):
        parser.add_argument(f"--{name}", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--first", type=int, default=0, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.write:
        print("here", flush=True)
        sys.stdin.readline()
        write_told(options.write, options.first)
        return 0
    counts: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as name:
        flip(Path(name), options.flips, random.Random(options.seed), counts)
        pair(Path(name), options.pairs, counts)
        limit(Path(name), options.limits, counts)
    print(json.dumps({**counts, **{each: counts[each] for each in WRONG}}))
    return int(any(counts[each] for each in WRONG))


if __name__ == "__main__":
    sys.exit(main())
