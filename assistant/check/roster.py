"""Who of a trip is READY, on hold or not checked, and what each wears: a function of the day's records. Pure.

`follow` takes every record of the day in its order (the plan, the group's doings, the checks of its divers,
whatever else went off the rail or back) and gives the next roster. Nothing here is spoken or stored, and nothing
is believed that a check's records do not say: READY is judged anew each time it is asked for.

What a diver wears is what the check in force says once it is begun, else what was planned and given since;
without what is set apart anywhere. A diver off the trip wears nothing, so the kit is free for others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from assistant.check.diver import Course, Diver, Found, Standing
from assistant.check.rail import Numbered, Rail
from assistant.check.steps import Check
from assistant.check.turns import Facts, Number, Record, Taken
from assistant.check.verdict import Reason, judge, strike_out

Told = tuple[str, Record, float]  # session, record, wall seconds
Off = frozenset[tuple[str, Number]]


@dataclass(frozen=True, slots=True)
class Roster:
    """One trip. `before` and `after` are the sequences of the checks before and after the dive.

    `rail` is what was set apart before the day's records; it is followed from there on.
    """

    before: Check
    after: Check
    trip: int
    name: str = ""
    depth_m: float | None = None
    minutes: float | None = None
    divers: Mapping[int, Diver] = field(default_factory=dict)
    spares: tuple[Numbered, ...] = ()
    courses: Mapping[str, Course] = field(default_factory=dict)
    rail: Rail = field(default_factory=Rail)
    current: int = 0  # the place of the diver called last; 0 before anybody was

    @classmethod
    def of(cls, before: Check, after: Check, trip: int, rail: Rail, told: Iterable[Told]) -> Roster:
        """The roster that these records have led to."""
        roster = cls(before, after, trip, rail=rail)
        for each in told:
            roster = roster.follow(*each)
        return roster

    def follow(self, session: str, record: Record, at_s: float) -> Roster:
        """The roster after one record of the day; one of another trip changes only the rail."""
        roster = replace(self, rail=self.rail.after(session, record))
        if session in self.courses:
            course = self.courses[session].after(record, at_s)
            roster = replace(roster, courses={**self.courses, session: course})
            roster = _set_ashore(roster, self, session, self.courses[session].off, course.off)
            return _lose(roster, record.facts) if record.kind == "replaced" else roster
        if record.kind in CHANGES and record.facts.get("trip") == self.trip:
            return CHANGES[record.kind](roster, record.facts)
        return roster

    def course(self, place: int, after_dive: bool = False) -> Course | None:
        """The check in force of that diver, once it is begun."""
        diver = self.divers[place]
        found = self.courses.get(diver.back if after_dive else diver.check)
        return found if found and found.is_begun and not found.is_foreign else None

    def session(self, place: int, after_dive: bool = False) -> str:
        """The session in which that diver's check goes on; an empty string when it must begin in a new one."""
        diver = self.divers[place]
        session = diver.back if after_dive else diver.check
        course = self.courses.get(session)
        goes_on = course is not None and not course.is_closed and not course.is_foreign
        return session if goes_on else ""

    def worn(self, place: int) -> dict[str, Number]:
        """What that diver wears, by item; never what is set apart, and nothing off the trip."""
        diver, course = self.divers[place], self.course(place)
        if diver.is_off:
            return {}
        on = course.worn() if course else dict(diver.on)
        gone = self.rail.apart | diver.lost
        return {item: number for item, number in on.items() if (item, number) not in gone}

    def gaps(self, place: int) -> tuple[str, ...]:
        """Items of the check that this diver must be given before it: what was planned is not to be had.

        What an open check itself set apart is its own business and no gap.
        """
        course, worn = self.course(place), self.worn(place)
        off = course.progress.off if course and not course.is_closed else frozenset()
        return tuple(item.id for item in self.before.items if item.id not in worn and item.id not in off)

    def holder(self, item: str, number: Number) -> int:
        """The place of the diver who has that numbered item, 0 when nobody has."""
        if number is None:
            return 0
        return next((place for place in self.divers if self.worn(place).get(item) == number), 0)

    def taken(self, place: int) -> Taken:
        """What that diver cannot be given: what others wear, with who has it, and what is set apart ("")."""
        worn = {
            (item, number): self.divers[other].name
            for other in self.divers
            if other != place
            for item, number in self.worn(other).items()
            if number is not None
        }
        return {**worn, **dict.fromkeys(self.rail.apart, "")}

    def spares_left(self, item: str) -> tuple[str, ...]:
        """Numbers of the spares of that kind that are neither on a diver nor set apart."""
        listed = [number for kind, number in self.spares if kind == item]
        return tuple(n for n in listed if not self.holder(item, n) and (item, n) not in self.rail.apart)

    def exchangeable(self, one: int, other: int) -> tuple[str, ...]:
        """Items that both wear; none while either awaits a replacement, because that comes first."""
        for place in (one, other):
            course = self.course(place)
            if course and course.progress.pending and not course.is_closed:
                return ()
        return tuple(item.id for item in self.before.items if item.id in self.worn(one) and item.id in self.worn(other))

    def found(self, place: int, now_s: float, after_dive: bool = False) -> Found:
        """That diver's standing at `now_s` (wall seconds), judged from the records."""
        if self.divers[place].is_off:
            return Found(Standing.OFF)
        course = self.course(place, after_dive)
        if course is None:
            return Found(Standing.UNCHECKED)
        if not course.is_closed:
            return Found(Standing.BEGUN)
        reasons = judge(course.check, course.entries, now_s).reasons
        if not after_dive:
            named = {reason.item for reason in reasons if reason.kind == "no_spare"}
            reasons += tuple(Reason("no_spare", item=item) for item in self.lacking(place) if item not in named)
        return Found(Standing.HOLD if reasons else Standing.READY, reasons)

    def lacking(self, place: int) -> Iterator[str]:
        """Items of the check that are not on the diver."""
        worn = self.worn(place)
        return (item.id for item in self.before.items if item.id not in worn)

    def standings(self, now_s: float, after_dive: bool = False) -> dict[int, Found]:
        """Every diver's standing, in the order of the plan."""
        return {place: self.found(place, now_s, after_dive) for place in self.divers}

    def is_ready(self, now_s: float) -> bool:
        """Whether the boat is: somebody is READY, and everybody is READY or off the trip."""
        each = {found.standing for found in self.standings(now_s).values()}
        return Standing.READY in each and each <= {Standing.READY, Standing.OFF}

    @property
    def is_back(self) -> bool:
        """Whether the return check of somebody was begun: the dive is over."""
        return any(diver.back for diver in self.divers.values())

    def awaits_return(self, now_s: float) -> bool:
        """Whether somebody who is not off the trip was not asked, or not to the end, what came back."""
        standings = self.standings(now_s, after_dive=True).values()
        return any(found.standing in (Standing.BEGUN, Standing.UNCHECKED) for found in standings)

    def reading(self, place: int, judge: str) -> Mapping[str, float] | None:
        """The numbers that this judge last found good at the check in force; None when there are none."""
        course = self.course(place)
        for record, _ in reversed(strike_out(course.entries) if course else []):
            if record.kind == "answered" and record.facts["outcome"] == "passed" and record.facts.get("judge") == judge:
                return dict(record.facts["numbers"])
        return None

    def next_place(self, now_s: float, after_dive: bool = False) -> int:
        """Who comes next: the first after the current one who is not checked, else who is on hold; 0 for nobody."""
        places = sorted(self.divers, key=lambda place: (place <= self.current, place))
        standings = self.standings(now_s, after_dive)
        waits = [place for place in places if standings[place].standing in (Standing.BEGUN, Standing.UNCHECKED)]
        holds = [place for place in places if standings[place].standing is Standing.HOLD and not after_dive]
        others = [place for place in (*waits, *holds) if place != self.current]
        return next(iter((*others, *waits)), 0)


def _with_diver(roster: Roster, diver: Diver) -> Roster:
    return replace(roster, divers={**roster.divers, diver.place: diver})


def _plan_trip(roster: Roster, facts: Facts) -> Roster:
    return replace(roster, name=facts["name"], depth_m=facts["depth_m"], minutes=facts["minutes"])


def _plan_diver(roster: Roster, facts: Facts) -> Roster:
    items = dict(facts["items"])
    return _with_diver(roster, Diver(facts["place"], facts["diver"], items, items, water_l=facts["water_l"]))


def _plan_spare(roster: Roster, facts: Facts) -> Roster:
    return replace(roster, spares=(*roster.spares, (facts["item"], facts["number"])))


def _call(roster: Roster, facts: Facts) -> Roster:
    diver, session, after_dive = roster.divers[facts["place"]], facts["check"], facts["after_dive"]
    if not after_dive and session != diver.check:
        diver = replace(diver, on=roster.worn(diver.place))  # a check anew begins with what is worn now
    diver = replace(diver, back=session) if after_dive else replace(diver, check=session)
    courses = {session: Course(roster.after if after_dive else roster.before), **roster.courses}
    return replace(_with_diver(roster, diver), courses=courses, current=diver.place)


def _give(roster: Roster, facts: Facts) -> Roster:
    roster = _lose(roster, facts)
    diver = roster.divers[facts["place"]]
    lost = diver.lost - {(facts["item"], facts["new"])}
    return _with_diver(roster, replace(diver, on={**diver.on, facts["item"]: facts["new"]}, lost=lost))


def _set_ashore(roster: Roster, held: Roster, session: str, before: Off, after: Off) -> Roster:
    """What a check after the dive sets apart comes off whoever has it: its own diver, or another who has exchanged it
    since, as `held` says; what it takes back comes on again."""
    own = next((diver.place for diver in roster.divers.values() if diver.back == session), 0)
    if not own or before == after:
        return roster
    gone, back = after - before, before - after
    for place, diver in roster.divers.items():
        lost = {each for each in gone if place in (own, held.holder(*each))}
        roster = _with_diver(roster, replace(diver, lost=(diver.lost - back) | lost))
    return roster


def _miss(roster: Roster, facts: Facts) -> Roster:
    diver = roster.divers[facts["place"]]
    return _with_diver(roster, replace(diver, on={k: v for k, v in diver.on.items() if k != facts["item"]}))


def _exchange(roster: Roster, facts: Facts) -> Roster:
    """Of a check that is begun the `replaced` beside this record says the same."""
    one, other = facts["one"], facts["other"]
    worn = {place: roster.worn(place) for place in (one, other)}
    for place, from_place in ((one, other), (other, one)):
        diver = roster.divers[place]
        moved = {item: worn[from_place][item] for item in facts["items"]}
        roster = _with_diver(roster, replace(diver, on={**diver.on, **moved}))
    return roster


def _take_off(roster: Roster, facts: Facts) -> Roster:
    """The kit lies there for others; the check counts no more."""
    place = facts["place"]
    return _with_diver(roster, replace(roster.divers[place], on=roster.worn(place), check="", is_off=True))


def _put_back(roster: Roster, facts: Facts) -> Roster:
    """The diver comes back unchecked, with what nobody took meanwhile."""
    return _with_diver(roster, replace(roster.divers[facts["place"]], is_off=False))


def _lose(roster: Roster, facts: Facts) -> Roster:
    """What somebody takes is no longer with a diver who is off the trip."""
    item, number = facts["item"], facts["new"]
    for diver in roster.divers.values():
        if diver.is_off and number is not None and diver.on.get(item) == number:
            kit = {kind: other for kind, other in diver.on.items() if kind != item}
            roster = _with_diver(roster, replace(diver, on=kit))
    return roster


CHANGES: dict[str, Callable[[Roster, Facts], Roster]] = {
    "trip_planned": _plan_trip,
    "diver_planned": _plan_diver,
    "spare_planned": _plan_spare,
    "diver_called": _call,
    "item_given": _give,
    "item_missing": _miss,
    "kit_exchanged": _exchange,
    "diver_taken_off": _take_off,
    "diver_put_back": _put_back,
}
