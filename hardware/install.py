"""Installs, updates, rolls back and removes kitcall on Raspberry Pi OS or Debian, from what `kitcall wheels` made.

    sudo python3 install.py install      also the update: the same command from a newer folder
    sudo python3 install.py rollback     back to the release before
    sudo python3 install.py uninstall    the program goes, the record stays

Python's own library only, since it runs before anything is there. Each release is a folder of its own, program and
model; `current` is switched to it only after it has tested itself, and back again when the service does not start.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import pwd
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

PACKAGES = ("python3-venv", "espeak-ng", "libportaudio2", "libatomic1", "openssl", "wamerican-small")
PINS = "python3-lgpio"  # Raspberry Pi OS has it, Debian 12 does not: there the service says that it has no panel
UNSAFE = ("overlay", "tmpfs", "ramfs", "squashfs", "nfs", "nfs4", "cifs", "9p", "fuse", "vfat", "exfat")
GROUPS = ("audio", "gpio", "video")
UNITS = ("kitcall.service", "kitcall-off.path", "kitcall-off.service", "kitcall-share.service")
MUST_BE_FIT = {"version", "model", "record", "hearing"}
BORROWED = ("lgpio.py", "_lgpio*.so", "lgpio-*")  # Debian's; there is no wheel of it for every Python
Run = Callable[..., "subprocess.CompletedProcess[str]"]


class Refused(Exception):
    """Nothing was changed, or what was changed is undone; the message says what to do."""


def run_command(*command: str | Path, check: bool = True) -> subprocess.CompletedProcess[str]:
    """A command's result. Raises Refused, with its last words, when it fails."""
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, check=False)
    if check and done.returncode:
        words = (done.stderr or done.stdout).strip().splitlines()[-3:]
        raise Refused(f"{' '.join(str(part) for part in command)} failed: {' '.join(words)}")
    return done


class Installer:
    """One machine, or a folder that stands for one (`root`; then no user, package or service is touched)."""

    def __init__(self, folder: Path, root: Path | None, data: str, sound: str, run: Run = run_command) -> None:
        self.folder, self.root, self._run = folder, root or Path("/"), run
        self.is_real = root is None
        self.data_name, self.sound = data, sound
        self.data = self.root / data.lstrip("/")
        self.programs = self.root / "opt/kitcall"
        self.current, self.previous = self.programs / "current", self.programs / "previous"

    def install(self) -> Path:
        """Install the folder's release, or update to it; gives its place. A failed one leaves the old one running."""
        check_sums(self.folder)
        self._make_ready()
        release, old = self._build(), self._now()
        try:
            self.test(release)
            if old is not None:
                self._copy_record()
            self._switch(release, old)
        except Refused:
            if self._now() != release:
                shutil.rmtree(release)
            raise
        self._drop_older()
        return release

    def rollback(self) -> Path:
        """Back to the release before; gives where it lies."""
        if not self.previous.exists():
            raise Refused("There is no release before this one.")
        old, new = self.current.resolve(), self.previous.resolve()
        if (self.data / "record.db").exists():
            done = self._kitcall(new, "log", "verify")
            if done.returncode == 2:
                raise Refused(f"The release before cannot read the record: {done.stderr.strip()} Before an update, a "
                              f"copy is made in {self.data}/before-update: see `kitcall restore`.")  # fmt: skip
        self._switch(new, old)
        return new

    def uninstall(self) -> None:
        """Remove the program and its units; the record and the user stay."""
        if self.is_real:
            self._run("systemctl", "disable", "--now", *UNITS, check=False)
        for path in self._unit_files().values():
            path.unlink(missing_ok=True)
        shutil.rmtree(self.programs, ignore_errors=True)
        if self.is_real:
            self._run("systemctl", "daemon-reload")

    def test(self, release: Path) -> None:
        """The release tests itself without sound, on a record of its own. Raises Refused."""
        with tempfile.TemporaryDirectory() as scratch:
            done = self._kitcall(release, "device", "--no-sound", "--json", "--store", f"{scratch}/record.db")
        try:
            unfit = [each for each in json.loads(done.stdout) if each["part"] in MUST_BE_FIT and not each["fit"]]
        except (json.JSONDecodeError, KeyError, TypeError):
            raise Refused(f"The new release does not run: {(done.stderr or done.stdout).strip()[-300:]}") from None
        if unfit:
            told = "; ".join(f"{each['part']}: {each['found']}" for each in unfit)
            raise Refused(f"The new release is not fit: {told}")

    def _now(self) -> Path | None:
        return self.current.resolve() if self.current.exists() else None

    def _make_ready(self) -> None:
        """User, groups, packages, and a place for the record that keeps what is written."""
        if sys.version_info < (3, 11):  # noqa: UP036  the box's own Python runs this, before pip could refuse
            raise Refused(f"Python 3.11 or newer is needed; this is {sys.version.split()[0]}.")
        if self.is_real and os.geteuid() != 0:
            raise Refused("Run it with sudo.")
        if self.is_real:
            self._install_packages()
            self._make_user()
        self.data.mkdir(parents=True, exist_ok=True)
        refuse_unsafe(self.data)
        self.data.chmod(0o750)
        if self.is_real:
            shutil.chown(self.data, "kitcall", "kitcall")

    def _install_packages(self) -> None:
        state = self._run("dpkg-query", "-W", "-f", "${Package} ${Status}\n", *PACKAGES, PINS, check=False).stdout
        there = {line.split()[0] for line in state.splitlines() if line.endswith("install ok installed")}
        missing = [name for name in PACKAGES if name not in there]
        debs = sorted((self.folder / "debs").glob("*.deb"))
        if PINS not in there and (debs or self._run("apt-cache", "show", PINS, check=False).returncode == 0):
            missing.append(PINS)
        if missing:
            how = [str(deb.absolute()) for deb in debs] or missing
            try:
                self._run("apt-get", "install", "-y", "--no-install-recommends", *how)
            except Refused as problem:
                raise Refused(f"These packages are missing: {' '.join(missing)}. Install them once with a network, or "
                              f"put their .deb files into {self.folder}/debs. ({problem})") from problem  # fmt: skip

    def _make_user(self) -> None:
        try:
            pwd.getpwnam("kitcall")
        except KeyError:
            self._run("useradd", "--system", "--home-dir", self.data, "--shell", "/usr/sbin/nologin", "kitcall")
        self._run("usermod", "--append", "--groups", ",".join(name for name in GROUPS if has_group(name)), "kitcall")
        if self.sound == "pipewire":
            self._run("loginctl", "enable-linger", "kitcall")

    def _build(self) -> Path:
        """A virtual environment from the wheels alone, and the model beside it."""
        releases = self.programs / "releases"
        releases.mkdir(parents=True, exist_ok=True)
        number = 1 + max((int(path.name) for path in releases.iterdir() if path.name.isdigit()), default=0)
        release = releases / f"{number:04d}"
        try:
            self._run(sys.executable, "-m", "venv", release)
            pip = [release / "bin/python", "-m", "pip", "--disable-pip-version-check", "install", "--no-index"]
            self._run(*pip, "--find-links", self.folder, "kitcall[box]")
            for name in ("model", "service"):  # its own units too: a release before gets back those that it ran with
                shutil.copytree(self.folder / name, release / name)
            borrow(release)
        except (Refused, OSError) as problem:
            shutil.rmtree(release, ignore_errors=True)
            raise Refused(f"The release could not be built: {problem}") from problem
        return release

    def _kitcall(self, release: Path, *words: str) -> subprocess.CompletedProcess[str]:
        settings = [f"KITCALL_DATA={self.data}", f"KITCALL_MODEL={release / 'model'}"]
        return self._run("env", *settings, release / "bin/kitcall", *words, check=False)

    def _copy_record(self) -> None:
        """The old release copies the record first: a newer one may change its form."""
        if (self.data / "record.db").exists():
            done = self._kitcall(self.current.resolve(), "backup", str(self.data / "before-update"))
            if done.returncode:
                raise Refused(f"The record could not be copied before the update: {done.stderr.strip()}")

    def _switch(self, new: Path, old: Path | None) -> None:
        """Make it the current one and restart; when it does not start, everything is as before."""
        try:
            self._start(new)
        except Refused as problem:
            if old is None:
                raise Refused(f"{problem} Look at: journalctl --namespace kitcall -n 50") from problem
            self._start(old)
            raise Refused(f"The new release did not start; the old one runs on. {problem}") from problem
        if old is not None and old != new:
            point(self.previous, old)

    def _start(self, release: Path) -> None:
        point(self.current, release)
        self._write_units(release)
        if self.is_real:
            self._run("systemctl", "daemon-reload")
            self._run("systemctl", "enable", "kitcall.service", "kitcall-off.path")
            self._run("systemctl", "reset-failed", "kitcall.service", check=False)  # one that failed often may start
            self._run("systemctl", "try-restart", "kitcall-share.service", check=False)
            self._run("systemctl", "restart", "kitcall-off.path", "kitcall.service")  # returns once it is ready

    def _drop_older(self) -> None:
        kept = {link.resolve() for link in (self.current, self.previous) if link.exists()}
        for release in (self.programs / "releases").iterdir():
            if release.resolve() not in kept:
                shutil.rmtree(release)

    def _unit_files(self) -> dict[str, Path]:
        places = {name: self.root / "etc/systemd/system" / name for name in UNITS}
        places["kitcall"] = self.root / "usr/local/bin/kitcall"
        places["journald@kitcall.conf"] = self.root / "etc/systemd/journald@kitcall.conf"
        places["99-kitcall-stick.rules"] = self.root / "etc/udev/rules.d/99-kitcall-stick.rules"
        places["pipewire.conf"] = self.root / "etc/systemd/system/kitcall.service.d/pipewire.conf"
        return places

    def _write_units(self, release: Path) -> None:
        uid = pwd.getpwnam("kitcall").pw_uid if self.is_real else 990
        groups = " ".join(name for name in GROUPS if not self.is_real or has_group(name))
        words = {"@DATA@": self.data_name, "@PROGRAMS@": "/opt/kitcall", "@UID@": str(uid), "@GROUPS@": groups}
        files = self._unit_files()
        if self.sound != "pipewire":
            files.pop("pipewire.conf").unlink(missing_ok=True)  # from when it was
        for name, place in files.items():
            text = (release / "service" / name).read_text(encoding="utf-8")
            for mark, value in words.items():
                text = text.replace(mark, value)
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_text(text, encoding="utf-8")
            place.chmod(0o755 if name == "kitcall" else 0o644)


def check_sums(folder: Path) -> None:
    """Every file of the folder is as it was made. Raises Refused."""
    sums = folder / "SHA256SUMS"
    if not sums.is_file():
        raise Refused(f"{folder} is no folder made by `kitcall wheels`.")
    for line in sums.read_text(encoding="utf-8").splitlines():
        digest, _, name = line.partition("  ")
        path = folder / name
        if not path.is_file() or hashlib.sha256(path.read_bytes()).hexdigest() != digest:
            raise Refused(f"{name} is missing or damaged. Copy the folder again.")


def file_system(place: Path, mounts: str) -> str:
    """The kind of the file system that holds a place, from the text of /proc/self/mountinfo (proc_pid_mountinfo(5))."""
    best, kind = "", ""
    for line in mounts.splitlines():
        before, _, after = line.partition(" - ")
        at = before.split(" ")[4].replace("\\040", " ")
        if (place == Path(at) or Path(at) in place.parents) and len(at) >= len(best):
            best, kind = at, after.split(" ")[0]
    return kind


def is_unsafe(kind: str) -> bool:
    """True for a file system that forgets what is written, or does not surely write it."""
    return kind in UNSAFE or kind.startswith("fuse")


def refuse_unsafe(place: Path, mounts: str | None = None) -> None:
    """Raises Refused where what is written is gone after the next start, or is not surely written."""
    text = Path("/proc/self/mountinfo").read_text(encoding="utf-8") if mounts is None else mounts
    kind = file_system(place.resolve(), text)
    if is_unsafe(kind):
        raise Refused(f"{place} lies on {kind}: answers would not be safe there. Give the record a partition of its "
                      "own (ext4 or the like), mount it, and name a folder on it: --data FOLDER.")  # fmt: skip


def borrow(release: Path, system: Path = Path("/usr/lib/python3/dist-packages")) -> None:
    """Debian's library for the pins, made visible in the release and nothing else of Debian's."""
    inside = next((release / "lib").glob("python3.*")) / "site-packages"
    for pattern in BORROWED:
        for path in system.glob(pattern):
            (inside / path.name).symlink_to(path)


def has_group(name: str) -> bool:
    """True when the machine has that group; a Pi has gpio, other machines do not."""
    return any(line.split(":")[0] == name for line in Path("/etc/group").read_text().splitlines())


def point(link: Path, target: Path) -> None:
    """Make the link point there, at one moment and on the disk."""
    fresh = link.with_name(link.name + ".new")
    fresh.unlink(missing_ok=True)
    fresh.symlink_to(os.path.relpath(target, link.parent))
    os.replace(fresh, link)
    folder = os.open(link.parent, os.O_RDONLY)
    os.fsync(folder)
    os.close(folder)


def main(arguments: Sequence[str] | None = None) -> int:
    """Do what the command line says; gives the exit status."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("install", "rollback", "uninstall"))
    parser.add_argument("--data", default="/var/lib/kitcall", help="where the record lies (default /var/lib/kitcall)")
    parser.add_argument("--sound", choices=("auto", "alsa", "pipewire"), default="auto")
    parser.add_argument("--root", type=Path, help="install into this folder instead of the machine, for a look")
    chosen = parser.parse_args(arguments)
    if chosen.sound == "auto":
        chosen.sound = "pipewire" if shutil.which("pipewire") else "alsa"
    installer = Installer(Path(__file__).parent.absolute(), chosen.root, chosen.data, chosen.sound)
    try:
        print(getattr(installer, chosen.what)() or f"kitcall is gone; the record stays in {installer.data}.")
    except Refused as problem:
        print(f"install.py: {problem}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
