"""Unpacks the recogniser's model: checked first, written beside its place, synced, moved there in one step."""

from __future__ import annotations

import os
import shutil
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from assistant.errors import ModelError
from audio import known
from audio.sources import VOSK_NAME

INNER = ("", VOSK_NAME, "model-en-us", "assets/model-en-us")  # where a folder or archive may hold it
HOW_TO_GET = (
    "Run `python -m audio.model` where there is a network (or `make demo`), or give the folder or the "
    "archive yourself: --model PATH, or the environment variable KITCALL_MODEL."
)


def unpack(archive: Path, target: Path, say: Callable[[str], None] = print) -> Path:
    """Check an archive (zip or aar), unpack its model beside `target`, and move it there in one step.

    Raises ModelError: not the model, damaged, or no room. `target` is then as it was.
    """
    say(f"Checking {archive.name} …")
    with scratch_beside(target) as scratch:
        try:
            folder = _extract(archive, scratch / "model")
        except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError) as error:
            raise ModelError(f"{archive} cannot be unpacked: {error}", "Fetch or copy it again.") from error
        except OSError as error:
            raise ModelError(f"{archive} cannot be unpacked: {error}", "Free some 100 MB and try again.") from error
        problems = known.verify(folder)
        if problems:
            raise ModelError(f"{archive} does not hold the model we know: {problems[0]}", HOW_TO_GET)
        return move_into_place(folder, target)


@contextmanager
def scratch_beside(target: Path) -> Iterator[Path]:
    """A folder on the same file system as the target, since a move between two is not one step."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        scratch = tempfile.TemporaryDirectory(prefix="model-", dir=target.parent)
    except OSError as error:
        mend = "Make room there, or name another folder by the environment variable KITCALL_DATA."
        raise ModelError(f"The model cannot be kept in {target.parent}: {error}", mend) from error
    with scratch as folder:
        yield Path(folder)


def _extract(archive: Path, folder: Path) -> Path:
    """Write the files we know, and no others, so that no name in the archive can lead elsewhere."""
    with zipfile.ZipFile(archive) as packed:
        names = set(packed.namelist())
        root = next((f"{inner}/".lstrip("/") for inner in INNER if f"{inner}/am/final.mdl".lstrip("/") in names), None)
        if root is None:
            raise ModelError(f"{archive} holds no model (no am/final.mdl in it).", HOW_TO_GET)
        for name in known.FILES:
            if root + name not in names:
                raise ModelError(f"{archive} lacks {name}.", HOW_TO_GET)
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            with packed.open(root + name) as source, (folder / name).open("wb") as file:
                shutil.copyfileobj(source, file, 1 << 20)
                file.flush()
                os.fsync(file.fileno())
    return folder


def move_into_place(folder: Path, target: Path) -> Path:
    """The sums are written too (as sha256sum prints them), for the files whose content we cannot know beforehand."""
    sums = "".join(f"{known.sha256_of(folder / name)}  {name}\n" for name in known.FILES)
    (folder / known.SUMS).write_text(sums, encoding="ascii")
    for inner in (*(path for path in folder.rglob("*") if path.is_dir()), folder):
        _sync_folder(inner)
    if target.exists():
        set_aside(target)
    folder.rename(target)
    _sync_folder(target.parent)
    return target


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def set_aside(folder: Path) -> None:
    """A damaged model is no record: it makes room, since it is as large as the next one."""
    aside = Path(tempfile.mkdtemp(prefix="model-", dir=folder.parent)) / "damaged"
    folder.rename(aside)
    shutil.rmtree(aside.parent, ignore_errors=True)
