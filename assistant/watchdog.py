"""Tells systemd that the service makes progress, and only then: frames have come, the loop took them, the store writes.

The protocol is sd_notify(3): a datagram to the socket that NOTIFY_SOCKET names. Without it nothing is sent.
"""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Callable

FEED_EVERY_S = 20.0  # the unit's WatchdogSec is three times this, and more


def notify(state: str) -> None:
    """Send one state, such as READY=1; a manager that has gone away is no concern of ours."""
    name = os.environ.get("NOTIFY_SOCKET")
    if not name:
        return
    address = "\0" + name[1:] if name.startswith("@") else name
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as out:
        try:
            out.sendto(state.encode(), address)
        except OSError:
            return


class Watchdog:
    """Fed by the loop itself with every frame it takes; passes it on now and then, once the store has written."""

    def __init__(
        self, send: Callable[[str], None] = notify, clock: Callable[[], float] = time.monotonic,
        every_s: float = FEED_EVERY_S,
    ) -> None:
        self._send, self._clock, self._every_s = send, clock, every_s
        self._fed_s = clock()

    def turned(self, prove: Callable[[], None]) -> None:
        """A frame came and the loop took it. When it is time, `prove` that the store writes, then feed.

        What `prove` raises comes through, and nothing is fed.
        """
        if self._clock() - self._fed_s >= self._every_s:
            prove()
            self.feed()

    def began(self) -> None:
        """The service is up, and has made progress; may be said again."""
        self._send("READY=1")
        self.feed()

    def feed(self) -> None:
        """There was progress: a frame and a write, or a whole self-test."""
        self._send("WATCHDOG=1")
        self._fed_s = self._clock()
