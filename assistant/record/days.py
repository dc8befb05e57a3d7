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
    boat_judged      trip, verdict (ready, hold), and places: ready, hold, begun, unchecked, off; gas (words or "")

All but the first four also have `heard` and `by` (voice, typed). In the checks: `set_apart` (item, number) takes
an item off the rail until `returned_to_rental` (item, number), which the shop's page writes after a bench check.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assistant.record.read import Entry, Reader

Numbered = tuple[str, str]  # item and number
RAIL_KINDS = ("set_apart", "withdrawn", "returned_to_rental")
OF_DAY = """(session = ? OR session IN (
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


def day_entries(reader: Reader, session: str, after: int = 0) -> Iterator[Entry]:
    """Everything of that day, the group's doings and its divers' checks, in the order in which it happened."""
    return reader.select(OF_DAY, (session, session), after)


def off_the_rail(reader: Reader) -> frozenset[Numbered]:
    """Items by number that are set apart now, from the whole record; what has no number cannot be told."""
    apart: set[Numbered] = set()
    taken: dict[tuple[str, str], list[Numbered | None]] = {}  # by session and item, the last one last
    marks = ", ".join("?" * len(RAIL_KINDS))
    for entry in reader.select(f"kind IN ({marks})", RAIL_KINDS):
        item, number = str(entry.facts.get("item") or ""), entry.facts.get("number")
        named = (item, str(number)) if number is not None else None
        of_item = taken.setdefault((entry.session, item), [])
        if entry.kind == "set_apart":
            of_item.append(named)
            apart |= {named} if named else set()
        elif entry.kind == "returned_to_rental":
            apart -= {named} if named else set()
        elif of_item and entry.facts.get("what") == "answered":
            taken_back = of_item.pop()
            apart -= {taken_back} if taken_back else set()
    return frozenset(apart)
