"""What people read: checks, answers, faults and swaps, as SQL views and as plain rows (the shop's: shop_views.py).

The views open in any SQLite shell: their columns are words, and there is no JSON
to read. Event kinds or facts that a view does not know are passed over, never
an error. A view's SQL that has shipped never changes: a better one comes with a
new migration (schema.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assistant.record.personal import REMOVED

WHEN = "strftime('%Y-%m-%d %H:%M:%S', wall_utc)"


def fact(name: str, event: str = "e") -> str:
    return f"json_extract({event}.facts, '$.{name}')"


def _items(event: str = "e") -> str:
    """`jacket 7, mask unmarked` from a fact items{item: number|null}."""
    return (
        f"(SELECT group_concat(key || ' ' || coalesce(value, 'unmarked'), ', ')"
        f" FROM json_each({event}.facts, '$.items'))"
    )


def _standing(kind: str, expression: str) -> str:
    """The expression over the ending `l` of that kind of check `e`; nothing once the check went on after it."""
    return f"""(SELECT {expression} FROM event l WHERE l.session = e.session AND l.kind = '{kind}'
        AND NOT EXISTS (SELECT 1 FROM event later WHERE later.session = e.session AND later.seq > l.seq
            AND later.kind IN ('asked', 'answered', 'withdrawn', 'continued', 'stopped', 'verdict_given'))
        ORDER BY l.seq DESC LIMIT 1)"""


def taken_back(event: str, kind: str, same: str, what: str = "") -> str:
    """A later withdrawal of `what` (`event`'s own kind unless given), and no newer act of that kind on the same step
    or item before it."""
    return f"""EXISTS (SELECT 1 FROM event w
        WHERE w.session = {event}.session AND w.kind = 'withdrawn' AND w.seq > {event}.seq
          AND coalesce({fact("what", "w")}, 'answered') = '{what or kind}' AND {fact(same, "w")} = {fact(same, event)}
          AND NOT EXISTS (SELECT 1 FROM event a WHERE a.session = {event}.session AND a.kind = '{kind}'
              AND a.seq > {event}.seq AND a.seq < w.seq AND {fact(same, "a")} = {fact(same, event)}))"""


def personal(name: str) -> str:
    """A fact that may lie apart: the words, or that they were removed."""
    return f"""CASE WHEN json_type(e.facts, '$.{name}') = 'object'
    THEN coalesce((SELECT text FROM personal WHERE digest = {fact(f"{name}.personal")}), '{REMOVED}')
    ELSE {fact(name)} END"""


def yes(condition: str) -> str:
    return f"CASE WHEN {condition} THEN 'yes' END"


# answers, each with the item that its step was asked of
_ANSWERED = f"""(SELECT answer.*, (SELECT {fact("item", "q")} FROM event q
        WHERE q.session = answer.session AND q.kind = 'asked' AND q.seq < answer.seq
          AND {fact("step", "q")} = {fact("step", "answer")} ORDER BY q.seq DESC LIMIT 1) AS item
    FROM event answer WHERE answer.kind = 'answered') e"""

# the number of that item which the diver wore then
_WORN = f"""CASE WHEN e.item IS NOT NULL THEN coalesce(
        (SELECT coalesce({fact("new", "r")}, 'unmarked') FROM event r
        WHERE r.session = e.session AND r.kind = 'replaced' AND r.seq < e.seq AND {fact("item", "r")} = e.item
          AND NOT {taken_back("r", "replaced", "item")} ORDER BY r.seq DESC LIMIT 1),
        (SELECT n.value FROM event b, json_each(b.facts, '$.items') n
        WHERE b.session = e.session AND b.kind = 'check_started' AND n.key = e.item LIMIT 1), 'unmarked') END"""

_SAID = f"coalesce({fact('heard')}, {fact('phrase')})"

_REASONS = """(SELECT group_concat(CASE type WHEN 'object' THEN coalesce(value ->> 'kind', '')
        || coalesce(' ' || nullif(value ->> 'step', ''), '') || coalesce(' ' || nullif(value ->> 'code', ''), '')
        || coalesce(' (' || nullif(value ->> 'item', '') || ')', '')
        ELSE value END, '; ')
    FROM json_each(l.facts, '$.reasons'))"""

CHECKS = f"""CREATE VIEW checks AS SELECT
    e.session AS "check",
    {WHEN} AS started_utc,
    {_standing("verdict_given", WHEN.replace("wall_utc", "l.wall_utc"))} AS verdict_utc,
    coalesce({fact("title")}, {fact("check")}) AS title,
    {personal("diver")} AS diver,
    {_items()} AS items_at_start,
    {_standing("verdict_given", "json_extract(l.facts, '$.verdict')")} AS verdict,
    {_standing("verdict_given", _REASONS)} AS reasons,
    (SELECT count(*) FROM event a WHERE a.session = e.session AND a.kind = 'answered') AS answers,
    (SELECT count(*) FROM event a WHERE a.session = e.session AND a.kind = 'answered'
        AND {fact("outcome", "a")} = 'fault') AS faults,
    {_standing("stopped", "'yes'")} AS stopped,
    e.device AS device
FROM event e WHERE e.kind = 'check_started' ORDER BY e.seq"""

ANSWERS = f"""CREATE VIEW answers AS SELECT
    e.seq AS event,
    e.session AS "check",
    {WHEN} AS answered_utc,
    {fact("step")} AS step,
    {fact("outcome")} AS outcome,
    coalesce({fact("name")}, {fact("code")}) AS fault,
    {_SAID} AS said,
    {fact("by")} AS given_by,
    {fact("value")} AS reading,
    {fact("unit")} AS unit,
    e.item AS item,
    {_WORN} AS number,
    {yes(taken_back("e", "answered", "step"))} AS withdrawn
FROM {_ANSWERED} ORDER BY e.seq"""

FAULTS = f"""CREATE VIEW faults AS SELECT
    e.seq AS event,
    e.session AS "check",
    {WHEN} AS found_utc,
    {fact("step")} AS step,
    coalesce({fact("name")}, {fact("code")}) AS fault,
    {fact("code")} AS code,
    {_SAID} AS said,
    e.item AS item,
    {_WORN} AS number,
    (SELECT {fact("item", "s")} || ' ' || coalesce({fact("number", "s")}, 'unmarked') FROM event s
        WHERE s.session = e.session AND s.kind = 'set_apart' AND s.seq > e.seq
          AND {fact("step", "s")} = {fact("step")} AND {fact("code", "s")} = {fact("code")}
        ORDER BY s.seq LIMIT 1) AS set_apart,
    {yes(taken_back("e", "answered", "step"))} AS withdrawn
FROM {_ANSWERED} WHERE {fact("outcome")} = 'fault' ORDER BY e.seq"""

SWAPS = f"""CREATE VIEW swaps AS SELECT
    e.seq AS event,
    e.session AS "check",
    {WHEN} AS swapped_utc,
    {fact("item")} AS item,
    CASE e.kind WHEN 'no_spare' THEN 'no spare' ELSE 'replaced' END AS what,
    CASE e.kind WHEN 'replaced' THEN coalesce({fact("old")}, 'unmarked') END AS old_number,
    CASE e.kind WHEN 'replaced' THEN coalesce({fact("new")}, 'unmarked') END AS new_number,
    {
    yes(
        f"CASE e.kind WHEN 'replaced' THEN {taken_back('e', 'replaced', 'item')}"
        f" ELSE {taken_back('e', 'no_spare', 'item')} END"
    )
} AS withdrawn
FROM event e WHERE e.kind IN ('replaced', 'no_spare') ORDER BY e.seq"""

VIEWS_1 = (CHECKS, ANSWERS, FAULTS, SWAPS)


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One check. Times are UTC, `YYYY-MM-DD HH:MM:SS`; what is not there (yet) is None."""

    check: str
    started_utc: str
    verdict_utc: str | None
    title: str | None
    diver: str | None
    items_at_start: str | None
    verdict: str | None
    reasons: str | None
    answers: int
    faults: int
    stopped: str | None
    device: str


@dataclass(frozen=True, slots=True)
class AnswerRow:
    """One answer; `event` is its number in the log, `withdrawn` "yes" or None."""

    event: int
    check: str
    answered_utc: str
    step: str | None
    outcome: str | None
    fault: str | None
    said: str | None
    given_by: str | None
    reading: float | None
    unit: str | None
    item: str | None
    number: str | None
    withdrawn: str | None


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One fault as answered; `set_apart` is the item and number that it took off the rail, or None."""

    event: int
    check: str
    found_utc: str
    step: str | None
    fault: str | None
    code: str | None
    said: str | None
    item: str | None
    number: str | None
    set_apart: str | None
    withdrawn: str | None


@dataclass(frozen=True, slots=True)
class SwapRow:
    """One replacement, or that there was none; numbers are None when there was no spare."""

    event: int
    check: str
    swapped_utc: str
    item: str | None
    what: str
    old_number: str | None
    new_number: str | None
    withdrawn: str | None


ROWS: Mapping[str, type[CheckRow] | type[AnswerRow] | type[FaultRow] | type[SwapRow]] = {
    "checks": CheckRow,
    "answers": AnswerRow,
    "faults": FaultRow,
    "swaps": SwapRow,
}
