"""Kit that moves between divers, as records. Pure.

Each gives parts: a session and its records, to be kept in one transaction; "" stands for the day's own session.
A check that is begun gets a `replaced` for each item that moves, so every step the item touches is asked again.
"""

from __future__ import annotations

from collections.abc import Sequence

from assistant.check.roster import Roster
from assistant.check.turns import Facts, Number, Record

Moved = list[tuple[str, list[Record]]]


def exchange(roster: Roster, one: int, other: int, items: Sequence[str], heard: Facts) -> Moved:
    """The items of two divers change places; `items` are those of `roster.exchangeable`."""
    facts = {"trip": roster.trip, "one": one, "other": other, "items": list(items), **heard}
    moved: Moved = [("", [Record("kit_exchanged", facts)])]
    for place, from_place in ((one, other), (other, one)):
        worn, theirs = roster.worn(place), roster.worn(from_place)
        if roster.course(place):
            records = [replaced(item, worn[item], theirs[item], "exchanged", heard) for item in items]
            moved.append((roster.divers[place].check, records))
    return moved


def give(roster: Roster, place: int, item: str, number: Number, heard: Facts) -> Moved:
    """The diver gets this item for the planned one, which is not to be had."""
    old = roster.divers[place].planned.get(item)
    facts = {"trip": roster.trip, "place": place, "item": item, "old": old, "new": number, **heard}
    moved: Moved = [("", [Record("item_given", facts)])]
    if roster.course(place):
        moved.append((roster.divers[place].check, [replaced(item, old, number, "given", heard)]))
    return moved


def replaced(item: str, old: Number, new: Number, because: str, heard: Facts) -> Record:
    """What a check is told of an item that came to its diver from outside the check."""
    return Record("replaced", {"item": item, "old": old, "new": new, "because": because, **heard})
