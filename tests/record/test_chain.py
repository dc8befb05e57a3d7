"""The chain of hashes, checked against SHA-256 itself and against programs that are not ours."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.record import Log
from assistant.record.chain import GENESIS, Damage, Link, canonical, hash_of, verify


def test_sha256_is_the_published_one() -> None:
    # FIPS 180-4 (NIST), SHA-256 example "abc" of the Secure Hash Standard's example values
    expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert hashlib.sha256(b"abc").hexdigest() == expected


def chain(count: int) -> list[Link]:
    links, before = [], GENESIS
    for seq in range(1, count + 1):
        link = Link(seq, "a", seq, "box", "asked", f'{{"n":{seq}}}', seq * 7, "2026-05-04", "b", "d", before)
        before = hash_of(link)
        links.append(link._replace(hash=before))
    return links


def rehashed(link: Link, **changes: object) -> Link:
    changed = link._replace(**changes)  # type: ignore[arg-type]
    return changed._replace(hash=hash_of(changed))


CHANGED = "event {0} does not match its own hash: it was changed"
BREAKS = "event {1} does not follow from event {0}: one of the two was put in or replaced"

DAMAGES: list[tuple[str, Callable[[list[Link]], list[Link]], list[tuple[int, str]]]] = [
    ("nothing", lambda c: c, []),
    ("empty", lambda c: [], []),
    ("first gone", lambda c: c[1:], [(1, "event 1 is missing")]),
    ("one gone", lambda c: c[:2] + c[3:], [(3, "event 3 is missing")]),
    ("two gone", lambda c: c[:2] + c[4:], [(3, "events 3 to 4 are missing")]),
    ("edited", lambda c: [*c[:2], c[2]._replace(kind="x"), *c[3:]], [(3, CHANGED.format(3))]),
    ("edited, hash renewed", lambda c: [*c[:2], rehashed(c[2], kind="x"), *c[3:]], [(4, BREAKS.format(3, 4))]),
    ("two swapped", lambda c: [c[0], c[2], c[1], *c[3:]], [
        (2, "event 2 is missing"),
        (2, "event 2 stands after event 3: the order was changed"),
        (3, "event 3 is missing"),
    ]),
    ("renumbered swap", lambda c: [c[0], rehashed(c[2], seq=2), rehashed(c[1], seq=3), *c[3:]], [
        (2, BREAKS.format(1, 2)), (3, BREAKS.format(2, 3)), (4, BREAKS.format(3, 4)),
    ]),
    ("put in", lambda c: [*c[:2], rehashed(c[2], kind="x"), *[rehashed(x, seq=x.seq + 1) for x in c[2:]]], [
        (4, BREAKS.format(3, 4)), (5, BREAKS.format(4, 5)), (6, BREAKS.format(5, 6)),
    ]),
    ("last said twice", lambda c: [*c, c[-1]], [(5, "event 5 stands after event 5: the order was changed")]),
    ("two edited", lambda c: [c[0]._replace(facts="{}"), *c[1:4], c[4]._replace(hash="0" * 64)], [
        (1, CHANGED.format(1)), (5, CHANGED.format(5)),
    ]),
]  # fmt: skip


@pytest.mark.parametrize(("change", "expected"), [row[1:] for row in DAMAGES], ids=[row[0] for row in DAMAGES])
def test_every_damage_is_named(change: Callable[[list[Link]], list[Link]], expected: list[tuple[int, str]]) -> None:
    report = verify(change(chain(5)))
    assert list(report.damages) == [Damage(*row) for row in expected]
    assert report.ok == (not expected)
    assert report.first == (Damage(*expected[0]) if expected else None)


def test_a_cut_end_cannot_be_seen_from_the_chain_alone() -> None:
    assert verify(chain(5)[:3]).ok


def test_the_report_counts_and_names_the_head() -> None:
    links = chain(5)
    assert (verify(links).count, verify(links).head) == (5, links[-1].hash)
    assert (verify([]).count, verify([]).head) == (0, GENESIS)


CANONICAL = [
    ("keys sorted", {"b": 1, "a": {"d": 2, "c": None}}, '{"a":{"c":null,"d":2},"b":1}'),
    ("letters as they are", {"naïve": "Ω"}, '{"naïve":"Ω"}'),
    ("line feed escaped", {"a": "x\ny"}, '{"a":"x\\ny"}'),
]


@pytest.mark.parametrize(("facts", "expected"), [row[1:] for row in CANONICAL], ids=[row[0] for row in CANONICAL])
def test_facts_have_one_text(facts: dict[str, object], expected: str) -> None:
    assert canonical(facts) == expected


def test_hash_recomputed_from_the_documented_bytes(kept: Log) -> None:
    """Written from the description at the head of chain.py, with nothing of its code."""
    before = "0" * 64
    for entry in kept.entries():
        stored = entry.link
        text = "kitcall-event-1\n"
        text += f"seq {stored.seq}\nsession {json.dumps(stored.session)}\nsession_seq {stored.session_seq}\n"
        text += f"device {json.dumps(stored.device)}\nkind {json.dumps(stored.kind)}\nfacts {stored.facts}\n"
        text += f"monotonic_us {stored.monotonic_us}\nwall_utc {json.dumps(stored.wall_utc)}\n"
        text += f"boot {json.dumps(stored.boot)}\nsequence_digest {json.dumps(stored.sequence_digest)}\n"
        text += f"prev_hash {json.dumps(before)}\n"
        before = hashlib.sha256(text.encode()).hexdigest()
        assert entry.hash == before


BY_HAND = """SELECT 'kitcall-event-1' || char(10) || 'seq ' || seq || char(10)
    || 'session ' || json_quote(session) || char(10) || 'session_seq ' || session_seq || char(10)
    || 'device ' || json_quote(device) || char(10) || 'kind ' || json_quote(kind) || char(10)
    || 'facts ' || facts || char(10) || 'monotonic_us ' || monotonic_us || char(10)
    || 'wall_utc ' || json_quote(wall_utc) || char(10) || 'boot ' || json_quote(boot) || char(10)
    || 'sequence_digest ' || json_quote(sequence_digest) || char(10)
    || 'prev_hash ' || json_quote(prev_hash) FROM event WHERE seq = {seq};"""


@pytest.mark.skipif(not (shutil.which("sqlite3") and shutil.which("sha256sum")), reason="needs sqlite3 and sha256sum")
def test_hash_by_sqlite_shell_and_sha256sum_alone(kept: Log, store: Path) -> None:
    for entry in kept.entries():
        shell = ["sqlite3", "-readonly", str(store), BY_HAND.format(seq=entry.seq)]
        # the shell ends its output with the line feed that the last line has
        text = subprocess.run(shell, check=True, capture_output=True).stdout
        summed = subprocess.run(["sha256sum"], input=text, check=True, capture_output=True).stdout
        assert summed.split()[0].decode() == entry.hash
