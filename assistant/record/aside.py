"""Setting a damaged store aside: renamed with its time, never deleted. Only when a person asked for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from assistant.errors import StoreDamaged
from assistant.record.lock import Lock
from assistant.record.log import Log
from assistant.record.trouble import telling

BESIDE = ("-wal", "-shm", ".head", "")  # the store itself last: until it moves, nothing new can begin


@dataclass(frozen=True, slots=True)
class Opening:
    """The log, open; and, when the old store was damaged, where it lies now and what was wrong with it."""

    log: Log
    set_aside: Path | None = None
    damage: str = ""


def open_or_set_aside(path: Path, open_log: Callable[[Path], Log], wall: Callable[[], datetime]) -> Opening:
    """Opens the store with `open_log`; a damaged one is moved aside and a new one begun.

    Damage is what hinders opening, and whatever `verify` finds. A store that is busy,
    newer or no kitcall record at all is not moved: its error comes through.
    """
    path = Path(path)
    try:
        log = open_log(path)
    except StoreDamaged as error:
        return _begun_anew(path, open_log, wall, str(error))
    report = log.verify()
    if report.ok:
        return Opening(log)
    log.close()
    return _begun_anew(path, open_log, wall, "; ".join(damage.what for damage in report.damages))


def _begun_anew(path: Path, open_log: Callable[[Path], Log], wall: Callable[[], datetime], damage: str) -> Opening:
    with telling(path):
        lock = Lock(path)
        try:
            aside = set_aside(path, wall())
        finally:
            lock.release()
    return Opening(open_log(path), aside, damage)


def set_aside(path: Path, now: datetime) -> Path:
    """Renames the store and its companions with the time; returns the new place of the store."""
    stem = f"{path.name}.aside-{now:%Y%m%dT%H%M%SZ}"
    name, number = stem, 1
    while path.with_name(name).exists():
        number += 1
        name = f"{stem}-{number}"
    for end in BESIDE:
        companion = path.with_name(path.name + end)
        if companion.exists():
            companion.rename(path.with_name(name + end))
    return path.with_name(name)
