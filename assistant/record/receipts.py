"""Head receipts: how long the chain was and how it ended, in a small text file beside the store.

The chain alone cannot show that its end was cut off; a receipt can. Rules:
a receipt is written only after the commit, so an honest crash never leaves one
ahead of the store; it is not synced for each answer and its failure never fails
an append, so it makes no answer late or lost (it is synced when a log closes).
One line per opening of the log, rewritten in place, padded to 128 bytes so that
it never straddles a disk sector. It guards against accidents and clumsy edits;
who can rewrite both files can only be caught by a head noted elsewhere.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from assistant.record.chain import Damage

MARK = "kitcall-head-1"
LINE_BYTES = 128


@dataclass(frozen=True, slots=True)
class Receipt:
    """After `count` events the head hash was `head`."""

    count: int
    head: str


def place(store: Path) -> Path:
    return store.with_name(store.name + ".head")


class Receipts:
    """Writes the receipt of one opening. `trouble` says why the last one could not be written, or ''."""

    def __init__(self, store: Path) -> None:
        self.trouble = ""
        self._fd = -1
        try:
            self._fd = os.open(place(store), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
            size = os.fstat(self._fd).st_size
            self._offset = -(-size // LINE_BYTES) * LINE_BYTES
        except OSError as error:
            self.trouble = str(error)

    def note(self, receipt: Receipt) -> None:
        """Writes this opening's line anew. Never raises: the answer is already safe."""
        if self._fd < 0:
            return
        line = f"{MARK} {receipt.count:015d} {receipt.head}".ljust(LINE_BYTES - 1) + "\n"
        try:
            os.pwrite(self._fd, line.encode("ascii"), self._offset)
            self.trouble = ""
        except OSError as error:
            self.trouble = str(error)

    def close(self) -> None:
        """Syncs and closes. Never raises."""
        if self._fd < 0:
            return
        try:
            os.fsync(self._fd)
        except OSError as error:
            self.trouble = str(error)
        os.close(self._fd)
        self._fd = -1


def read(store: Path) -> tuple[list[Receipt], int]:
    """All readable receipts in order, and how many lines could not be read (a torn write leaves one)."""
    try:
        data = place(store).read_bytes()
    except FileNotFoundError:
        return [], 0
    lines = [data[at : at + LINE_BYTES] for at in range(0, len(data), LINE_BYTES)]
    found = [receipt for line in lines if (receipt := _parsed(line)) is not None]
    return found, len(lines) - len(found)


def _parsed(line: bytes) -> Receipt | None:
    parts = line.decode("ascii", "replace").split()
    if len(line) != LINE_BYTES or len(parts) != 3 or parts[0] != MARK:
        return None
    if not (parts[1].isdigit() and len(parts[2]) == 64):
        return None
    return Receipt(int(parts[1]), parts[2])


def compare(receipts: list[Receipt], count: int, hash_at: Callable[[int], str | None]) -> Iterator[Damage]:
    """What the receipts say against a store of `count` events whose hashes `hash_at(seq)` gives."""
    for receipt in receipts:
        if receipt.count > count:
            lost = receipt.count - count
            yield Damage(count + 1, f"the end was cut off: {receipt.count} events were recorded, {lost} are gone")
        elif receipt.count and hash_at(receipt.count) != receipt.head:
            yield Damage(receipt.count, f"event {receipt.count} is not the one that was recorded under this number")
