"""The days of the invented season: mornings of checks held by the real session, evenings of the shop's work.

A morning's events carry the times at which they would have come; they are adopted into the log as an export
is, since a season cannot be waited for. The evening goes through the shop's own rules.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import cycle
from random import Random

from assistant.boat_gas import GasPlan
from assistant.boat_roster import Outing, judge_unasked
from assistant.check.session import Session
from assistant.check.steps import Check
from assistant.check.turns import Record
from assistant.day_plan import SPARE, DayPlan, Row
from assistant.judges import Judges
from assistant.language.commands import Commands
from assistant.language.expected import value_of
from assistant.language.numbers import read_back
from assistant.language.replies import Replies
from assistant.record import Ledger, Link, Log, Shopwork
from assistant.record.chain import GENESIS, canonical, hash_of
from assistant.record.personal import SALT_BYTES, Words, take_apart
from assistant.rehearsal.scene import load_scene
from assistant.rehearsal.season import SeasonShape, Store, Thing
from assistant.rehearsal.season_diver import Hear, Phrases, SeasonDiver, Truth
from assistant.sums.settings import defaults

TURN_S = 25.0  # from one answer to the next, about: hands take their time
WAIT_S = 240.0  # what a diver lets pass before carrying on with a reading that came too early
WORN = ("cylinder", "regulator", "jacket", "mask")
SERVICED = ("regulator", "jacket")
DEVICE = "rehearsal"


class Scribe:
    """Makes events with given times that continue a chain; `take` gives what was made since."""

    def __init__(self, log: Log, random_bytes: Callable[[int], bytes]) -> None:
        last = list(log.entries(after=max(0, log.last_seq() - 1)))
        self._before = last[-1].link if last else Link(0, "", 0, "", "", "", 0, "", "", "", "", GENESIS)
        self._random_bytes = random_bytes
        self._session_seq: dict[str, int] = {}
        self._links: list[Link] = []
        self._words: list[Words] = []

    def write(self, session: str, record: Record, digest: str, at: datetime, since: datetime) -> None:
        """One event at that time of the boot that began at `since`."""
        facts, words = take_apart(record.facts, lambda: self._random_bytes(SALT_BYTES))
        self._words += words
        self._session_seq[session] = number = self._session_seq.get(session, 0) + 1
        bare = Link(
            self._before.seq + 1, session, number, DEVICE, record.kind, canonical(facts),
            round((at - since).total_seconds() * 1e6), at.astimezone(UTC).isoformat(timespec="microseconds"),
            f"{since:%Y%m%d%H%M}", digest, self._before.hash,
        )  # fmt: skip
        self._before = bare._replace(hash=hash_of(bare))
        self._links.append(self._before)

    def take(self) -> tuple[list[Link], list[Words]]:
        """The events and personal words since the last call."""
        made = self._links, self._words
        self._links, self._words = [], []
        return made


class SeasonClock:
    """The time in the season; what the shop's log is given for a clock."""

    def __init__(self) -> None:
        self.now = datetime(2000, 1, 1, tzinfo=UTC)

    def wall(self) -> datetime:
        return self.now


@dataclass(frozen=True, slots=True)
class Guest:
    """A diver whose check is held elsewhere, in that session, beside those of the season; `kit`, and the `spares`
    carried along: numbers by item."""

    name: str
    kit: Mapping[str, str]
    spares: Mapping[str, str]
    session: str


def day_key(today: date) -> str:
    """The session of a morning's plan."""
    return f"day-{today:%Y%m%d}"


class SeasonDays:
    """Plays days into `log`, whose wall clock must be `clock.wall`."""

    def __init__(
        self,
        shape: SeasonShape,
        check: Check,
        commands: Commands,
        replies: Replies,
        log: Log,
        ledger: Ledger,
        clock: SeasonClock,
        gas: GasPlan | None = None,
    ) -> None:
        self._shape, self._replies, self._log, self._ledger, self.clock = shape, replies, log, ledger, clock
        self._phrases, self._random, self.truth = (
            Phrases(check, commands, load_scene(check).shape.usual),
            Random(shape.seed),
            Truth(),
        )
        self._judges = Judges(defaults())
        self._hear: Hear = self._phrases.hear
        self._by = "typed"
        self._gas = gas
        self._reserved: frozenset[tuple[str, str]] = frozenset()
        self._store = Store(shape, check, date.fromisoformat(shape.first_day), self._random)

    def play(self, days: int, divers: int, last_evening: bool = True) -> Iterator[date]:
        """Plays so many days with so many divers each; gives each day when it is over.

        Without `last_evening` the last day's work in the shop is left to whoever looks.
        """
        first = date.fromisoformat(self._shape.first_day)
        self._register(first)
        for number in range(days):
            today = first + timedelta(days=number)
            self.morning(today, divers)
            if last_evening or number < days - 1:
                self.evening(today)
            yield today

    def speak(self, hear: Hear) -> None:
        """From now on answers are said aloud, and `hear` gives what is heard of them."""
        self._hear, self._by = hear, "voice"

    def reserve(self, items: Iterable[tuple[str, str]]) -> None:
        """From now on these, item and number, are given to nobody: a guest brings them, or swaps to them."""
        self._reserved = frozenset(items)

    def things(self) -> list[Thing]:
        """All numbered items, as they are now."""
        return list(self._store.things.values())

    def _register(self, first: date) -> None:
        self.clock.now = datetime(first.year, first.month, first.day, 5, 0, tzinfo=UTC)
        dates = [(thing.item, thing.number, "bought", thing.bought.isoformat()) for thing in self.things()]
        for thing in self.things():
            if thing.item in SERVICED:
                serviced = first - timedelta(days=self._random.randrange(330))
                dates.append((thing.item, thing.number, "service", serviced.isoformat()))
        Shopwork(self._log, self._ledger).note_dates(dates, self._shape.staff[0])

    def morning(self, today: date, divers: int, since: datetime | None = None, guest: Guest | None = None) -> None:
        """Checks one after the other from `since` on, by default seven o'clock, boat by boat, each boat judged at the
        end. A guest's boat is left unjudged, since that check is still to come."""
        at = since = since or datetime(today.year, today.month, today.day, 7, 0, tzinfo=UTC)
        worn = set(self._reserved)
        named: list[SeasonDiver] = []
        for place in range(1, divers + 1):
            named.append(self._diver(today, worn, place, [diver.name for diver in named]))
        seats = self._shape.seats
        boats = [named[first : first + seats] for first in range(0, divers, seats)] or [[]]
        scribe = Scribe(self._log, self._random.randbytes)
        for record in self._plan(today, boats, guest):
            scribe.write(day_key(today), record, "", since, since)
        for trip, boat in enumerate(boats, start=1):
            for place, diver in enumerate(boat, start=1):
                key = f"{today:%Y%m%d}-{(trip - 1) * seats + place:03}"
                scribe.write(day_key(today), self._call(trip, place, key), "", at, since)
                at = self._check(scribe, key, diver, today, at, since)
            if guest is not None and trip == len(boats):
                scribe.write(day_key(today), self._call(trip, len(boat) + 1, guest.session), "", at, since)
                self._adopt(scribe)
            else:
                self._adopt(scribe)
                scribe.write(day_key(today), self._judged(today, trip, at), "", at, since)
                self._adopt(scribe)

    def _adopt(self, scribe: Scribe) -> None:
        links, words = scribe.take()
        self._log.adopt(links, lambda: (words, []))

    def _diver(self, today: date, worn: set[tuple[str, str]], place: int, others: Sequence[str]) -> SeasonDiver:
        kit = {item: thing for item in WORN if (thing := self._store.take(item, today, worn)) is not None}
        free = [name for name in self._shape.divers if name not in others]
        numbered = self._random.random() < self._shape.number_share or not free
        name = str(place) if numbered else self._random.choice(free)
        return SeasonDiver(name, kit, self._store, worn, today, self._shape, self._phrases, self.truth, self._random,
                           self._hear, self._by)  # fmt: skip

    def _plan(self, today: date, boats: Sequence[Sequence[SeasonDiver]], guest: Guest | None) -> Iterator[Record]:
        """The morning's plan, as `kitcall plan-day` would write it down from a file of these lines."""
        shape, rows = self._shape, []
        sizes = {"litres": shape.litres, "depth_m": shape.depth_m, "minutes": shape.minutes}
        for name, boat in zip(cycle(shape.trips), boats, strict=False):
            kits = [(diver.name, {item: thing.number for item, thing in diver.kit.items()}) for diver in boat]
            rows += [Row(0, name, diver, numbers, sizes) for diver, numbers in kits]
            if guest is not None and boat is boats[-1]:
                rows += [Row(0, name, guest.name, guest.kit, sizes), Row(0, name, SPARE, guest.spares, {})]
        digest = hashlib.sha256("\n".join(map(str, rows)).encode()).hexdigest()
        for kind, facts in DayPlan(digest, tuple(rows), ()).records(self._phrases.check, today.isoformat()):
            yield Record(kind, facts)

    def _call(self, trip: int, place: int, session: str) -> Record:
        facts = {"trip": trip, "place": place, "check": session, "after_dive": False, "heard": "", "by": self._by}
        return Record("diver_called", facts)

    def _judged(self, today: date, trip: int, at: datetime) -> Record:
        check = self._phrases.check
        outing = Outing(day_key(today), trip, check, check)
        return Record("boat_judged", judge_unasked(self._log, outing, at.timestamp(), self._gas, self._by))

    def _check(
        self, scribe: Scribe, key: str, diver: SeasonDiver, today: date, at: datetime, since: datetime
    ) -> datetime:
        check = self._phrases.check
        session = Session(check, self._replies, value_of, read_back, self._judges.judge)
        began = ended = at
        while session.expects.kind != "nothing":
            if session.expects.kind == "waiting":
                at += timedelta(seconds=WAIT_S)
            turn = session.decide(diver.answer(session.expects), at.timestamp(), self._by)
            for record in turn.records:
                scribe.write(key, record, check.digest, at, since)
                session.apply(record, at.timestamp())
            ended, at = at, at + timedelta(seconds=TURN_S * (0.5 + self._random.random()))
        self.truth.minutes.setdefault(f"{today:%Y-%m}", []).append((ended - began).total_seconds() / 60)
        self._count(today, diver, session.verdict(ended.timestamp()).ready)
        return at + timedelta(seconds=30)

    def _count(self, today: date, diver: SeasonDiver, ready: bool) -> None:
        month = f"{today:%Y-%m}"
        self.truth.months[month, "checks"] += 1
        self.truth.months[month, "ready" if ready else "hold"] += 1
        self.truth.months[month, "swapped"] += diver.swaps > 0

    def evening(self, today: date) -> None:
        """Open points are settled, what was apart long enough is repaired, the day is signed."""
        self.clock.now = datetime(today.year, today.month, today.day, 18, 0, tzinfo=UTC)
        shop = Shopwork(self._log, self._ledger)
        who = self._random.choice(self._shape.staff)
        for point in shop.open_points(today.isoformat()):
            shop.settle_point(point, self._shape.settled_words, who)
        for thing in self._store.apart():
            assert thing.apart_since is not None
            if (today - thing.apart_since).days >= self._shape.repair_days:
                self._repair(shop, thing, who)
        shop.sign_day(today.isoformat(), who)

    def _repair(self, shop: Shopwork, thing: Thing, who: str) -> None:
        job = shop.job_of(thing.item, thing.number)
        shop.note_work(job, self._shape.found_words, self._shape.done_words, "", who)
        if self._random.random() >= self._shape.bench_share:
            shop.note_bench(job, False, "", who)
            return
        shop.note_bench(job, True, "", who)
        shop.return_to_rental(job, who)
        thing.wrong.clear()
        thing.apart_since = None
