"""What the page is given: the record, clocks, names of steps and items, the centre's settings. No globals."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from pathlib import Path
from threading import Lock
from typing import Protocol

from assistant.page.passphrase import PassPhrase
from assistant.record import Ledger, Log, Report, Shopwork
from assistant.record.ledger import PART_EVENTS
from assistant.sums.settings import Settings


def plain(key: str) -> str:
    """A key as words, where nobody gave it a name."""
    return key.replace("_", " ").capitalize()


@dataclass(frozen=True, slots=True)
class Names:
    """What items, steps and faults are called; a key without a name is shown as words."""

    items: Mapping[str, str] = field(default_factory=dict)
    steps: Mapping[str, str] = field(default_factory=dict)
    faults: Mapping[tuple[str, str], str] = field(default_factory=dict)

    def item(self, key: str) -> str:
        return self.items.get(key) or plain(key or "item")

    def step(self, key: str | None) -> str:
        return self.steps.get(key or "") or plain(key or "no step")

    def fault(self, step: str | None, code: str | None) -> str:
        """The fault's own name, which says what it is of; without one, step and code as words."""
        known = self.faults.get((step or "", code or ""))
        return known[:1].upper() + known[1:] if known else f"{self.step(step)}: {plain(code or 'fault').lower()}"


class Verify(Protocol):
    """Verifies the whole record beside the page; `result` is the last one with its time, `running` whether one is."""

    @property
    def running(self) -> bool: ...
    @property
    def result(self) -> tuple[datetime, Report] | None: ...
    def start(self) -> None: ...


@dataclass(slots=True)
class Shop:
    """Everything the page stands on. `hosts` are the only values of Host that are answered."""

    store: Path
    zone: tzinfo
    open_log: Callable[[], Log]
    now: Callable[[], datetime]
    steady_s: Callable[[], float]
    random_hex: Callable[[], str]
    settings: Settings
    hosts: frozenset[str]
    verify: Verify
    names: Names = field(default_factory=Names)
    region: str = ""
    material: str = "aluminium"
    passphrase: PassPhrase | None = None
    on_network: bool = False
    following: Lock = field(default_factory=Lock)

    @property
    def today(self) -> date:
        """The shop's day."""
        return self.now().astimezone(self.zone).date()

    @contextmanager
    def reading(self) -> Iterator[Ledger]:
        """The ledger, followed as far as a waiting person can bear; the rest comes with the next page."""
        with Ledger(self.store, self.zone) as ledger:
            if ledger.behind():
                with self.following:
                    ledger.follow(PART_EVENTS)
            yield ledger

    @contextmanager
    def writing(self) -> Iterator[Shopwork]:
        """The shop's work for one change; the log is held for no longer. Raises StoreBusy while a check runs."""
        log = self.open_log()
        try:
            with self.following, Ledger(self.store, self.zone) as ledger:
                yield Shopwork(log, ledger)
        finally:
            log.close()
