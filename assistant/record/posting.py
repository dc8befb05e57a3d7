"""Posting: each event of the log, in order, changes the ledger's tables. Kinds it does not know change nothing."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import tzinfo

from sqlite_utils import Database

from assistant.record.books import Facts, Open, seconds_between
from assistant.record.chain import Link
from assistant.record.posting_checks import Checks
from assistant.record.posting_shop import Shop

GOES_ON = frozenset({"asked", "answered", "withdrawn", "continued", "stopped", "verdict_given"})
CLOCK_S = 60.0  # a wall clock that moves against the steady one by more was set


class Posting(Checks, Shop):
    """Posts events into the ledger; `flush` writes what is counted. `last_time` is that of the event before."""

    def __init__(self, db: Database, zone: tzinfo, last_time: tuple[str, int, str] | None = None) -> None:
        super().__init__(db, zone)
        self.before = None if last_time is None else _stub(*last_time)
        self._kinds: dict[str, Callable[[Link, Facts], None]] = {
            name.removeprefix("_on_"): getattr(self, name) for name in dir(self) if name.startswith("_on_")
        }

    def post(self, link: Link) -> None:
        """One event."""
        facts = json.loads(link.facts)
        if isinstance(facts, dict):
            if link.kind in GOES_ON and (check := self._check(link)) is not None and check.judged:
                self._reopen(check)
            if (handle := self._kinds.get(link.kind)) is not None:
                handle(link, facts)
            if (check := self._open.get(link.session)) is not None:
                check.last_seq = link.seq
                self._mark_clock(link, check)
        self.before = link

    def clock_before(self, link: Link) -> str | None:
        """That the wall clock shows an earlier time than the event before, which came first all the same."""
        if self.before is None or (gap_s := seconds_between(self.before.wall_utc, link.wall_utc)) >= -1.0:
            return None
        return f"the clock went back by {_spell(-gap_s)} before this"

    def _mark_clock(self, link: Link, check: Open) -> None:
        if self.before is None or self.before.boot != link.boot or link.seq == check.seq:
            return
        steady_s = (link.monotonic_us - self.before.monotonic_us) / 1e6
        moved_s = seconds_between(self.before.wall_utc, link.wall_utc) - steady_s
        if abs(moved_s) > CLOCK_S:
            said = f"the clock was set {'forward' if moved_s > 0 else 'back'} by {_spell(abs(moved_s))} during this"
            self._db.execute("UPDATE checks SET clock = ? WHERE seq = ?", (said, check.seq))


def _stub(boot: str, monotonic_us: int, wall_utc: str) -> Link:
    return Link(0, "", 0, "", "", "", monotonic_us, wall_utc, boot, "", "")


def _spell(seconds: float) -> str:
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min" if minutes else f"{seconds:.0f} s"
    hours, minutes = divmod(minutes, 60)
    return f"{hours // 24} days {hours % 24} h" if hours >= 48 else f"{hours} h {minutes:02} min"
