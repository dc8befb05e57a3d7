"""One trip's divers, led in any order: beside app.py the only place where clock, record, ears and mouth meet.

The group's commands are heard between divers and at every question of a check. A check that is left goes on
where it was; the roster is a function of the record, so after a crash the group stands where it stood. Here as
there: hear, decide, commit, follow, and only then speak.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from assistant.app import Conversation, Floor, Parts
from assistant.boat_ears import Discreet, Names
from assistant.boat_gaps import Gaps
from assistant.boat_gas import GasFound, GasPlan
from assistant.boat_roster import Outing, boat_facts, boat_verdict, read_roster
from assistant.boat_talk import Talk
from assistant.boat_words import BoatWords
from assistant.check.diver import Found, Standing
from assistant.check.exchange import Moved, exchange
from assistant.check.speech import Speech
from assistant.check.turns import Expects, Fact, Facts, Record, Start, Stop, Taken
from assistant.events import Care, Heard, Match, Silent
from assistant.language.group import RETURNED, group_replies
from assistant.language.numbers import read_back
from assistant.record import Entry, Part

WINDOW_S = 600.0
UNASKED = Match((), "command:boat", Care.PLAIN)  # everybody is checked: the boat's verdict follows of itself


class Boat:
    """Leads the divers of one trip; is the company of each check it runs.

    new_id: names a check that begins. gas: the group's gas for the trip's dive, where its plan says one.
    """

    def __init__(self, outing: Outing, parts: Parts, new_id: Callable[[], str], gas: GasPlan | None = None) -> None:
        self.roster = read_roster(parts.log, outing)
        self._names = Names(diver.name for diver in self.roster.divers.values())
        parts = replace(parts, ears=Discreet(parts.ears, self._names))
        self._outing, self._parts, self._new_id, self._gas = outing, parts, new_id, gas
        speech = Speech(outing.check, parts.replies, read_back)
        self._words = BoatWords(group_replies(outing.check.language), speech)
        self._talk = Talk(parts, self._words)
        self._gaps = Gaps(self, parts, self._talk, self._words, outing.before)
        self._led = self._due = 0  # places: whose check has the floor, and whose is to begin
        self._is_over = self.is_back = False  # is_back: the guide said that the dive is over

    def run(self) -> bool:
        """Lead until the guide leaves; gives whether the boat is ready. Raises as Conversation.run."""
        self._greet()
        while not self._is_over:
            if self._due:
                self._lead(self._due)
            else:
                self._wait()
        if not self.is_back:
            self._say("ended")
        return self._verdict()[0]

    # what a check asks of its company

    def taken(self, place: int = 0) -> Taken:
        """What that diver, or the one who is led, cannot be given: who has it, as it is spoken."""
        taken = self.roster.taken(place or self._led)
        return {item: self._words.diver(name) if name else "" for item, name in taken.items()}

    def hear(self, fact: Fact) -> Floor:
        """Answer a command of the group; anything else is for the check. The end of input leaves the check open."""
        if isinstance(fact, Stop):
            self._is_over = True
            return Floor.LEFT
        if not isinstance(fact, Heard) or fact.match.meaning not in ANSWERS:
            return Floor.KEPT
        self._parts.witness.heard(fact)
        if self._outing.after_dive and fact.match.meaning in BEFORE_DIVE:
            return self._tell("not_now")
        return ANSWERS[fact.match.meaning](self, fact.match)

    def saw(self, entries: Sequence[Entry]) -> tuple[str, ...]:
        """Follow what was committed; say when the last spare of a kind is gone, and when there is none."""
        kinds = dict.fromkeys(item for item, _ in self.roster.spares)
        before = {item: bool(self.roster.spares_left(item)) for item in kinds}
        self._follow(entries)
        lost = [item for item in kinds if before[item] and not self.roster.spares_left(item)]
        apart = [str(entry.facts["item"]) for entry in entries if entry.kind == "set_apart"]
        gone = [item for item in apart if item in before and not before[item] and not self._outing.after_dive]
        lines = [("last_spare", item) for item in lost] + [("no_spare_left", item) for item in gone]
        return tuple(self._words.line(key, item=self._outing.before.item(item).name) for key, item in lines)

    # leading

    def _greet(self) -> None:
        roster = self.roster
        if self._outing.after_dive:
            self._say("trip_back", trip=roster.name)
        elif not roster.current:
            self._say("trip", trip=roster.name, count=len(roster.divers))
        else:
            self._say("trip_resumed", trip=roster.name)
        if roster.current and self._found(roster.current).standing is Standing.BEGUN:
            self._due = roster.current

    def _wait(self) -> None:
        fact = self._talk.listen(Expects("group", window_s=WINDOW_S))
        if self.hear(fact) is Floor.KEPT and not isinstance(fact, Silent):
            self._parts.witness.heard(fact)
            self._say("prompt")

    def _lead(self, place: int) -> None:
        outing, roster, self._due = self._outing, self.roster, 0
        session = roster.session(place, outing.after_dive) or self._new_id()
        call = {"trip": outing.trip, "place": place, "check": session, "after_dive": outing.after_dive}
        self.keep([("", [Record("diver_called", {**call, "heard": "", "by": self._parts.ears.by})])])
        diver = self.roster.divers[place]
        self._say("call", diver=self._words.diver(diver.name))
        self._led = place
        if outing.after_dive or self._gaps.fill(place):
            start = Start(self.roster.worn(place), diver.name, self._parts.ears.by)
            Conversation(outing.check, session, start, self._parts, self).run(at_once=True)
        self._led = 0
        if not self._due and not self._is_over:
            self._tell_end(place)

    def _tell_end(self, place: int) -> None:
        found, standings = self._found(place), self._standings()
        if found.standing not in (Standing.READY, Standing.HOLD):
            return
        names = {"diver": self._name(place), "standing": self._words.standing(found, self._outing.after_dive)}
        left = sum(each.standing in (Standing.BEGUN, Standing.UNCHECKED) for each in standings.values())
        if left:
            self._say("finished", **names, left=left)
            return
        self._say("finished_all", **names)
        if not self._outing.after_dive:
            self._judge(UNASKED)

    # the group's commands

    def _next(self, match: Match) -> Floor:
        place = self.roster.next_place(self._now_s, self._outing.after_dive)
        if not place or place == self._led:
            self._say("nobody")
            return self._hint()
        self._due = place
        return Floor.LEFT

    def _diver(self, match: Match) -> Floor:
        place = self._talk.identify(match, self.roster)
        if not place or place == self._led:
            return Floor.LENT
        if self.roster.divers[place].is_off:
            return self._tell("off_already", diver=self._name(place))
        if not self._talk.agree(match, self.roster.divers[place].name):
            return Floor.LENT
        self._due = place
        return Floor.LEFT

    def _left(self, match: Match) -> Floor:
        self._parts.say(self._words.left(self.roster, self._standings(), self._outing.after_dive))
        return Floor.LENT

    def _holds(self, match: Match) -> Floor:
        self._parts.say(self._words.holds(self.roster, self._standings()))
        return Floor.LENT

    def _swap(self, match: Match) -> Floor:
        one, other = self._led or self.roster.current, self._talk.identify(match, self.roster)
        if not other:
            return Floor.LENT
        if not one or self.roster.divers[one].is_off:
            return self._tell("swap_nobody")
        if one == other:
            return self._tell("swap_self")
        item, items = self._talk.item(match, self._outing.before), self.roster.exchangeable(one, other)
        items = tuple(each for each in items if item in ("", each))
        if not items:
            return self._tell("swap_not")
        names = {"one": self._name(one), "other": self._name(other)}
        named = {"item": self._outing.before.item(item).name} if item else {}
        if self._talk.confirm(self._words.line("swap_one" if item else "swap_all", **names, **named)):
            self.keep(exchange(self.roster, one, other, items, self._heard(match)))
            self._say("swapped")
            if self._led in (one, other):
                self._due = self._led  # its check goes on from the record, which now says more
                return Floor.LEFT
        return Floor.LENT

    def _take_off(self, match: Match) -> Floor:
        place = self._talk.identify(match, self.roster)
        if not place:
            return Floor.LENT
        if self.roster.divers[place].is_off:
            return self._tell("off_already", diver=self._name(place))
        if not self._talk.confirm(self._words.line("off_sure", diver=self._name(place))):
            return Floor.LENT
        self.keep([("", [Record("diver_taken_off", {**self._at(place), **self._heard(match)})])])
        self._say("off_done", diver=self._name(place))
        return Floor.LEFT if place == self._led else Floor.LENT

    def _put_back(self, match: Match) -> Floor:
        place = self._talk.identify(match, self.roster)
        if not place:
            return Floor.LENT
        if not self.roster.divers[place].is_off:
            return self._tell("back_already", diver=self._name(place))
        if not self._talk.agree(match, self.roster.divers[place].name):
            return Floor.LENT
        self.keep([("", [Record("diver_put_back", {**self._at(place), **self._heard(match)})])])
        return self._tell("back_done", diver=self._name(place))

    def _judge(self, match: Match) -> Floor:
        standings = self._standings()
        ready, gas, unknown = self._verdict()
        lines = self._words.boat(self.roster, standings, ready, gas, unknown)
        facts = {**boat_facts(self.roster, standings, ready, gas), **self._heard(match)}
        self.keep([("", [Record("boat_judged", facts)])])
        for line in lines:
            self._parts.say(line)
        return self._hint()

    def _hint(self) -> Floor:
        """How the return check begins, once the boat may go."""
        if not (self._outing.after_dive or self._led) and self.roster.is_ready(self._now_s):
            self._say("when_back")
        return Floor.LENT

    def _return(self, match: Match) -> Floor:
        if self._outing.after_dive:
            return self._tell("trip_back", trip=self.roster.name)
        self.is_back = self._is_over = self._talk.confirm(self._words.line("back_sure", trip=self.roster.name))
        return Floor.LEFT if self.is_back else Floor.LENT

    def _end(self, match: Match) -> Floor:
        self._is_over = True
        return Floor.LEFT

    # in short

    def _verdict(self) -> tuple[bool, GasFound | None, list[str]]:
        return boat_verdict(self.roster, self._now_s, self._gas)

    @property
    def _now_s(self) -> float:
        return self._parts.wall_s()

    def _found(self, place: int) -> Found:
        return self.roster.found(place, self._now_s, self._outing.after_dive)

    def _standings(self) -> dict[int, Found]:
        return self.roster.standings(self._now_s, self._outing.after_dive)

    def _name(self, place: int) -> str:
        return self._words.diver(self.roster.divers[place].name)

    def _at(self, place: int) -> Facts:
        return {"trip": self.roster.trip, "place": place}

    def _heard(self, match: Match) -> Facts:
        return {"heard": self._names.left_out(match.text), "by": self._parts.ears.by}

    def keep(self, moved: Moved) -> None:
        """Commit in one transaction, then follow."""
        outing, courses = self._outing, self.roster.courses
        parts = [
            Part(session or outing.day, [(each.kind, each.facts) for each in records],
                 courses[session].check.digest if session else "")
            for session, records in moved
        ]  # fmt: skip
        self._follow(self._parts.keep(parts))
        self._parts.witness.recorded([record for _, records in moved for record in records])

    def _follow(self, entries: Sequence[Entry]) -> None:
        for entry in entries:
            self.roster = self.roster.follow(entry.session, Record(entry.kind, entry.facts), entry.wall_s)

    def _say(self, key: str, **names: object) -> None:
        self._parts.say(self._words.line(key, **names))

    def _tell(self, key: str, **names: object) -> Floor:
        self._say(key, **names)
        return Floor.LENT


ANSWERS: dict[str, Callable[[Boat, Match], Floor]] = {
    "command:next": Boat._next,
    "command:diver": Boat._diver,
    "command:left": Boat._left,
    "command:holds": Boat._holds,
    "command:swap": Boat._swap,
    "command:off": Boat._take_off,
    "command:back": Boat._put_back,
    "command:boat": Boat._judge,
    "command:end": Boat._end,
    RETURNED: Boat._return,
}
BEFORE_DIVE = frozenset({"command:swap", "command:off", "command:back", "command:boat"})
