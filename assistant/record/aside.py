"""Setting a damaged store aside: renamed with its time, never deleted. Only when a person asked for it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from errno import ENOSYS, EOPNOTSUPP, EPERM
from pathlib import Path

from assistant.errors import StoreDamaged
from assistant.record import folder
from assistant.record.lock import Lock
from assistant.record.log import Log
from assistant.record.trouble import telling

# in this order; the receipts last, so that a store half set aside still shows as cut off
BESIDE = ("-wal", "-shm", "", ".head")


@dataclass(frozen=True, slots=True)
class Opening:
    """The log, open; and, when the old store was damaged, where it lies now and what was wrong with it."""

    log: Log
    set_aside: Path | None = None
    damage: str = ""


def open_or_set_aside(
    path: Path, open_log: Callable[[Path], Log], wall: Callable[[], datetime] = lambda: datetime.now(UTC)
) -> Opening:
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
    """Gives the store and its companions a new name with the time; returns the store's new place.

    All new names are on the disk before the first old one goes, so that a power cut loses nothing.
    """
    aside = _free_name(path, f"{path.name}.aside-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}")
    ends = [end for end in BESIDE if path.with_name(path.name + end).exists()]
    for end in ends:
        _keep(path.with_name(path.name + end), aside.with_name(aside.name + end))
    folder.sync(path.parent)
    for end in ends:
        path.with_name(path.name + end).unlink()
    folder.sync(path.parent)
    return aside


def _free_name(path: Path, stem: str) -> Path:
    name, number = stem, 1
    while path.with_name(name).exists():
        number += 1
        name = f"{stem}-{number}"
    return path.with_name(name)


def _keep(old: Path, new: Path) -> None:
    try:
        os.link(old, new)
    except OSError as error:
        if error.errno not in (EPERM, EOPNOTSUPP, ENOSYS):  # FAT knows no second names
            raise
        shutil.copy2(old, new)
        folder.sync(new)
