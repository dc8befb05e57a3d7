"""The day on deck as the log keeps it: what was planned, and what the group did. Reads only.

One import of a plan is one session, `day-…`; the group's doings go to the same session, and each check of a
diver is a session of its own, named by `diver_called`. Trips and places are whole numbers from 1, in the order
of the plan; a name is said once, in `diver_planned`, and lies apart from the hashed event.

    kind             facts
    day_planned      date (YYYY-MM-DD), file_digest (SHA-256 of the file), trips, divers (counts)
    trip_planned     trip, name, depth_m, minutes (null where the plan gives none)
    diver_planned    trip, place, diver (personal: number or first name), items {item: number or null}, water_l
    spare_planned    trip, item, number (null: unmarked)
    diver_called     trip, place, check (session), after_dive (false: the check before, true: the return check)
    item_given       trip, place, item, old, new: another item before a check, where the planned one is not to be had
    item_missing     trip, place, item, old: the same, and there was none
    kit_exchanged    trip, one, other (places), items [ids]; each check already begun gets a `replaced` beside it,
                     with `because` "exchanged", in the same transaction
    diver_taken_off  trip, place
    diver_put_back   trip, place
    boat_judged      trip, verdict (ready, hold), and places: ready, hold, begun, unchecked, off; gas (null, or
                     {place of who has least, minutes, short [places]})

All but the first four also have `heard` and `by` (voice, typed); a first name in `heard` reads "(name)". In the
checks: `set_apart` (item, number) takes an item off the rail until `returned_to_rental` (item, number), which the
shop's page writes after a bench check.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assistant.record.read import Entry, Reader

RAIL_KINDS = ("set_apart", "withdrawn", "returned_to_rental")
_RAIL = f"kind IN ({', '.join('?' * len(RAIL_KINDS))})"
_OF_DAY = f"""({_RAIL} OR session = ? OR session IN (
    SELECT json_extract(facts, '$.check') FROM event WHERE session = ? AND kind = 'diver_called'))"""


@dataclass(frozen=True, slots=True)
class DayRow:
    """One planned day: its session, its date (YYYY-MM-DD), how many trips and divers."""

    session: str
    date: str
    trips: int
    divers: int


def planned_days(reader: Reader) -> list[DayRow]:
    """Every plan in the record, in the order of import; of one date the last is in force."""
    found = reader.select("kind = ?", ("day_planned",))
    return [DayRow(each.session, *(each.facts[name] for name in ("date", "trips", "divers"))) for each in found]  # type: ignore[arg-type]


def rail_entries(reader: Reader, before: str = "") -> Iterator[Entry]:
    """Whatever took an item off the rail or put it back; of the whole record, or up to the day of that session."""
    until = "(SELECT min(seq) FROM event WHERE session = ?)"
    if not before:
        return reader.select(_RAIL, RAIL_KINDS)
    return reader.select(f"{_RAIL} AND seq < {until}", (*RAIL_KINDS, before))


def day_entries(reader: Reader, session: str) -> Iterator[Entry]:
    """Everything of that day in the order in which it happened: the plan, the group's doings, its divers' checks,
    and what went off the rail or back since in any other check or in the shop."""
    first = next(iter(reader.entries(session)), None)
    return reader.select(_OF_DAY, (*RAIL_KINDS, session, session), first.seq - 1 if first else 0)
