"""The memory stick: which one is plugged in, as Linux lists it, and the record saved on it, told in words."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from assistant.errors import KitcallError, NoStick, StoreFull
from assistant.language.box import BoxWords
from assistant.record import Backup, back_up

PLACES = ("/media/", "/run/media/")
KINDS = ("vfat", "exfat", "ext4", "ext3", "ext2", "ntfs3", "fuseblk", "f2fs", "btrfs", "xfs")
MOUNTS = Path("/proc/self/mountinfo")
FOLDER = "kitcall"  # on the stick


def find_stick(mounts: Path = MOUNTS) -> Path:
    """The folder for copies on the one stick that is plugged in. Raises NoStick: none, or several."""
    found = [place for place, kind, can_write in mounted(mounts.read_text()) if can_write and is_stick(place, kind)]
    if not found:
        raise NoStick("No memory stick is plugged in, or it cannot be written.", "Plug one in, wait a moment, again.")
    if len(found) > 1:
        raise NoStick(f"{len(found)} memory sticks are plugged in.", "Leave the one that the copy goes to.")
    return Path(found[0]) / FOLDER


def is_stick(place: str, kind: str) -> bool:
    """True for a disk's file system under a place for sticks; no tmpfs, no network."""
    return kind in KINDS and place.startswith(PLACES)


def mounted(text: str) -> list[tuple[str, str, bool]]:
    """Every mount: its place, its kind, and whether it can be written.

    The format is proc_pid_mountinfo(5): fields 5 and 6 are place and options, after the dash the kind; octal escapes.
    """
    found = []
    for line in text.splitlines():
        before, _, after = line.partition(" - ")
        fields, kind, options = before.split(" "), after.split(" ")[0], after.split(" ")[-1]
        place = re.sub(r"\\([0-7]{3})", lambda code: chr(int(code[1], 8)), fields[4])
        can_write = "ro" not in fields[5].split(",") and "ro" not in options.split(",")
        found.append((place, kind, can_write))
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
