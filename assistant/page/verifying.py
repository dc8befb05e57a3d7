"""The whole record verified beside the page, in a process of its own, so that no page waits for it."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from datetime import datetime
from pathlib import Path

from assistant.record import Damage, Reader, Report


class Verifying:
    """Fulfils shop.Verify for the store at `path`; at most one run at a time. Close it at the end."""

    def __init__(self, path: Path, now: Callable[[], datetime]) -> None:
        self._path, self._now = path, now
        self._pool = ProcessPoolExecutor(1, multiprocessing.get_context("spawn"))
        self._run: Future[Report] | None = None
        self.result: tuple[datetime, Report] | None = None

    @property
    def running(self) -> bool:
        """Whether a run has begun and not ended."""
        return self._run is not None and not self._run.done()

    def start(self) -> None:
        """Begins a run, unless one goes on."""
        if not self.running:
            self._run = self._pool.submit(verify, self._path)
            self._run.add_done_callback(self._keep)

    def _keep(self, run: Future[Report]) -> None:
        if run.cancelled():
            return
        trouble = run.exception()
        report = run.result() if trouble is None else Report(0, "", (Damage(None, f"it cannot be read: {trouble}"),))
        self.result = (self._now(), report)

    def close(self) -> None:
        """Ends what runs."""
        self._pool.shutdown(wait=False, cancel_futures=True)


def verify(path: Path) -> Report:
    """Verifies with what the machine has left over."""
    os.nice(10)
    with Reader(path) as reader:
        return reader.verify()
