"""Which memory stick is plugged in, from lines as proc_pid_mountinfo(5) has them."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.errors import NoStick
from assistant.sticks import find_stick

ROOT = "22 1 179:2 / / rw,noatime shared:1 - ext4 /dev/mmcblk0p2 rw\n"
DATA = "40 22 0:38 / /media/scratch rw - tmpfs tmpfs rw\n"
STICK = "51 22 8:1 / /media/kitcall rw,nosuid shared:30 master:1 - vfat /dev/sda1 rw,uid=900\n"
SPACED = r"52 22 8:17 / /media/keeper/MY\040STICK rw shared:31 - exfat /dev/sdb1 rw" + "\n"
LOCKED = "53 22 8:33 / /media/keeper/locked ro shared:32 - vfat /dev/sdc1 ro\n"
ELSEWHERE = "54 22 8:49 / /mnt/disk rw shared:33 - ext4 /dev/sdd1 rw\n"


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        (ROOT + STICK, "/media/kitcall/kitcall"),
        (ROOT + DATA + SPACED, "/media/keeper/MY STICK/kitcall"),
        (ROOT + LOCKED + STICK + ELSEWHERE, "/media/kitcall/kitcall"),
        (ROOT, "No memory stick"),
        (ROOT + DATA + LOCKED + ELSEWHERE, "No memory stick"),
        (ROOT + STICK + SPACED, "2 memory sticks"),
    ],
    ids=["one", "name with a space", "one of them locked", "none", "memory and locked only", "two"],
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
