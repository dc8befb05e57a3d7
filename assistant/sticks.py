"""The memory stick: which one is plugged in, as Linux lists it, and the record saved on it, told in words."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from assistant.errors import KitcallError, NoStick, StoreFull
from assistant.language.box import BoxWords
from assistant.record import Backup, back_up

PLACES = ("/media/", "/run/media/")
KINDS = ("vfat", "exfat", "ext4", "ext3", "ext2", "ntfs3", "fuseblk", "f2fs", "btrfs", "xfs")
MOUNTS = Path("/proc/self/mountinfo")
FOLDER = "kitcall"  # on the stick


@dataclass(frozen=True, slots=True)
class Mount:
    """One line of a mount table: where, what kind, on which device, and whether it can be written."""

    place: str
    kind: str
    device: str
    can_write: bool


def find_stick(mounts: Path = MOUNTS) -> Path:
    """The folder for copies on the one stick that is plugged in. Raises NoStick: none, or several."""
    table = mounted(mounts.read_text())
    own = {mount.device for mount in table if mount.place == "/"}
    found = sorted({mount.place for mount in table if mount.can_write and is_stick(mount) and mount.device not in own})
    if not found:
        raise NoStick("No memory stick is plugged in, or it cannot be written.", "Plug one in, wait a moment, again.")
    if len(found) > 1:
        raise NoStick(f"{len(found)} memory sticks are plugged in.", "Leave the one that the copy goes to.")
    return Path(found[0]) / FOLDER


def is_stick(mount: Mount) -> bool:
    """True for a disk's file system under a place for sticks; no tmpfs, no network."""
    return mount.kind in KINDS and mount.place.startswith(PLACES)


def mounted(text: str) -> list[Mount]:
    """Every mount of a table.

    The format is proc_pid_mountinfo(5): fields 3, 5 and 6 are device, place and options, after the dash the kind; octal
    escapes. A place may stand there twice, and a piece of the box's own disk may be mounted anywhere.
    """
    found = []
    for line in text.splitlines():
        before, _, after = line.partition(" - ")
        fields, kind, options = before.split(" "), after.split(" ")[0], after.split(" ")[-1]
        place = re.sub(r"\\([0-7]{3})", lambda code: chr(int(code[1], 8)), fields[4])
        can_write = "ro" not in fields[5].split(",") and "ro" not in options.split(",")
        found.append(Mount(place, kind, fields[2], can_write))
    return found


def save(
    store: Path, words: BoxWords, say: Callable[[str], None], stick: Callable[[], Path] = find_stick
) -> Backup | None:
    """Copy the record to the stick and say how it went; None when it did not. The check goes on either way."""
    say(words.say("saving"))
    try:
        made = back_up(store, stick(), lambda: datetime.now(UTC))
    except KitcallError as problem:
        code = {NoStick: "no_stick", StoreFull: "stick_full"}.get(type(problem), "copy_failed")
        say(words.say("not_saved", say=words.troubles[code].say, do=words.troubles[code].do))
        return None
    say(words.say("saved", count=made.events))
    return made
