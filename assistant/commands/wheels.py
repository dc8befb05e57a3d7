"""kitcall wheels: everything a box without a network needs, in one folder: wheels, model, installer, sums.

Made on any machine with a network, from a checkout; `sudo python3 FOLDER/install.py install` on the box does the rest.
"""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
from pathlib import Path

import click

import hardware
from assistant.commands.options import model_option, refusing
from assistant.errors import BadInput
from audio import known, model

MACHINES = ("aarch64", "x86_64")  # the second recogniser has no wheel for 32 bits
GLIBC = ("2_17", "2_28", "2_34")  # Debian 12 has 2.36
WITHOUT_A_WHEEL = "srt"  # vosk asks for it; its author publishes source only
INSTALLER = ("install.py", "service")
SUMS = "SHA256SUMS"


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.option("--for", "machine", type=click.Choice(MACHINES), default="aarch64", show_default=True)
@click.option("--python", default="3.11", show_default=True, metavar="X.Y", help="The box's Python.")
@model_option
@refusing
def wheels(folder: Path, machine: str, python: str, model_path: str | None) -> None:
    """Make FOLDER for a box without a network. Needs a checkout of kitcall, pip and a network here."""
    found = model.find(model_path)
    problems = known.verify(found)
    if problems:
        raise BadInput(f"The model is damaged: {problems[0]}", "Fetch it again: python -m audio.model")
    folder.mkdir(parents=True, exist_ok=True)
    fetch(folder, machine, python)
    for name in known.FILES:
        (folder / "model" / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(found / name, folder / "model" / name)
    for name in INSTALLER:
        take(Path(str(hardware.__file__)).with_name(name), folder / name)
    count = write_sums(folder)
    click.echo(f"{folder}: {count} files for {machine}, Python {python}.")
    click.echo(f"Carry it to the box, then: sudo python3 {folder.name}/install.py install")


def fetch(folder: Path, machine: str, python: str) -> None:
    """kitcall's own wheel, those that have to be built, and the rest as published for that machine."""
    root = Path(str(hardware.__file__)).parents[1]
    if not (root / "pyproject.toml").is_file():
        raise BadInput("This kitcall was installed from a wheel.", "Run `kitcall wheels` from a checkout of kitcall.")
    for old in folder.glob("*.whl"):
        old.unlink()
    pip("wheel", "--no-deps", "--wheel-dir", str(folder), str(root), WITHOUT_A_WHEEL)
    own = next(folder.glob("kitcall-*.whl"))
    tag = "cp" + python.replace(".", "")
    places = [f"--platform=manylinux_{each}_{machine}" for each in GLIBC] + [f"--platform=manylinux2014_{machine}"]
    places += [f"--platform=linux_{machine}"]
    kind = ["--only-binary=:all:", f"--python-version={python}", "--implementation=cp"]
    abis = [f"--abi={each}" for each in (tag, "abi3", "none")]
    pip("download", *kind, *abis, *places, "--find-links", str(folder), "--dest", str(folder), f"{own}[box]")


def pip(*arguments: str) -> None:
    """pip of this Python; BadInput with its last words when it fails."""
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        last = (done.stderr.strip().splitlines() or ["no reason given"])[-1]
        raise BadInput(f"pip {arguments[0]} failed: {last}", "Is there a network? Is there a wheel for that machine?")


def take(source: Path, target: Path) -> None:
    """A file or a folder of the installer."""
    if source.is_dir():
        shutil.copytree(source, target, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__"))
    else:
        shutil.copyfile(source, target)


def write_sums(folder: Path) -> int:
    """Sums of every file, as `sha256sum --check` reads them; the installer refuses a folder that arrived damaged."""
    files = sorted(path for path in folder.rglob("*") if path.is_file() and path.name != SUMS)
    lines = [f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.relative_to(folder)}\n" for path in files]
    (folder / SUMS).write_text("".join(lines), encoding="utf-8")
    return len(files)
