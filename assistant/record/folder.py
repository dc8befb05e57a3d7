"""Folders made and names kept so that a power cut does not undo them.

Syncing a file does not sync its name in the folder; that needs a sync of the folder.
"""

from __future__ import annotations

import os
from pathlib import Path


def make(folder: Path) -> None:
    """Makes the folder and those above it where missing; each name is on the disk when this returns."""
    if folder.is_dir():
        return
    make(folder.parent)
    folder.mkdir(exist_ok=True)
    sync(folder.parent)


def sync(path: Path) -> None:
    """Puts a folder's names (or a file's bytes) on the disk."""
    fd = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)
