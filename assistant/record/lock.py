"""One writer for one store: an operating-system lock held for the writer's life.

The lock file stays when the lock is gone; removing it would let two writers in.
A killed process loses its lock at once, so there is nothing to clean up.
"""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

from assistant.errors import StoreBusy


class Lock:
    """Held from construction to `release()`. Raises StoreBusy, naming the holder, when another has it."""

    def __init__(self, store: Path) -> None:
        self.path = store.with_name(store.name + ".lock")
        self._fd = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            self._take(store)
        except BaseException:
            os.close(self._fd)
            raise

    def _take(self, store: Path) -> None:
        try:
            fcntl.flock(self._fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            holder = os.pread(self._fd, 20, 0).decode("ascii", "replace").strip() or "unknown"
            mend = "Use the kitcall that is running, or end it first. Reading (`kitcall log`) works meanwhile."
            raise StoreBusy(f"Another kitcall (process {holder}) is writing to {store}.", mend) from error
        # fixed width, so that no rest of a longer number stays behind
        os.pwrite(self._fd, f"{os.getpid():<19}\n".encode(), 0)

    def release(self) -> None:
        """Gives the lock back. May be called twice."""
        if self._fd >= 0:
            os.close(self._fd)
            self._fd = -1
