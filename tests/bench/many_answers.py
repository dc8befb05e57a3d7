"""A store of so many answers for the page's benchmark: checks of 25 answers, 40 a day, faults, repairs, names.

The events are made in the form the session writes, with times as they would have come, and are adopted as an
export is. What it counts is known beforehand, so the benchmark also sees that the page counts right.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from assistant.record import Link, Log
from assistant.record.chain import GENESIS, canonical, hash_of
from assistant.record.personal import Words, take_apart

STEPS = [(f"step_{n:02}", ("regulator", "jacket", "cylinder", "mask")[n % 4]) for n in range(25)]
ITEMS = {"regulator": 60, "jacket": 60, "cylinder": 80, "mask": 60}
A_DAY, FAULT_SHARE = 40, 0.004
FIRST = datetime(2016, 1, 1, 7, tzinfo=UTC)
SAID = ["Step passed.", "Press it in short bursts, watch what happens on release, and listen along the hose."]


@dataclass
class Many:
    """Makes the events of `answers` answers; `faults` and `checks` count what it made."""

    answers: int
    random: Random = field(default_factory=lambda: Random(3))
    checks: int = 0
    faults: int = 0
    words: list[Words] = field(default_factory=list)
    _before: Link = field(default_factory=lambda: Link(0, "", 0, "", "", "", 0, "", "", "", "", GENESIS))
    _session_seq: dict[str, int] = field(default_factory=dict)

    def links(self) -> Iterator[Link]:
        """The events, in order."""
        for number in range(self.answers // len(STEPS)):
            day, place = divmod(number, A_DAY)
            yield from self._check(FIRST + timedelta(days=day, minutes=4 * place), f"{day:05}-{place:02}")
            self.checks += 1

    def _check(self, at: datetime, session: str) -> Iterator[Link]:
        worn = {item: str(self.random.randint(1, most)) for item, most in ITEMS.items()}
        facts = {"check": "rental", "items": worn, "diver": f"Diver {self.random.randint(1, 900)}", "by": "voice"}
        yield self._link(session, "check_started", facts, at)
        jobs: list[tuple[int, str, str]] = []
        for place, (step, item) in enumerate(STEPS):
            now = at + timedelta(seconds=7 * place)
            asked = {"what": "step", "step": step, "item": item, "because": "", "turn": "passed", "said": SAID}
            yield self._link(session, "asked", asked, now)
            if self.random.random() >= FAULT_SHARE:
                passed = {"step": step, "outcome": "passed", "heard": "works and stops", "by": "voice"}
                yield self._link(session, "answered", passed, now + timedelta(seconds=4))
                continue
            self.faults += 1
            code = f"fault_{self.random.randint(0, 2)}"
            bad = {"step": step, "outcome": "fault", "code": code, "heard": "it sticks", "by": "voice"}
            yield self._link(session, "answered", bad, now + timedelta(seconds=4))
            apart = self._link(
                session, "set_apart", {"item": item, "number": worn[item], "step": step, "code": code}, now
            )
            jobs.append((apart.seq, item, worn[item]))
            yield apart
        end = {"verdict": "hold" if jobs else "ready", "reasons": [], "turn": "passed", "said": SAID}
        yield self._link(session, "verdict_given", end, at + timedelta(seconds=180))
        for job, item, worn_number in jobs:
            yield from self._repair(job, item, worn_number, at + timedelta(hours=9))

    def _repair(self, job: int, item: str, number: str, at: datetime) -> Iterator[Link]:
        named = {"job": job, "item": item, "number": number, "who": "Martha"}
        yield self._link("shop", "work_noted", named | {"found": "worn", "done": "changed", "parts": ""}, at)
        yield self._link("shop", "bench_checked", named | {"outcome": "passed", "note": ""}, at)
        if self.random.random() < 0.98 or int(number) > 10:
            yield self._link("shop", "returned_to_rental", named, at)

    def _link(self, session: str, kind: str, facts: dict[str, object], at: datetime) -> Link:
        apart, words = take_apart(facts, lambda: self.random.randbytes(16))
        self.words += words
        self._session_seq[session] = number = self._session_seq.get(session, 0) + 1
        before, since = self._before, at.replace(hour=6, minute=0, second=0)
        bare = Link(
            before.seq + 1, session, number, "bench", kind, canonical(apart), round((at - since).total_seconds() * 1e6),
            at.isoformat(timespec="microseconds"), f"{at:%Y%m%d}", "d" * 64, before.hash,
        )  # fmt: skip
        self._before = bare._replace(hash=hash_of(bare))
        return self._before


def write(path: Path, answers: int) -> Many:
    """A store of so many answers at `path`, which must be new."""
    many = Many(answers)
    log = Log(path, device="bench", wall=lambda: datetime.now(UTC), monotonic=lambda: 0.0)
    log.adopt(many.links(), lambda: (many.words, []))
    log.close()
    return many


def count(answers: int) -> Many:
    """What `write` makes of so many answers, counted and written nowhere."""
    many = Many(answers)
    for _ in many.links():
        pass
    return many
