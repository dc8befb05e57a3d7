"""Where kitcall keeps things on this machine, and what the machine calls itself."""

from __future__ import annotations

import os
import socket
from pathlib import Path

from assistant.language.files import grammar_file
from audio.model import data_folder

STORE_NAME = "record.db"


def store_path(given: str | None = None) -> Path:
    """The store that the user named, else the one in kitcall's data folder."""
    return Path(given).expanduser() if given else data_folder() / STORE_NAME


def voice_cache() -> Path:
    """Rendered lines of kitcall's own voice; may be deleted at any time."""
    return data_folder() / "voice"


def soundalikes_folder() -> Path:
    """What sounds alike, found once; may be deleted at any time."""
    return data_folder() / "soundalikes"


def sequence_path(given: str | None = None) -> Path:
    """The sequence file that the user named, else the one kitcall ships."""
    return Path(given).expanduser() if given else Path(str(grammar_file("checks/rental.toml")))


def device_name() -> str:
    """What this box is called in the record: KITCALL_DEVICE, else the machine's host name."""
    return os.environ.get("KITCALL_DEVICE") or socket.gethostname()
