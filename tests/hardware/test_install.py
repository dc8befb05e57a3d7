"""The installer, with real virtual environments and real wheels of a tiny kitcall: what fails leaves the old one."""

from __future__ import annotations

import configparser
import hashlib
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from hardware import install
from hardware.install import Installer, Refused, run_command

SERVICE = Path(str(install.__file__)).with_name("service")
# what the installer asks of a release: `kitcall device`, `kitcall backup`, `kitcall log verify`
PROGRAM = """
import json, os, sys
FIT, NEWEST = {fit}, {newest}
def main():
    words = sys.argv[1:]
    if words[0] == "device":
        print(json.dumps([{{"part": "hearing", "fit": FIT, "found": "{version}"}}, {{"part": "supply", "fit": False}}]))
        sys.exit(1)
    if words[0] == "backup":
        os.makedirs(words[1], exist_ok=True)
        open(os.path.join(words[1], "{version}"), "w").close()
    if words == ["log", "verify"]:
        form = int(open(os.path.join(os.environ["KITCALL_DATA"], "record.db")).read())
        if form > NEWEST:
            print("written by a newer kitcall", file=sys.stderr)
        sys.exit(2 if form > NEWEST else 0)
"""


def make_folder(place: Path, version: str, fit: bool = True, newest: int = 1) -> Path:
    """A folder as `kitcall wheels` makes it, of a kitcall of a few lines, in the wheel format (PEP 427)."""
    place.mkdir(parents=True)
    about = f"kitcall-{version}.dist-info"
    with zipfile.ZipFile(place / f"kitcall-{version}-py3-none-any.whl", "w") as wheel:
        wheel.writestr("tiny.py", PROGRAM.format(fit=fit, version=version, newest=newest))
        meta = f"Metadata-Version: 2.1\nName: kitcall\nVersion: {version}\nProvides-Extra: box\n"
        wheel.writestr(f"{about}/METADATA", meta)
        kind = "Wheel-Version: 1.0\nGenerator: test\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
        wheel.writestr(f"{about}/WHEEL", kind)
        wheel.writestr(f"{about}/entry_points.txt", "[console_scripts]\nkitcall = tiny:main\n")
        wheel.writestr(f"{about}/RECORD", "")
    (place / "model").mkdir()
    (place / "model/graph").write_text(version)
    shutil.copytree(SERVICE, place / "service")
    lines = [
        f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.relative_to(place)}\n"
        for path in sorted(place.rglob("*")) if path.is_file()
    ]  # fmt: skip
    (place / "SHA256SUMS").write_text("".join(lines))
    return place


@pytest.fixture
def machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(install, "refuse_unsafe", lambda place: None)  # a test folder may lie on anything
    return tmp_path / "machine"


@pytest.fixture(scope="module", autouse=True)
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """An empty virtual environment, made once: each release here is a copy of it, pip and wheels are real each time."""
    place = tmp_path_factory.mktemp("prepared") / "venv"
    run_command(sys.executable, "-m", "venv", place)
    PREPARED.append(place)
    yield place
    PREPARED.clear()


@pytest.fixture(scope="module")
def first_installed(prepared: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A machine with 1.0 on it, to be copied."""
    place = tmp_path_factory.mktemp("first")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(install, "refuse_unsafe", lambda place: None)
        installer(make_folder(place / "one", "1.0"), place / "machine").install()
    return place / "machine"


PREPARED: list[Path] = []


def run_quickly(*command: Any, check: bool = True) -> Any:
    if command[1:3] == ("-m", "venv"):
        shutil.copytree(PREPARED[0], command[3], symlinks=True)
        return run_command("true")
    return run_command(*command, check=check)


def installer(folder: Path, machine: Path, run: Any = run_quickly) -> Installer:
    return Installer(folder, machine, "/var/lib/kitcall", "alsa", run)


def version_of(machine: Path) -> str:
    return (machine / "opt/kitcall/current/model/graph").read_text()


def test_install_update_rollback_uninstall(tmp_path: Path, machine: Path) -> None:
    first = installer(make_folder(tmp_path / "one", "1.0"), machine)
    first.install()
    assert version_of(machine) == "1.0"
    record = machine / "var/lib/kitcall/record.db"
    record.write_text("1")
    with pytest.raises(Refused, match="no release before"):
        first.rollback()
    second = installer(make_folder(tmp_path / "two", "2.0", newest=2), machine)
    second.install()
    assert version_of(machine) == "2.0"
    assert [path.name for path in (machine / "var/lib/kitcall/before-update").iterdir()] == ["1.0"]
    second.rollback()
    assert version_of(machine) == "1.0"
    second.rollback()
    assert version_of(machine) == "2.0"
    record.write_text("2")  # the newer release has given the record a newer form
    with pytest.raises(Refused, match="before-update"):
        second.rollback()
    assert version_of(machine) == "2.0"
    installer(make_folder(tmp_path / "three", "3.0", newest=2), machine).install()
    assert len(list((machine / "opt/kitcall/releases").iterdir())) == 2
    second.uninstall()
    data = machine / "var/lib/kitcall"
    left = sorted(str(path.relative_to(data)) for path in machine.rglob("*") if path.is_file())
    assert left == ["before-update/1.0", "before-update/2.0", "record.db"]


def damaged(folder: Path) -> Path:
    (folder / "model/graph").write_text("x")
    return folder


def no_wheel(folder: Path) -> Path:
    for wheel in folder.glob("*.whl"):
        wheel.unlink()
    (folder / "SHA256SUMS").write_text("")
    return folder


@pytest.mark.parametrize(
    ("change", "fit", "message"),
    [
        (damaged, True, "damaged. Copy the folder again"),
        (no_wheel, True, "could not be built"),
        (lambda folder: folder, False, "not fit: hearing"),
    ],
    ids=["arrived damaged", "wheel missing", "fails its self-test"],
)
def test_a_failed_update_leaves_the_old_one(
    tmp_path: Path, machine: Path, first_installed: Path, change: Any, fit: bool, message: str
) -> None:
    shutil.copytree(first_installed, machine, symlinks=True)
    before = sorted(str(path) for path in machine.rglob("*"))
    with pytest.raises(Refused, match=message):
        installer(change(make_folder(tmp_path / "two", "2.0", fit)), machine).install()
    assert version_of(machine) == "1.0"
    assert sorted(str(path) for path in machine.rglob("*")) == before


def test_an_update_whose_service_does_not_start_is_taken_back(
    tmp_path: Path, machine: Path, first_installed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """systemctl is ours here: it fails while the new release is the current one."""
    restarts: list[str] = []

    def run(*command: Any, check: bool = True) -> Any:
        if command[0] == "systemctl" and command[1] == "restart":
            restarts.append(version_of(machine))
            if restarts[-1] == "2.0":
                raise Refused("systemctl restart failed")
        return run_command("true") if command[0] in ("systemctl", "dpkg-query") else run_quickly(*command, check=check)

    shutil.copytree(first_installed, machine, symlinks=True)
    monkeypatch.setattr(install.pwd, "getpwnam", lambda name: SimpleNamespace(pw_uid=990))
    before = sorted(str(path) for path in machine.rglob("*"))
    second = installer(with_unit(make_folder(tmp_path / "two", "2.0"), "# newer\n"), machine, run=run)
    monkeypatch.setattr(second, "_make_ready", lambda: None)
    second.is_real = True
    with pytest.raises(Refused, match="the old one runs on"):
        second.install()
    assert (restarts, version_of(machine)) == (["2.0", "1.0"], "1.0")
    assert "# newer" not in unit_of(machine), "the old one would run on with the newer one's unit"
    assert sorted(str(path) for path in machine.rglob("*")) == before


def with_unit(folder: Path, text: str) -> Path:
    """That folder with a unit of its own."""
    unit = folder / "service/kitcall.service"
    unit.write_text(text + unit.read_text())
    (folder / "SHA256SUMS").write_text("")
    return folder


def unit_of(machine: Path) -> str:
    return (machine / "etc/systemd/system/kitcall.service").read_text()


def test_pipewire_is_joined_only_while_it_is_asked_for(tmp_path: Path, machine: Path, first_installed: Path) -> None:
    shutil.copytree(first_installed, machine, symlinks=True)
    joined = machine / "etc/systemd/system/kitcall.service.d/pipewire.conf"
    for number, (sound, there) in enumerate([("pipewire", True), ("alsa", False)], start=2):
        folder = make_folder(tmp_path / sound, f"{number}.0")
        Installer(folder, machine, "/var/lib/kitcall", sound, run_quickly).install()
        assert joined.exists() is there


def test_each_release_runs_with_its_own_unit(tmp_path: Path, machine: Path, first_installed: Path) -> None:
    shutil.copytree(first_installed, machine, symlinks=True)
    second = installer(with_unit(make_folder(tmp_path / "two", "2.0"), "# newer\n"), machine)
    second.install()
    assert "# newer" in unit_of(machine)
    second.rollback()
    assert "# newer" not in unit_of(machine)


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="needs systemd-analyze")
def test_units_are_ones_that_systemd_understands(first_installed: Path, machine: Path) -> None:
    shutil.copytree(first_installed, machine, symlinks=True)
    units = machine / "etc/systemd/system"
    text = (units / "kitcall.service").read_text()
    assert "@" not in re.sub(r"@(privileged|resources|system-service)|user@", "", re.sub(r"(?m)^#.*$", "", text))
    for unit in units.glob("kitcall*"):  # their programs are under the folder that stands for the machine
        unit.write_text(unit.read_text().replace("/opt/kitcall/", f"{machine}/opt/kitcall/"))
    paths = [str(path) for path in sorted(units.glob("kitcall*"))]
    command = ["systemd-analyze", "verify", "--man=no", *paths]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, [line for line in done.stderr.splitlines() if "kitcall" in line]) == (0, [])


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="needs systemd-analyze")
@pytest.mark.parametrize(("unit", "most"), [("kitcall.service", 1.5), ("kitcall-share.service", 2.0)])
def test_exposure(tmp_path: Path, unit: str, most: float) -> None:
    """systemd's own measure, 0 (shut) to 10 (open); below 4 it calls "OK"."""
    text = (SERVICE / unit).read_text().replace("@GROUPS@", "audio").replace("@DATA@", "/var/lib/kitcall")
    (tmp_path / unit).write_text(text.replace("@PROGRAMS@", "/opt/kitcall"))
    command = ["systemd-analyze", "security", "--offline=true", "--no-pager", str(tmp_path / unit)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    exposed = float(re.search(r"exposure level for \S+: ([\d.]+)", done.stdout)[1])  # type: ignore[index]
    print(unit, exposed)
    assert exposed <= most


def test_watchdog_leaves_time_for_a_whole_self_test() -> None:
    from assistant.commands.box import LOOK_AGAIN_S
    from assistant.watchdog import FEED_EVERY_S

    unit = configparser.RawConfigParser(strict=False)
    unit.optionxform = str  # type: ignore[assignment,method-assign]
    unit.read(SERVICE / "kitcall.service")
    watchdog_s = float(unit["Service"]["WatchdogSec"])
    assert watchdog_s >= 3 * FEED_EVERY_S
    assert watchdog_s >= LOOK_AGAIN_S + 60
    assert sys.version_info >= (3, 11)
