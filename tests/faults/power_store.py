"""Power cuts while the record is written: the disk as it would be found, rebuilt from the system calls.

    PYTHONPATH=. python tests/faults/power_store.py --cuts 200 --seed 1 --every-sync 10     (in the tests)
    PYTHONPATH=. python tests/faults/power_store.py --cuts 500 --seed 2 --every-sync 1      (the whole)

A writer runs once under strace, which notes every write, sync, new and removed name, and
every acknowledgement. Then the power is cut at seeded moments: of each file there is what
was last synced, and of the later writes any subset; of the later names any first part. After every
k-th sync it is cut twice more: at once, and just before the next sync with all writes between them dropped.
Pass rule: the next start opens the store, every answer acknowledged before the cut is there
once, chain and receipts verify, and the log goes on. `--synchronous NORMAL` is a wrong writer that the rule must catch.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from assistant.errors import StoreError
from assistant.record import Log

CALLS = "openat,pwrite64,write,ftruncate,fsync,fdatasync,unlink"
WRONG = ("lost", "doubled", "unverified", "refused")
LINE = re.compile(r"^(\w+)\((.*)\)\s+= (\d+)")
OPENED = re.compile(r'"([^"]*)", ([A-Z_|]+)')
TARGET = re.compile(r"^\d+<([^>]*)>")
WRITTEN = re.compile(r'"((?:\\x[0-9a-f]{2})*)", (\d+)(?:, (\d+))?')


def write_answers(store: Path, answers: int, synchronous: str) -> None:
    """The writer under strace; ends without closing, as a cut does."""
    log = Log(store, device="victim", wall=lambda: datetime.now(UTC), monotonic=time.monotonic)
    log._db.execute(f"PRAGMA synchronous = {synchronous}")
    log._db.execute("PRAGMA wal_autocheckpoint = 25")
    for number in range(1, answers + 1):
        log.append_all("s", [("answered", {"answer": number, "diver": f"diver {number}"})] * (1 + number % 3), "d")
        os.write(1, f"ack {number}\n".encode())
    os._exit(0)


@dataclass
class Disk:
    """What is surely on the disk, and what is only in memory: writes by file, and names of files."""

    synced: dict[str, bytearray] = field(default_factory=dict)
    loose: dict[str, list[tuple[int, bytes | None]]] = field(default_factory=dict)
    names: set[str] = field(default_factory=set)
    loose_names: list[tuple[str, bool]] = field(default_factory=list)
    acknowledged: int = 0

    def take(self, call: str, target: str, text: str) -> None:
        """One system call. A write is (offset, bytes), a truncation (length, None)."""
        if call == "write":
            self.acknowledged += target.startswith("pipe:")
        elif call == "pwrite64" and (found := WRITTEN.search(text)):
            data = bytes.fromhex(found[1].replace("\\x", ""))
            self.loose.setdefault(target, []).append((int(found[3]), data))
        elif call == "ftruncate":
            self.loose.setdefault(target, []).append((int(text.split(", ")[1]), None))
        elif call in ("fsync", "fdatasync") and Path(target).is_dir():
            self._settle_names(len(self.loose_names))
        elif call in ("fsync", "fdatasync"):
            changes = self.loose.pop(target, [])
            change(self.synced.setdefault(target, bytearray()), changes)
        else:
            self.loose_names.append((target, call == "openat"))
            if call == "unlink":
                self.loose.pop(target, None)

    def _settle_names(self, count: int) -> None:
        for name, there in self.loose_names[:count]:
            self.names = self.names | {name} if there else self.names - {name}
        del self.loose_names[:count]

    def lose_power(self, dice: random.Random | None, folder: Path) -> None:
        """Writes into `folder` the files as they might be found; without dice, nothing that was not synced is there."""
        names = set(self.names)
        for name, there in self.loose_names[: dice.randint(0, len(self.loose_names)) if dice else 0]:
            names = names | {name} if there else names - {name}
        for name in names:
            if name.endswith("-shm"):
                continue
            data = bytearray(self.synced.get(name, b""))
            if dice:
                chance = dice.choice((0.0, 0.5, 0.9))
                change(data, [one for one in self.loose.get(name, []) if dice.random() < chance])
            (folder / Path(name).name).write_bytes(data)


def change(data: bytearray, changes: list[tuple[int, bytes | None]]) -> None:
    for at, new in changes:
        if new is None:
            del data[at:]
            data.extend(bytes(at - len(data)))
        else:
            data.extend(bytes(max(0, at - len(data))))
            data[at : at + len(new)] = new


def trace(folder: Path, answers: int, synchronous: str) -> list[tuple[str, str, str]]:
    """The writer's calls on the store's files, in order: name, target, arguments."""
    noted = folder / "calls"
    child = [sys.executable, __file__, "--write", str(folder / "deck"), "--answers", str(answers)]
    command = ["strace", "-y", "-xx", "-s", "200000", "-e", f"trace={CALLS}", "-o", str(noted), *child]
    subprocess.run([*command, "--synchronous", synchronous], check=True, stdout=subprocess.PIPE)
    calls = []
    for line in noted.read_text().splitlines():
        if not (found := LINE.match(line)):
            continue
        call, text = found[1], found[2]
        target = target_of(call, text)
        if target.startswith(f"{folder}/deck") or (
            call == "write" and target.startswith("pipe:") and "ack" in plain(text)
        ):
            calls.append((call, target, text))
    return calls


def target_of(call: str, text: str) -> str:
    if call == "openat":
        found = OPENED.search(text)
        return plain(found[1]) if found and "O_CREAT" in found[2] else ""
    if call == "unlink":
        return plain(text.strip('"'))
    at = TARGET.match(text)
    return plain(at[1]) if at else ""


def plain(text: str) -> str:
    return re.sub(r"\\x([0-9a-f]{2})", lambda found: chr(int(found[1], 16)), text)


def campaign(cuts: int, seed: int, answers: int, synchronous: str, every_sync: int) -> dict[str, int]:
    """All cuts of one traced run; lost, doubled, unverified and refused must be 0."""
    counts = Counter(cuts=0, lost=0, doubled=0, unverified=0, refused=0, syncs=0, acknowledged_at_cuts=0)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name).resolve()
        calls = trace(folder, answers, synchronous)
        syncs = [moment for moment, (call, *_) in enumerate(calls, start=1) if call in ("fsync", "fdatasync")]
        counts["syncs"] = len(syncs)
        dice, disk = random.Random(seed), Disk()
        moments = Counter(dice.randint(1, len(calls)) for _ in range(cuts))
        ends = [*syncs[1:], len(calls) + 1]
        dropped = {at for sync, end in list(zip(syncs, ends, strict=True))[::every_sync] for at in (sync, end - 1)}
        for moment, call in enumerate(calls, start=1):
            disk.take(*call)
            for each in [dice] * moments[moment] + [None] * (moment in dropped):
                cut(disk, each, folder / "found", counts)
        assert disk.acknowledged == answers, "the trace missed acknowledgements"
    return dict(counts)


def cut(disk: Disk, dice: random.Random | None, found: Path, counts: Counter[str]) -> None:
    """One cut, and the next start."""
    found.mkdir()
    disk.lose_power(dice, found)
    counts["cuts"] += 1
    counts["all unsynced dropped"] += dice is None
    judge(found / "record.db", disk.acknowledged, counts)
    shutil.rmtree(found)


def judge(store: Path, acknowledged: int, counts: Counter[str]) -> None:
    """Opens what was found as the next start would, verifies, and records one event more."""
    counts["acknowledged_at_cuts"] += acknowledged
    seen: Counter[int] = Counter()
    try:
        with Log(store, device="victim", wall=lambda: datetime.now(UTC), monotonic=time.monotonic) as log:
            counts["unverified"] += not log.verify().ok
            seen.update(int(str(entry.facts["answer"])) for entry in log.entries())
            log.append_all("s", [("continued", {})], "d")
            counts["unverified"] += not log.verify().ok
    except StoreError as error:
        print(f"refused after {acknowledged} answers: {error}", file=sys.stderr)
        counts["refused"] += 1
    counts["lost"] += sum(seen[number] == 0 for number in range(1, acknowledged + 1))
    counts["doubled"] += sum(times != 1 + number % 3 for number, times in seen.items())


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cuts", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--answers", type=int, default=60)
    parser.add_argument("--every-sync", type=int, default=1, help="cut after every so many-th sync too")
    parser.add_argument("--synchronous", choices=("FULL", "NORMAL"), default="FULL", help="NORMAL must fail")
    parser.add_argument("--write", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.write:
        write_answers(options.write / "record.db", options.answers, options.synchronous)
    counts = campaign(options.cuts, options.seed, options.answers, options.synchronous, options.every_sync)
    print(json.dumps(counts))
    return int(any(counts[name] for name in WRONG))


if __name__ == "__main__":
    sys.exit(main())
