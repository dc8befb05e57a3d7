"""The pass phrase: kept only as an Argon2id hash (argon2-cffi), in a file that its owner alone may read."""

from __future__ import annotations

import os
from pathlib import Path

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from assistant.errors import BadInput

FEWEST_CHARS, MOST_CHARS = 12, 200
_hasher = PasswordHasher()  # the library's defaults: RFC 9106's low-memory choice


class PassPhrase:
    """The hash as kept in a file."""

    def __init__(self, hashed: str) -> None:
        self._hashed = hashed

    def fits(self, given: str) -> bool:
        """Whether these are the words. Takes as long for wrong ones as for right ones."""
        try:
            return _hasher.verify(self._hashed, given[: MOST_CHARS + 1])
        except (VerificationError, InvalidHashError):
            return False

    @classmethod
    def read(cls, path: Path) -> PassPhrase | None:
        """The one kept at `path`; None where there is none."""
        try:
            return cls(path.read_text(encoding="ascii").strip())
        except FileNotFoundError:
            return None

    @classmethod
    def keep(cls, path: Path, words: str) -> PassPhrase:
        """Keeps the hash of new words. Raises BadInput for words too short to withstand guessing."""
        if not FEWEST_CHARS <= len(words) <= MOST_CHARS:
            raise BadInput(
                f"The pass phrase has {len(words)} characters.", f"Give {FEWEST_CHARS} to {MOST_CHARS}: a few words."
            )
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_name(path.name + ".new")
        with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="ascii") as file:
            file.write(_hasher.hash(words) + "\n")
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
        return cls(path.read_text(encoding="ascii").strip())
