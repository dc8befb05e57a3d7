"""When a trip is back from its dive: which one it is, and that its return check follows the checks before."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import replace

from assistant.app import Alone, Floor, Parts
from assistant.boat import Boat
from assistant.boat_gas import GasPlan
from assistant.boat_roster import Outing, read_roster
from assistant.boat_talk import Talk
from assistant.boat_words import BoatWords
from assistant.check.speech import Speech
from assistant.check.turns import Fact
from assistant.events import Heard
from assistant.language.group import RETURNED, group_replies
from assistant.language.numbers import read_back
from assistant.record import Log

Opened = Callable[[Outing], AbstractContextManager[Parts]]


def lead(outing: Outing, opened: Opened, new_id: Callable[[], str], gas: GasPlan | None = None) -> bool | None:
    """Lead that trip until the guide leaves it, and once it is back its return check, each with its own parts.

    Gives whether the boat is ready; None after a return check, which is never ready. Raises as Boat.run.
    """
    while True:
        with opened(outing) as parts:
            boat = Boat(outing, parts, new_id, gas)
            ready = boat.run()
        if not boat.is_back:
            return None if outing.after_dive else ready
        outing = replace(outing, after_dive=True)


def due(log: Log, outing: Outing, now_s: float) -> Outing | None:
    """What of that trip goes on now: its checks, or the return check once one was begun; None when there is nothing."""
    roster = read_roster(log, outing)
    goes_on = roster.awaits_return(now_s) if roster.is_back else not roster.is_ready(now_s)
    return replace(outing, after_dive=roster.is_back) if goes_on else None


def out(log: Log, outings: Iterable[Outing], now_s: float) -> list[Outing]:
    """Trips of which somebody was called and not everybody was asked what came back."""
    rosters = ((outing, read_roster(log, outing)) for outing in outings)
    return [outing for outing, roster in rosters if roster.current and roster.awaits_return(now_s)]


def ask_which(parts: Parts, outings: Iterable[Outing]) -> Outing | None:
    """The return check of the trip that the guide agrees to; None, after saying so, when it is none of them."""
    outings = out(parts.log, outings, parts.wall_s())
    for outing in outings:
        words = BoatWords(group_replies(outing.check.language), Speech(outing.check, parts.replies, read_back))
        name = read_roster(parts.log, outing).name
        if Talk(parts, words).confirm(words.line("back_sure", trip=name)):
            return replace(outing, after_dive=True)
    if not outings:
        parts.say(group_replies().say("back_none"))
    return None


class Shore(Alone):
    """Nobody else, before a check of somebody who is on no trip: but a trip may come back then."""

    is_back = False

    def hear(self, fact: Fact) -> Floor:
        """The check is left when a guide says that the divers are back; anything else is for the check."""
        self.is_back = isinstance(fact, Heard) and fact.match.meaning == RETURNED
        return Floor.LEFT if self.is_back else Floor.KEPT
