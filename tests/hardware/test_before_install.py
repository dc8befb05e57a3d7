"""What the installer looks at before it builds: the folder's sums, packages, and where the record would lie."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from hardware.install import PACKAGES, PINS, Installer, Refused, borrow, check_sums, file_system, refuse_unsafe


@pytest.mark.parametrize(
    ("there", "known", "debs", "asked"),
    [
        ((*PACKAGES, PINS), True, False, None),
        (PACKAGES, True, False, [PINS]),
        (PACKAGES, False, False, None),
        (PACKAGES, False, True, ["pins.deb"]),
        (PACKAGES[1:], False, False, [PACKAGES[0]]),
        ((), True, False, [*PACKAGES, PINS]),
    ],
    ids=["all there", "Raspberry Pi OS", "Debian 12 knows no such library", "brought along", "one", "none"],
)
def test_packages_that_are_asked_for(
    tmp_path: Path, there: tuple[str, ...], known: bool, debs: bool, asked: list[str] | None
) -> None:
    """apt's tools are ours here. What no archive has is asked of none: the service then says that it has no panel."""
    calls: list[list[str]] = []

    def run(*command: Any, check: bool = True) -> Any:
        words = [str(word) for word in command]
        calls.append(words)
        said = "".join(f"{name} install ok installed\n" for name in there) if words[0] == "dpkg-query" else ""
        return SimpleNamespace(stdout=said, returncode=int(words[0] == "apt-cache" and not known))

    (tmp_path / "debs").mkdir()
    if debs:
        (tmp_path / "debs/pins.deb").touch()
    Installer(tmp_path, tmp_path / "machine", "/var/lib/kitcall", "alsa", run)._install_packages()
    wanted = [[word.rpartition("/")[2] for word in call[4:]] for call in calls if call[0] == "apt-get"]
    assert wanted == ([] if asked is None else [asked])


MOUNTS = """\
22 1 179:2 / / rw,noatime shared:1 - ext4 /dev/mmcblk0p2 rw
25 22 0:23 / /run rw - tmpfs tmpfs rw
30 22 0:30 / /srv rw - overlay overlay rw,lowerdir=/a
31 30 179:3 / /srv/data rw - ext4 /dev/mmcblk0p3 rw
32 22 0:44 / /mnt/share rw - nfs4 host:/x rw
33 22 8:1 / /media/my\\040stick rw - vfat /dev/sda1 rw
"""


@pytest.mark.parametrize(
    ("place", "kind", "safe"),
    [
        ("/var/lib/kitcall", "ext4", True),
        ("/run/kitcall", "tmpfs", False),
        ("/srv/kitcall", "overlay", False),
        ("/srv/data/kitcall", "ext4", True),
        ("/srv/database", "overlay", False),
        ("/mnt/share/kitcall", "nfs4", False),
        ("/media/my stick/kitcall", "vfat", False),
    ],
)
def test_the_record_goes_only_where_it_stays(place: str, kind: str, safe: bool) -> None:
    assert file_system(Path(place), MOUNTS) == kind
    if safe:
        refuse_unsafe(Path(place), MOUNTS)
        return
    with pytest.raises(Refused, match=f"lies on {kind}.*--data"):
        refuse_unsafe(Path(place), MOUNTS)


def test_a_folder_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="no folder made by"):
        check_sums(tmp_path)


def test_only_the_pins_library_is_borrowed(tmp_path: Path) -> None:
    system, inside = tmp_path / "system", tmp_path / "release/lib/python3.11/site-packages"
    inside.mkdir(parents=True)
    system.mkdir()
    for name in ("lgpio.py", "_lgpio.cpython-311.so", "lgpio-0.2.dist-info", "numpy"):
        (system / name).write_text(name)
    borrow(tmp_path / "release", system)
    borrowed = sorted(path.name for path in inside.iterdir())
    assert borrowed == ["_lgpio.cpython-311.so", "lgpio-0.2.dist-info", "lgpio.py"]
