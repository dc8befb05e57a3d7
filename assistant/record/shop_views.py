"""What people read of the shop's work and of the trips: SQL views beside those of views.py, by its rules."""

from __future__ import annotations

from assistant.record.views import WHEN, fact, personal, taken_back, yes

_WHATS = {
    "set_apart": "set apart", "work_noted": "worked on", "bench_checked": "bench check",
    "returned_to_rental": "back in rental",
    "point_settled": "point settled", "point_carried": "point carried over", "day_signed": "day signed off",
}  # fmt: skip


def _what(*kinds: str) -> str:
    rows = (f"WHEN '{kind}' THEN '{_WHATS[kind]}'" for kind in kinds)
    return f"CASE e.kind {' '.join(rows)} END"


def _of(*kinds: str) -> str:
    return "e.kind IN ('" + "', '".join(kinds) + "')"


# the answer that set it apart was taken back
_UNDONE = f"e.kind = 'set_apart' AND {taken_back('e', 'set_apart', 'item', what='answered')}"

_REPAIR = ("set_apart", "work_noted", "bench_checked", "returned_to_rental")
_SIGNING = ("point_settled", "point_carried", "day_signed")

REPAIRS = f"""CREATE VIEW repairs AS SELECT
    e.seq AS event,
    {WHEN} AS done_utc,
    CASE e.kind WHEN 'set_apart' THEN e.seq ELSE {fact("job")} END AS job,
    {fact("item")} AS item,
    coalesce({fact("number")}, 'unmarked') AS number,
    {_what(*_REPAIR)} AS what,
    coalesce({fact("why")}, {fact("step")} || ': ' || {fact("code")}) AS why,
    {fact("found")} AS found,
    {fact("done")} AS done,
    nullif({fact("parts")}, '') AS parts,
    {fact("outcome")} AS outcome,
    nullif({fact("note")}, '') AS note,
    {personal("who")} AS who,
    CASE WHEN e.session <> 'shop' THEN e.session END AS "check",
    {yes(_UNDONE)} AS withdrawn
FROM event e WHERE {_of(*_REPAIR)} ORDER BY e.seq"""

SIGN_OFFS = f"""CREATE VIEW sign_offs AS SELECT
    e.seq AS event,
    {WHEN} AS done_utc,
    {fact("day")} AS day,
    {_what(*_SIGNING)} AS what,
    {fact("check")} AS "check",
    {fact("note")} AS note,
    {fact("checks")} AS checks,
    CASE e.kind WHEN 'day_signed' THEN json_array_length(e.facts, '$.carried') END AS carried_over,
    {personal("who")} AS who
FROM event e WHERE {_of(*_SIGNING)} ORDER BY e.seq"""

VIEWS_2 = (REPAIRS, SIGN_OFFS)


def _of_trip(kind: str, expression: str) -> str:
    """The expression over the last event `l` of that kind about trip `t`."""
    return f"""(SELECT {expression} FROM event l WHERE l.session = t.session AND l.kind = '{kind}'
        AND {fact("trip", "l")} = {fact("trip", "t")} ORDER BY l.seq DESC LIMIT 1)"""


# divers in the order of the plan; a plan that was imported anew for the same day stands there again
TRIPS = f"""CREATE VIEW trips AS SELECT
    t.seq AS event,
    (SELECT {fact("date", "d")} FROM event d WHERE d.session = t.session AND d.kind = 'day_planned') AS day,
    {fact("name", "t")} AS trip,
    {fact("depth_m", "t")} AS depth_m,
    {fact("minutes", "t")} AS minutes,
    (SELECT group_concat(diver, ', ') FROM (SELECT {personal("diver")} AS diver FROM event e
        WHERE e.session = t.session AND e.kind = 'diver_planned' AND {fact("trip")} = {fact("trip", "t")}
        ORDER BY e.seq)) AS divers,
    {_of_trip("boat_judged", fact("verdict", "l"))} AS boat,
    {_of_trip("boat_judged", WHEN.replace("wall_utc", "l.wall_utc"))} AS judged_utc,
    {_of_trip("boat_judged", "round(" + fact("gas.minutes", "l") + ")")} AS gas_minutes
FROM event t WHERE t.kind = 'trip_planned' ORDER BY t.seq"""

VIEWS_4 = (TRIPS,)
