"""The chain of hashes, pure: what bytes an event's hash covers, and whether a list of events holds.

The hashed bytes of an event are UTF-8 lines, each ended by one line feed:
the format's name, then one line per field of FIELDS in that order, `name value`.
A value is written as JSON (numbers bare, text quoted); facts are the stored
canonical JSON as it stands. `prev_hash` is the hash of the event before, 64
zeros for the first. So any SHA-256 program can check any event by hand.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

FORMAT = "kitcall-event-1"
GENESIS = "0" * 64
FIELDS = (
    "seq",
    "session",
    "session_seq",
    "device",
    "kind",
    "facts",
    "monotonic_us",
    "wall_utc",
    "boot",
    "sequence_digest",
    "prev_hash",
)
_TYPES = (int, str, int, str, str, str, int, str, str, str, str)
_lines = "\n".join([FORMAT, *(f"{name} {{}}" for name in FIELDS), ""]).format
# made once, and text quoted by what JSON's own encoder quotes with: verify does both ten times an event
_in_json = json.JSONEncoder(ensure_ascii=False, default=repr).encode
_quoted = json.encoder.encode_basestring
_canonical = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode
MOST_NAMED = 100  # a report names no more damages than this


class Link(NamedTuple):
    """One event exactly as stored: `facts` is JSON text, `monotonic_us` whole microseconds."""

    seq: int
    session: str
    session_seq: int
    device: str
    kind: str
    facts: str
    monotonic_us: int
    wall_utc: str
    boot: str
    sequence_digest: str
    prev_hash: str
    hash: str = ""


@dataclass(frozen=True, slots=True)
class Damage:
    """One thing that does not hold. `seq` is the event it is at, None when it is at no event."""

    seq: int | None
    what: str


@dataclass(frozen=True, slots=True)
class Report:
    """The result of verifying: how many events, the head hash, and every damage, first one first."""

    count: int
    head: str
    damages: tuple[Damage, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        return not self.damages

    @property
    def first(self) -> Damage | None:
        return self.damages[0] if self.damages else None


def canonical(facts: Mapping[str, object]) -> str:
    """The one JSON text of these facts: keys sorted, no spaces, no escapes beyond JSON's own.

    Raises TypeError or ValueError for what JSON cannot hold (NaN and infinities included).
    """
    return _canonical(facts)


def hashed_bytes(link: Link) -> bytes:
    """The bytes that the event's hash covers, as this file's head describes them."""
    values = link[: len(FIELDS)]
    if tuple(map(type, values)) == _TYPES:
        lines = _lines(
            link.seq, _quoted(link.session), link.session_seq, _quoted(link.device), _quoted(link.kind), link.facts,
            link.monotonic_us, _quoted(link.wall_utc), _quoted(link.boot), _quoted(link.sequence_digest),
            _quoted(link.prev_hash),
        )  # fmt: skip
    else:
        lines = _lines(*(_odd(name, value) for name, value in zip(FIELDS, values, strict=True)))
    return lines.encode("utf-8", "surrogateescape")


def _odd(name: str, value: object) -> str:
    """A value as it is written where a changed store holds other types than it should."""
    return f"{value}" if name == "facts" else _in_json(value)


def hash_of(link: Link) -> str:
    """SHA-256 over `hashed_bytes`, 64 hex digits (tests/record/test_chain.py recomputes it elsewhere)."""
    return hashlib.sha256(hashed_bytes(link)).hexdigest()


def verify(links: Iterable[Link]) -> Report:
    """Whether the events, in stored order from the first, hold together; names each that does not.

    A shortened end cannot be seen here: nothing in the chain says how long it should be.
    The receipts (receipts.py) tell that.
    """
    damages: list[Damage] = []
    count, before = 0, Link(0, "", 0, "", "", "", 0, "", "", "", "", GENESIS)
    for link in links:
        count += 1
        if len(damages) < MOST_NAMED:
            damages += _wrong_with(link, before)
        before = link
    return Report(count, before.hash, tuple(damages[:MOST_NAMED]))


def _wrong_with(link: Link, before: Link) -> list[Damage]:
    if not isinstance(link.seq, int) or link.seq <= before.seq:
        return [Damage(link.seq, f"event {link.seq} stands after event {before.seq}: the order was changed")]
    wrong = []
    if link.seq > before.seq + 1:
        wrong.append(Damage(before.seq + 1, _missing(before.seq + 1, link.seq - 1)))
    if hash_of(link) != link.hash:
        wrong.append(Damage(link.seq, f"event {link.seq} does not match its own hash: it was changed"))
    elif link.prev_hash != before.hash and not wrong:
        said = f"event {link.seq} does not follow from event {before.seq}: one of the two was put in or replaced"
        wrong.append(Damage(link.seq, said))
    return wrong


def _missing(first: int, last: int) -> str:
    return f"event {first} is missing" if first == last else f"events {first} to {last} are missing"
