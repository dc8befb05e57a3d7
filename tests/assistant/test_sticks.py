"""Which memory stick is plugged in, from lines as proc_pid_mountinfo(5) has them; and what saving says."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from assistant.errors import NoStick
from assistant.language.box import shipped_box_words
from assistant.record import Log, Reader
from assistant.sticks import find_stick, save

ROOT = "22 1 179:2 / / rw,noatime shared:1 - ext4 /dev/mmcblk0p2 rw\n"
DATA = "40 22 0:38 / /media/scratch rw - tmpfs tmpfs rw\n"
STICK = "51 22 8:1 / /media/kitcall rw,nosuid shared:30 master:1 - vfat /dev/sda1 rw,uid=900\n"
SPACED = r"52 22 8:17 / /media/keeper/MY\040STICK rw shared:31 - exfat /dev/sdb1 rw" + "\n"
LOCKED = "53 22 8:33 / /media/keeper/locked ro shared:32 - vfat /dev/sdc1 ro\n"
ELSEWHERE = "54 22 8:49 / /mnt/disk rw shared:33 - ext4 /dev/sdd1 rw\n"
OWN = "55 22 179:2 /media/kitcall /media/kitcall rw,noatime - ext4 /dev/mmcblk0p2 rw\n"  # as systemd opens a folder


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        (ROOT + STICK, "/media/kitcall/kitcall"),
        (ROOT + DATA + SPACED, "/media/keeper/MY STICK/kitcall"),
        (ROOT + LOCKED + STICK + ELSEWHERE, "/media/kitcall/kitcall"),
        (ROOT, "No memory stick"),
        (ROOT + DATA + LOCKED + ELSEWHERE, "No memory stick"),
        (ROOT + STICK + SPACED, "2 memory sticks"),
        (ROOT + OWN, "No memory stick"),
        (ROOT + OWN + STICK, "/media/kitcall/kitcall"),
        (ROOT + STICK + STICK, "/media/kitcall/kitcall"),
    ],
    ids=["one", "name with a space", "one of them locked", "none", "memory and locked only", "two",
         "the box's own disk", "a stick over it", "one, seen twice"],
)
def test_stick(tmp_path: Path, lines: str, found: str) -> None:
    mounts = tmp_path / "mountinfo"
    mounts.write_text(lines)
    if found.startswith("/"):
        assert find_stick(mounts) == Path(found)
        return
    with pytest.raises(NoStick, match=found) as refused:
        find_stick(mounts)
    assert refused.value.mend


WORDS = shipped_box_words()


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "box/record.db"
    with Log(path, device="box", wall=lambda: datetime.now(UTC), monotonic=lambda: 1.0) as log:
        log.append_all("s", [("continued", {})] * 3, "")
    return path


def no_stick() -> Path:
    raise NoStick("none", "plug one in")


@pytest.mark.parametrize(
    ("stick", "told"),
    [
        (lambda folder: folder / "stick", "Copied and read back, 3 events. Take the stick out."),
        (lambda folder: no_stick(), "The log is not copied. I find no stick, or more than one."),
        (lambda folder: Path("/dev/full"), "The log is not copied. The copy does not hold."),
    ],
    ids=["a stick", "none", "cannot be written"],
)
def test_saving_says_how_it_went(store: Path, tmp_path: Path, stick: Callable[[Path], Path], told: str) -> None:
    said: list[str] = []
    made = save(store, WORDS, said.append, lambda: stick(tmp_path))
    assert said[0] == "I copy the log. Leave the stick in."
    assert said[1].startswith(told)
    assert (made is not None) == told.startswith("Copied")
    if made:
        with Reader(made.path) as reader:
            assert reader.verify().count == 3
