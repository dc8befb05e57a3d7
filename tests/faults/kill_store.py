"""kill -9 at random moments while the record is written; prints what became of every acknowledged answer.

    python tests/faults/kill_store.py --kills 100 --seed 1        (in the tests)
    python tests/faults/kill_store.py --kills 2000 --seed 7       (the campaign)

A warm process forks a writer for each round. The writer opens the same store, appends
answers of one to four events and, only after append_all returned, writes "ack N" to a
pipe. It is killed after a random time, so the kill falls on opening, migrating, inserting,
committing, checkpointing or closing. Pass rule: every acknowledged answer is there once
and whole, no answer is there in part, and the chain with its receipts verifies each time.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import NoReturn

from assistant.errors import StoreError
from assistant.record import Clip, Damage, Log, Reader

PARTS = 4
Records = list[tuple[str, dict[str, object]]]
LONGEST_S = 0.15
BATCH = 100


def answers(first: int, dice: random.Random) -> Iterator[tuple[int, Records, list[Clip]]]:
    """Answers without end: a number of its own, its events, and now and then a clip."""
    number = first
    while True:
        parts = dice.randint(1, PARTS)
        facts = [{"answer": number, "part": part, "of": parts, "diver": f"diver {number}"} for part in range(parts)]
        clips = [Clip(dice.randbytes(20_000), 16000, 0.6)] if dice.random() < 0.1 else []
        yield number, [("answered", fact) for fact in facts], clips
        number += 1


def honest(log: Log, number: int, records: Records, clips: list[Clip], pipe: int) -> None:
    log.append_all(f"s{number % 7}", records, "d", clips)
    acknowledge(number, pipe)


def hasty(log: Log, number: int, records: Records, clips: list[Clip], pipe: int) -> None:
    """Acknowledges before it commits: the campaign must see lost answers."""
    acknowledge(number, pipe)
    log.append_all(f"s{number % 7}", records, "d", clips)


def piecemeal(log: Log, number: int, records: Records, clips: list[Clip], pipe: int) -> None:
    """One transaction for each event: the campaign must see answers in part."""
    for record in records:
        log.append_all(f"s{number % 7}", [record], "d", clips)
    acknowledge(number, pipe)


WRITERS = {"honest": honest, "hasty": hasty, "piecemeal": piecemeal}


def acknowledge(number: int, pipe: int) -> None:
    os.write(pipe, f"ack {number}\n".encode())


def write_until_killed(store: Path, first: int, seed: int, pipe: int, writer: str) -> NoReturn:
    """The writer. Now and then closes and opens again, so that kills fall there too."""
    dice = random.Random(seed)
    stream = answers(first, dice)
    while True:
        with Log(store, device="victim", wall=lambda: datetime.now(UTC), monotonic=time.monotonic) as log:
            os.write(pipe, b"open\n")
            log._db.execute("PRAGMA wal_autocheckpoint = 40")  # checkpoints often enough to be killed in one
            for _ in range(dice.randint(1, 30)):
                WRITERS[writer](log, *next(stream), pipe)


def kill_one(store: Path, first: int, seed: int, after_s: float, writer: str) -> list[int]:
    """Forks a writer, kills it after that time, gives the numbers that it acknowledged.

    The time counts from the fork or, for odd seeds, from when the store is open: on a busy
    machine all kills would else fall on the opening.
    """
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        try:
            write_until_killed(store, first, seed, writing, writer)
        except BaseException as error:  # noqa: BLE001 - the child must never return into the parent's code
            os.write(writing, f"broke {error!r}\n".encode())
            os._exit(1)
    os.close(writing)
    early = os.read(reading, 1 << 16) if seed % 2 else b""
    time.sleep(after_s)
    with contextlib.suppress(ProcessLookupError):
        os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    with os.fdopen(reading, "rb") as rest:
        said = [line for line in (early + rest.read()).decode().splitlines() if line != "open"]
    if broken := [line for line in said if not line.startswith("ack ")]:
        raise SystemExit(f"the writer broke: {broken}")
    return [int(line.split()[1]) for line in said]


def stored(store: Path, after: int) -> tuple[Counter[int], dict[int, int], int]:
    """How often each answer's parts are there after that event, how many there should be, and the last event."""
    parts: Counter[int] = Counter()
    wanted: dict[int, int] = {}
    last = after
    with Reader(store) as reader:
        for entry in reader.entries(after=after):
            number, of = entry.facts["answer"], entry.facts["of"]
            assert isinstance(number, int)
            assert isinstance(of, int)
            parts[number] += 1
            wanted[number] = of
            last = entry.seq
    return parts, wanted, last


def campaign(store: Path, kills: int, seed: int, writer: str = "honest") -> dict[str, int]:
    """All rounds; counts of what was seen. Lost, doubled, partial and unverified must be 0."""
    dice = random.Random(seed)
    counts = Counter(
        kills=kills, acknowledged=0, unacknowledged=0, lost=0, doubled=0, partial=0, unverified=0, unborn=0
    )
    after, first = 0, 0
    promised: list[int] = []
    for round_number in range(kills):
        acknowledged = kill_one(store, first, seed * 100_000 + round_number, dice.uniform(0.0, LONGEST_S), writer)
        try:
            parts, wanted, after = stored(store, after)
        except StoreError:  # killed before the first store was whole: nothing may have been acknowledged
            counts["unborn"] += 1
            parts, wanted = Counter(), {}
        promised += acknowledged
        counts["lost"] += sum(parts[number] == 0 for number in acknowledged)
        counts["unacknowledged"] += len(set(parts) - set(acknowledged))
        counts["doubled"] += sum(parts[number] > wanted[number] for number in parts)
        counts["partial"] += sum(0 < parts[number] < wanted[number] for number in parts)
        counts["unverified"] += not verified(store, promised)
        first = max([first, *acknowledged, *parts]) + 1
    parts, wanted, counts["events"] = stored(store, 0)
    counts["acknowledged"] = len(promised)
    counts["lost"] += sum(parts[number] != wanted.get(number) for number in promised)
    return dict(counts)


def verified(store: Path, promised: list[int]) -> bool:
    """Whether all holds. A store not yet born is no damage while nothing was acknowledged; the next round makes it."""
    if not store.exists():
        return not promised
    try:
        with Reader(store) as reader:
            damages = reader.verify().damages
    except StoreError as error:
        unborn = "is empty" in str(error) or "left in the middle" in str(error)
        damages = () if unborn and not promised else (Damage(None, str(error)),)
    if damages:
        print(damages, file=sys.stderr)
    return not damages


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--writer", choices=sorted(WRITERS), default="honest", help="hasty and piecemeal must fail")
    options = parser.parse_args()
    counts: Counter[str] = Counter()
    for batch, begun in enumerate(range(0, options.kills, BATCH)):  # a new store each, or verifying would take over
        with tempfile.TemporaryDirectory() as folder:
            kills = min(BATCH, options.kills - begun)
            counts.update(campaign(Path(folder) / "record.db", kills, options.seed + batch, options.writer))
    print(json.dumps(counts))
    return int(any(counts[name] for name in ("lost", "doubled", "partial", "unverified")))


if __name__ == "__main__":
    sys.exit(main())
