"""A day as the shop reads it: trips, checks, open points, faults, voice notes, sign-off. Reads the ledger only.

A point is open where a check ended in anything but READY and nobody settled it, and the same diver had no
READY check later that day. A carried point stands on every day from then on, until it is settled.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from assistant.record.ledger import Ledger
from assistant.record.personal import REMOVED, digests_in, put_together

CHECK = """c.seq, c.session, c.day, c.started, c.title, c.who, c.verdict, c.reasons, c.answers, c.faults, c.swaps,
    c.doubts, c.notes, c.stopped, c.lasted_s, c.last_seq, c.device, c.clock, d.trip, d.after_dive"""
CHECKS = f"SELECT {CHECK} FROM checks c LEFT JOIN called d USING (session)"
GOOD_ENOUGH = ("ready", "sound", "faulty")  # the last two end a return check, whose faults become jobs
DAYS_BACK = 14  # days with checks that are looked at for a missing sign-off
MOST = 500  # rows of one list on one page


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One check. `verdict` is ready, hold or empty; `who` the diver as given, "removed", or empty; `kit` what was worn
    in the end, item and number (empty: unmarked)."""

    seq: int
    session: str
    day: str
    started: str
    title: str | None
    who: str
    verdict: str
    reasons: tuple[Mapping[str, str], ...]
    answers: int
    faults: int
    swaps: int
    doubts: int
    notes: int
    stopped: bool
    lasted_s: float | None
    last_seq: int
    device: str
    clock: str | None
    trip: int | None
    after_dive: bool
    kit: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class FaultLine:
    """One fault. `number` is empty for an unmarked item, `withdrawn` when it was taken back."""

    seq: int
    session: str
    day: str
    step: str
    code: str
    item: str
    number: str
    said: str | None
    apart: bool
    withdrawn: bool


@dataclass(frozen=True, slots=True)
class Doing:
    """One thing somebody did in the shop, or a setting apart on deck; `who` as given."""

    seq: int
    kind: str
    day: str
    at: str
    job: int | None
    item: str | None
    number: str | None
    about_day: str | None
    about_check: str | None
    who: str
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Trip:
    """A planned trip and the boat's last verdict; `who` names its divers by their places."""

    trip: int
    name: str | None
    divers: int
    verdict: str
    facts: Mapping[str, Any]
    who: Mapping[int, str]


@dataclass(frozen=True, slots=True)
class NoteLine:
    """A voice note: the step it was left at, and the clip's digest."""

    seq: int
    session: str
    step: str
    clip: str


@dataclass(frozen=True, slots=True)
class Day:
    """All of one day; `open` are points to settle or carry, `carried` those of earlier days."""

    day: str
    trips: list[Trip]
    checks: list[CheckLine]
    open: list[CheckLine]
    carried: list[CheckLine]
    doings: list[Doing]
    faults: list[FaultLine]
    notes: list[NoteLine]
    signed: Doing | None
    later: list[int]
    before: str | None
    after: str | None


def checks_where(
    ledger: Ledger, where: str, values: Sequence[object], order: str = "c.seq", limit: int = MOST
) -> list[CheckLine]:
    """Checks with the words for who dived; for this room only."""
    rows = ledger.rows(f"{CHECKS} WHERE {where} ORDER BY {order} LIMIT {limit:d}", values)
    words = ledger.words([row[5] for row in rows if row[5]])
    kits = _kits(ledger, [row[0] for row in rows])
    return [_check_line(row, words, tuple(kits.get(row[0], ()))) for row in rows]


def _kits(ledger: Ledger, checks: Sequence[int]) -> dict[int, list[tuple[str, str]]]:
    kits: dict[int, list[tuple[str, str]]] = {}
    sql = f"SELECT seq, item, number FROM worn WHERE until IS NULL AND seq IN ({', '.join('?' * len(checks))})"
    for seq, item, number in ledger.rows(sql, checks):
        kits.setdefault(seq, []).append((item, number))
    return kits


def _check_line(row: tuple[Any, ...], words: Mapping[str, str], kit: tuple[tuple[str, str], ...]) -> CheckLine:
    who = words.get(row[5], REMOVED) if row[5] else ""
    reasons = tuple(each if isinstance(each, dict) else {"kind": str(each)} for each in json.loads(row[7] or "[]"))
    values = [*row[:5], who, row[6] or "", reasons, *row[8:13], bool(row[13]), *row[14:19], bool(row[19]), kit]
    return CheckLine(*values)


def faults_where(ledger: Ledger, where: str, values: Sequence[object], limit: int = MOST) -> list[FaultLine]:
    """Faults, newest first; for this room only."""
    sql = f"""SELECT f.seq, c.session, f.day, f.step, f.code, f.item, f.number, f.said, f.apart, f.withdrawn
        FROM faults f JOIN checks c ON c.seq = f.check_seq WHERE {where} ORDER BY f.seq DESC LIMIT {limit:d}"""
    return [FaultLine(*[*row[:8], bool(row[8]), bool(row[9])]) for row in ledger.rows(sql, values)]


def doings_where(
    ledger: Ledger, where: str, values: Sequence[object], limit: int = MOST, order: str = "ASC"
) -> list[Doing]:
    """What was done in the shop, in order; for this room only."""
    rows = ledger.rows(f"SELECT * FROM doings WHERE {where} ORDER BY seq {order} LIMIT {limit:d}", values)
    words = ledger.words([row[9] for row in rows if row[9]])
    return [_doing(row, words) for row in rows]


def _doing(row: tuple[Any, ...], words: Mapping[str, str]) -> Doing:
    facts = put_together(json.loads(row[10]), words)
    assert isinstance(facts, dict)
    return Doing(*[*row[:9], words.get(row[9], REMOVED) if row[9] else "", facts])


def newest_day(ledger: Ledger) -> str | None:
    """The last day that has a check or a plan."""
    found = ledger.rows(
        "SELECT max(day) FROM (SELECT max(day) AS day FROM checks UNION ALL SELECT max(day) FROM trips)"
    )
    return None if found[0][0] is None else str(found[0][0])


def read_day(ledger: Ledger, day: str) -> Day:
    """The day `YYYY-MM-DD`; empty lists where nothing happened."""
    checks = checks_where(ledger, "c.day = ?", (day,))
    doings = doings_where(ledger, "about_day = ? OR (job IN (SELECT seq FROM jobs WHERE day = ?))", (day, day))
    settled = {each.about_check for each in doings if each.kind in ("point_settled", "point_carried")}
    signed = next((each for each in reversed(doings) if each.kind == "day_signed"), None)
    open_points = [check for check in points(checks) if check.session not in settled]
    later = [] if signed is None else [check.seq for check in checks if check.last_seq > signed.seq]
    return Day(
        day, _trips(ledger, day), checks, open_points, carried(ledger, day), doings,
        faults_where(ledger, "f.day = ?", (day,)), _notes(ledger, checks), signed, later,
        _beside(ledger, "max", "<", day), _beside(ledger, "min", ">", day),
    )  # fmt: skip


def unsigned_days(ledger: Ledger, before: str) -> list[str]:
    """Those of the last DAYS_BACK days with checks that nobody signed off, the newest first."""
    sql = f"""WITH RECURSIVE back (day, n) AS (
        SELECT max(day), 1 FROM checks WHERE day < ? UNION ALL
        SELECT (SELECT max(c.day) FROM checks c WHERE c.day < back.day), n + 1 FROM back
            WHERE back.day IS NOT NULL AND n < {DAYS_BACK})
        SELECT day FROM back WHERE day IS NOT NULL AND NOT EXISTS (
            SELECT 1 FROM doings WHERE about_day = back.day AND kind = 'day_signed')"""
    return [str(row[0]) for row in ledger.rows(sql, (before,))]


def points(checks: Sequence[CheckLine]) -> list[CheckLine]:
    """Checks of one day that did not end in READY, and were not made good by a later one of the same diver."""
    good: dict[str, int] = {check.who: check.seq for check in checks if check.verdict == "ready" and named(check)}
    unfit = [check for check in checks if not (check.verdict in GOOD_ENOUGH or check.after_dive)]
    return [check for check in unfit if good.get(check.who, 0) < check.seq]


def named(check: CheckLine) -> bool:
    """Whether the check says whose it is."""
    return check.who not in ("", REMOVED)


def carried(ledger: Ledger, day: str) -> list[CheckLine]:
    """Points carried over from earlier days and not settled yet."""
    return checks_where(ledger, "c.session IN (SELECT session FROM carried WHERE from_day < ?)", (day,))


def _trips(ledger: Ledger, day: str) -> list[Trip]:
    sql = "SELECT trip, name, divers, verdict, facts, plan FROM trips WHERE day = ? AND trip > 0 ORDER BY trip"
    return [Trip(t, name, divers, verdict or "", json.loads(facts or "{}"), _divers(ledger, plan, t))
            for t, name, divers, verdict, facts, plan in ledger.rows(sql, (day,))]  # fmt: skip


def _divers(ledger: Ledger, plan: str, trip: int) -> dict[int, str]:
    rows = ledger.rows("SELECT facts FROM log.event WHERE kind = 'diver_planned' AND session = ?", (plan,))
    planned = [facts for facts in map(json.loads, (row[0] for row in rows)) if facts.get("trip") == trip]
    words = ledger.words([digest for facts in planned for digest in digests_in(facts)])
    return {facts["place"]: str(put_together(facts["diver"], words)) for facts in planned}


def _notes(ledger: Ledger, checks: Sequence[CheckLine]) -> list[NoteLine]:
    found = []
    for check in checks:
        if check.notes:
            rows = ledger.rows(
                "SELECT seq, facts FROM log.event WHERE kind = 'noted' AND session = ? ORDER BY seq", (check.session,)
            )
            found += [NoteLine(seq, check.session, str(f.get("step") or ""), str(f.get("clip") or ""))
                      for seq, f in ((seq, json.loads(facts)) for seq, facts in rows)]  # fmt: skip
    return found


def _beside(ledger: Ledger, choice: str, side: str, day: str) -> str | None:
    found = ledger.rows(f"SELECT {choice}(day) FROM checks WHERE day {side} ?", (day,))
    return None if found[0][0] is None else str(found[0][0])
