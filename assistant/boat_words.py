"""What is said to a group: the group's replies filled with names, standings and reasons. Decides nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from assistant.boat_gas import GasFound
from assistant.check.diver import Found, Standing
from assistant.check.roster import Roster
from assistant.check.speech import Speech
from assistant.check.turns import Number
from assistant.check.verdict import Verdict
from assistant.language.numbers import read_back
from assistant.language.replies import Replies

WAITING = (Standing.BEGUN, Standing.UNCHECKED)


class BoatWords:
    """Lines for one trip. `speech` has the sentences of the check that is led."""

    def __init__(self, replies: Replies, speech: Speech) -> None:
        self._replies, self._speech = replies, speech

    def line(self, key: str, **names: object) -> str:
        """One reply with its names filled in."""
        return self._replies.say(key, **names)

    def diver(self, name: str) -> str:
        """A number figure by figure, a first name with its capital."""
        return read_back(int(name), "number") if name.isdecimal() else name.capitalize()

    def divers(self, names: Iterable[str]) -> str:
        """Names in a row."""
        return ", ".join(self.diver(name) for name in names)

    def item(self, item: str, number: Number) -> str:
        """An item with its number where it has one."""
        return self._speech.item(item, number)

    def standing(self, found: Found, after_dive: bool) -> str:
        """How a diver's check ended."""
        if found.standing is Standing.READY:
            return self._replies["sound" if after_dive else "ready"]
        if found.standing is Standing.HOLD:
            return self._replies["faulty" if after_dive else "hold"]
        return self._replies["begun"]

    def left(self, roster: Roster, standings: Mapping[int, Found], after_dive: bool) -> str:
        """Who is not checked, a check not finished among them."""
        names = [roster.divers[place].name for place, found in standings.items() if found.standing in WAITING]
        if not names:
            return self.line("left_none")
        return self.line("not_returned" if after_dive else "left", divers=self.divers(names))

    def holds(self, roster: Roster, standings: Mapping[int, Found]) -> str:
        """Who is on hold, each with the worst reasons."""
        each = [
            self.line(
                "hold_of",
                diver=self.diver(roster.divers[place].name),
                reasons=self._speech.reasons(Verdict(False, found.reasons)),
            )
            for place, found in standings.items()
            if found.standing is Standing.HOLD
        ]
        return self.line("holds", holds=". ".join(each)) if each else self.line("holds_none")

    def boat(
        self, roster: Roster, standings: Mapping[int, Found], ready: bool, gas: GasFound | None, no_gas: Iterable[str]
    ) -> tuple[str, ...]:
        """The boat's verdict: what speaks against it, who is off the trip, and whose gas is least."""
        by = {
            standing: [roster.divers[place].name for place, found in standings.items() if found.standing is standing]
            for standing in Standing
        }
        lines = [self._verdict(by, ready, gas)]
        if by[Standing.OFF]:
            lines.append(self.line("boat_off", divers=self.divers(by[Standing.OFF])))
        if gas and not gas.short:
            depth = read_back(roster.depth_m or 0, "number")
            least = {"diver": self.diver(gas.limited_by), "minutes": read_back(gas.minutes, "number")}
            lines.append(self.line("gas", **least, depth=depth))
        unknown = list(no_gas)
        if unknown:
            lines.append(self.line("gas_unknown", divers=self.divers(unknown)))
        return tuple(lines)

    def _verdict(self, by: Mapping[Standing, list[str]], ready: bool, gas: GasFound | None) -> str:
        if ready:
            return self.line("boat_ready", divers=self.divers(by[Standing.READY]))
        why = [
            self._replies[key].format(divers=self.divers(names))
            for key, names in (
                ("boat_holds", by[Standing.HOLD]),
                ("boat_waits", [*by[Standing.BEGUN], *by[Standing.UNCHECKED]]),
                ("gas_short", gas.short if gas else ()),
            )
            if names
        ]
        return self.line("boat_hold", why=", ".join(why) or self._replies["boat_nobody"])
