"""What is set apart: items by number that nobody may take, from the records of all checks and of the shop. Pure.

An item without a number cannot be told from another, so it is not kept here. A setting apart that was taken
back counts as never made; what the shop returned to rental is on the rail again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from assistant.check.turns import Record

RAIL_KINDS = ("set_apart", "withdrawn", "returned_to_rental")
Numbered = tuple[str, str]  # an item's id and its number


@dataclass
class Rail:
    """Follows records, each with the session it belongs to; `apart` is what they have led to."""

    apart: set[Numbered] = field(default_factory=set)
    _taken: dict[tuple[str, str], list[Numbered | None]] = field(default_factory=dict)  # by session and item

    @classmethod
    def of(cls, records: Iterable[tuple[str, Record]]) -> Rail:
        """The rail after these records, in their order."""
        rail = cls()
        for session, record in records:
            rail.follow(session, record)
        return rail

    def after(self, session: str, record: Record) -> Rail:
        """The rail after one record more; this one stays as it is."""
        if record.kind not in RAIL_KINDS:
            return self
        rail = Rail(set(self.apart), {key: list(taken) for key, taken in self._taken.items()})
        rail.follow(session, record)
        return rail

    def follow(self, session: str, record: Record) -> None:
        """Take in one record; one of no concern changes nothing."""
        if record.kind not in RAIL_KINDS:
            return
        item, number = str(record.facts.get("item") or ""), record.facts.get("number")
        named = (item, str(number)) if number is not None else None
        if record.kind == "set_apart":
            self._taken.setdefault((session, item), []).append(named)
            self.apart |= {named} if named else set()
        elif record.kind == "returned_to_rental":
            self.apart -= {named} if named else set()
        elif record.facts.get("what") == "answered" and self._taken.get((session, item)):
            taken_back = self._taken[session, item].pop()
            self.apart -= {taken_back} if taken_back else set()
