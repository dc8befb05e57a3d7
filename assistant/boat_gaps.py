"""Before a check: another of each item that the plan gave a diver and that is not to be had any more."""

from __future__ import annotations

from typing import Protocol

from assistant.app import Floor, Parts
from assistant.boat_talk import Talk
from assistant.boat_words import BoatWords
from assistant.check.exchange import Moved, give
from assistant.check.roster import Roster
from assistant.check.steps import Check
from assistant.check.turns import Expects, Fact, Number, Record, Taken
from assistant.events import Heard, Match

WINDOW_S = 120.0
TIMES = 3  # so many answers not understood leave the diver for later


class Group(Protocol):
    """What this needs of the boat."""

    roster: Roster

    def taken(self, place: int = 0) -> Taken: ...
    def hear(self, fact: Fact) -> Floor: ...
    def keep(self, moved: Moved) -> None: ...


class Gaps:
    """Asks for what is missing, and keeps what is given."""

    def __init__(self, group: Group, parts: Parts, talk: Talk, words: BoatWords, check: Check) -> None:
        self._group, self._parts, self._talk, self._words, self._check = group, parts, talk, words, check

    def fill(self, place: int) -> bool:
        """Ask for each item; False when the check cannot begin: there is none, or another diver was called."""
        return all(self._ask(place, item) for item in self._group.roster.gaps(place))

    def _ask(self, place: int, item: str) -> bool:
        named = self._words.item(item, self._planned(place, item))
        kind = "replacement"
        self._say("gap", item=named, diver=self._name(place))
        misses = 0
        while misses < TIMES:
            fact = self._talk.listen(Expects(kind, item=item, window_s=WINDOW_S))
            floor = self._group.hear(fact)
            if floor is Floor.LEFT:
                return False
            if floor is Floor.KEPT:
                self._parts.witness.heard(fact)
            if floor is Floor.LENT or not isinstance(fact, Heard):
                misses += floor is Floor.KEPT
                self._say("gap", item=named, diver=self._name(place))
                continue
            if fact.match.meaning == "no_spare":
                return self._miss(place, item, fact.match)
            if self._take(place, item, fact.match):
                return True
            kind = "number"
        return False

    def _take(self, place: int, item: str, match: Match) -> bool:
        """Give the item, once its number is plain and free, or said to be none."""
        number: Number = None
        if match.meaning == "number":
            number = self._talk.number(match, self._check.item(item), self._group.taken(place))
            if not number:
                return False
        elif match.meaning != "unmarked":
            self._say("gap_number")
            return False
        self._group.keep(give(self._group.roster, place, item, number, self._heard(match)))
        self._say("given", diver=self._name(place), item=self._words.item(item, number))
        return True

    def _miss(self, place: int, item: str, match: Match) -> bool:
        at = {"trip": self._group.roster.trip, "place": place, "item": item}
        facts = {**at, "old": self._planned(place, item), **self._heard(match)}
        self._group.keep([("", [Record("item_missing", facts)])])
        self._say("missing", diver=self._name(place), item=self._check.item(item).name)
        return False

    def _planned(self, place: int, item: str) -> Number:
        return self._group.roster.divers[place].planned.get(item)

    def _name(self, place: int) -> str:
        return self._words.diver(self._group.roster.divers[place].name)

    def _heard(self, match: Match) -> dict[str, str]:
        return {"heard": match.text, "by": self._parts.ears.by}

    def _say(self, key: str, **names: object) -> None:
        self._parts.say(self._words.line(key, **names))
