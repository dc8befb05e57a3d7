"""Random groups on a reduced sequence: the real loop, checks and roster; the record kept in memory.

A bystander knows where every numbered item lies and which steps each diver passed with what on. It is told only
what was asked, said and acknowledged. Whatever the order of commands, crashes and shop work: an item is never in
two places, what is set apart is on nobody, and READY implies that every step was passed with the very kit worn.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from assistant import boat, boat_roster
from assistant.app import Parts
from assistant.check.diver import Standing
from assistant.check.rail import RAIL_KINDS, Rail
from assistant.check.roster import Roster
from assistant.check.steps import Check, Remedy
from assistant.check.turns import Expects, Fact, Record
from assistant.events import Care, Doubted, Heard, Match, Silent, Why
from assistant.language.replies import shipped_replies

SEQUENCES = int(os.environ.get("KITCALL_SEQUENCES", "300"))  # 10,000 take most of an hour
DIVERS, DAY = (1, 2, 3), "day-1"
WORDS = ("one", "two", "three", "four", "five", "thirteen")
MOSTLY = ("answer",) * 14 + ("fault", "fault", "call", "call", "next", "swap", "swap one", "off", "back", "boat",
                             "left", "holds", "odd", "crash", "correct", "stop", "clock")  # fmt: skip


@dataclass(frozen=True)
class Kept:
    """One event of the record in memory."""

    session: str
    kind: str
    facts: Mapping[str, Any]
    wall_s: float
    sequence_digest: str


class Memory:
    """Stands in for the log: keeps what JSON keeps."""

    def __init__(self) -> None:
        self.kept: list[Kept] = []
        self.now_s = 1000.0

    def append_together(self, parts: Sequence[Any], clips: Sequence[Any] = ()) -> list[Kept]:
        new = [
            Kept(part.session, kind, json.loads(json.dumps(dict(facts))), self.now_s, part.sequence_digest)
            for part in parts
            for kind, facts in part.records
        ]
        self.kept += new
        return new

    def entries(self, session: str) -> Iterator[Kept]:
        return (each for each in self.kept if each.session == session)

    def of_day(self) -> Iterator[Kept]:
        called = {each.facts["check"] for each in self.kept if each.kind == "diver_called"}
        return (e for e in self.kept if e.session in called or e.session == DAY or e.kind in RAIL_KINDS)


@dataclass
class Bystander:
    """Where each numbered item lies (a diver's place, "loose" or "apart"), told only what was acknowledged."""

    lies: dict[tuple[str, str], int | str] = field(default_factory=dict)
    of: dict[str, int] = field(default_factory=dict)  # session: place
    off: set[int] = field(default_factory=set)
    apart: dict[tuple[str, str], list[tuple[str | None, int | str]]] = field(default_factory=dict)  # from whom
    returns: set[str] = field(default_factory=set)  # sessions of checks after the dive
    lost: list[int | str] = field(default_factory=list)  # by setting apart, in order: who had it

    def see(self, kept: Kept) -> None:
        """One event, as somebody on deck would tell it."""
        facts, item = kept.facts, str(kept.facts.get("item") or "")
        place = self.of.get(kept.session, facts.get("place", 0))
        match kept.kind:
            case "diver_planned":
                self.lies |= {(i, n): place for i, n in facts["items"].items() if n}
            case "diver_called":
                self.of[facts["check"]] = place
                self.returns |= {facts["check"]} if facts["after_dive"] else set()
            case "kit_exchanged":
                swap = {facts["one"]: facts["other"], facts["other"]: facts["one"]}
                self.lies = {k: swap.get(w, w) if k[0] in facts["items"] else w for k, w in self.lies.items()}
            case "item_given":
                self.put_on(place, item, facts["new"])
            case "replaced" if "because" not in facts:
                self.put_on(place, item, facts["new"])
            case "set_apart":
                where = self.lies.get((item, str(facts["number"])), place)
                self.apart.setdefault((kept.session, item), []).append((facts["number"], where))
                self.lost.append(where)
                if facts["number"]:
                    # what a diver came back with may have been exchanged since: it is apart wherever it is
                    assert where == place or kept.session in self.returns, "set apart, and another has it"
                    self.lies[item, facts["number"]] = "apart"
            case "withdrawn" if facts["what"] == "replaced":
                self.loosen(place, item)
            case "withdrawn" if item and facts["what"] == "answered":
                number, where = self.apart[kept.session, item].pop()
                if number:
                    self.lies[item, number] = where
            case "diver_taken_off":
                self.off.add(place)
            case "diver_put_back":
                self.off.discard(place)
            case "returned_to_rental":
                self.lies[item, facts["number"]] = "loose"

    def loosen(self, place: int, item: str) -> None:
        self.lies = {k: "loose" if (k[0], w) == (item, place) else w for k, w in self.lies.items()}

    def put_on(self, place: int, item: str, number: str | None) -> None:
        """A thing comes onto a diver: it must be free."""
        where = self.lies.get((item, str(number)), "loose") if number else "loose"
        assert where == "loose" or where in self.off, f"{item} {number} was taken from {where}, by {place}"
        self.loosen(place, item)
        if number:
            self.lies[item, number] = place

    def on(self, place: int) -> dict[str, str]:
        return {} if place in self.off else {item: n for (item, n), where in self.lies.items() if where == place}


def truly_ready(check: Check, kept: Sequence[Kept], place: int, now_s: float, lost: Sequence[int | str]) -> bool:
    """READY from the bare events: every step passed in the last check of that diver, young, and since then nothing
    that it touches came onto the diver or off, and the diver was not taken off the trip. `lost`: see Bystander."""
    called = [(at, e) for at, e in enumerate(kept) if e.kind == "diver_called" and e.facts["place"] == place]
    before = [(at, e) for at, e in called if not e.facts["after_dive"]]
    if not before:
        return False
    session = before[-1][1].facts["check"]
    losers = iter(lost)
    passed: dict[str, tuple[int, float]] = {}
    moves: dict[str, list[int]] = {}
    swapped: dict[str, list[int]] = {}
    apart: dict[tuple[str, str], list[int]] = {}  # by session and item: when it came off this diver, -1 off another
    for at, event in enumerate(kept):
        facts = event.facts
        if event.kind in ("diver_taken_off", "diver_put_back") and facts["place"] == place:
            passed = {}
        if event.kind == "kit_exchanged" and place in (facts["one"], facts["other"]):
            for item in facts["items"]:
                moves.setdefault(item, []).append(at)
        if event.kind == "set_apart":
            apart.setdefault((event.session, facts["item"]), []).append(at if next(losers) == place else -1)
            moves.setdefault(facts["item"], []).append(apart[event.session, facts["item"]][-1])
        elif event.kind == "withdrawn" and facts["what"] == "answered" and facts["item"]:
            moves[facts["item"]].remove(apart[event.session, facts["item"]].pop())  # whichever check took it back
        if event.session != session:
            continue
        if event.kind == "answered":
            passed.pop(facts["step"], None)
            if facts["outcome"] in ("passed", "absent"):
                passed[facts["step"]] = (at, event.wall_s)
        elif event.kind == "replaced":
            moves.setdefault(facts["item"], []).append(at)
            swapped.setdefault(facts["item"], []).append(at)
        elif event.kind == "withdrawn" and facts["what"] == "answered":
            passed.pop(facts["step"], None)
        elif event.kind == "withdrawn" and facts["what"] == "replaced":
            moves[facts["item"]].remove(swapped[facts["item"]].pop())
    young = all(0 <= now_s - passed[s.id][1] <= check.valid_s for s in check.steps if s.id in passed)
    whole = all(s.id in passed and max([-1, *(at for i in s.touches for at in moves.get(i, []))]) < passed[s.id][0]
                for s in check.steps)  # fmt: skip
    return young and whole and kept[-1].kind != "stopped"


class End(Exception):
    """Nothing more is said."""


class Crash(Exception):
    """The program was killed here."""


def say(meaning: str, **slots: str) -> Heard:
    return Heard(Match(tuple(meaning.split()), meaning, Care.PLAIN, slots))


class Deck:
    """Ears that say what the random bytes choose, and look at the boat before each answer."""

    by = "typed"

    def __init__(self, check: Check, memory: Memory, choices: Iterator[tuple[int, int]]) -> None:
        self._check, self._memory, self._choices = check, memory, choices
        self.boat: boat.Boat | None = None
        self.bystander, self._seen = Bystander(), 0
        self.counts = dict.fromkeys(("facts", "ready", "boat ready", "swaps", "crashes", "given", "not given"), 0)

    def hear(self, expects: Expects, expected: object) -> Fact:
        self.look()
        pick, byte = next(self._choices, (0, -1))
        if byte < 0:
            raise End
        self.counts["facts"] += 1
        self._memory.now_s += 1.0
        choice = MOSTLY[byte % len(MOSTLY)]
        if choice == "crash" and pick % 3 == 0:
            raise Crash
        if choice == "clock" and pick % 5 == 0:
            self._memory.now_s += self._check.valid_s / 2
        if expects.kind == "confirm":
            return say(("yes", "yes", "yes", "no")[pick % 4])
        return self.command(choice, pick) or self.answer(expects, choice, pick)

    def command(self, choice: str, pick: int) -> Fact | None:
        diver = WORDS[pick % 3]
        fitting: dict[str, Fact] = {
            "call": say("command:diver", any_diver=diver), "next": say("command:next"),
            "swap": say("command:swap", any_diver=diver), "off": say("command:off", any_diver=diver),
            "swap one": say("command:swap", any_diver=diver, any_item=("jacket", "regulator set")[pick // 3 % 2]),
            "back": say("command:back", any_diver=diver), "boat": say("command:boat"), "left": say("command:left"),
            "holds": say("command:holds"), "correct": say("command:correct"),
        }  # fmt: skip
        if choice in ("off", "swap") and pick % 2:
            return None
        if choice == "stop" and pick % 4 == 0:
            return say("command:stop")
        if choice == "odd":
            return (Doubted(Why.NO_PHRASE), Silent(9.0), say("command:wait"), say("command:go_back"),
                    say("command:leave_open"))[pick % 5]  # fmt: skip
        return fitting.get(choice)

    def answer(self, expects: Expects, choice: str, pick: int) -> Fact:
        match expects.kind:
            case "group":
                if self.boat and self.boat.roster.is_ready(self._memory.now_s) and pick % 2:
                    raise End  # the boat is ready and the guide has nothing more to say
                return say("command:next")
            case "waiting":
                return say("command:carry_on")
            case "replacement" | "number":
                number = say("number", number=WORDS[pick % len(WORDS)])
                return (number, number, number, say("unmarked"), say("no_spare"), say("swapped"))[pick % 6]
            case "step":
                step = self._check.step(expects.step_id)
                fault = step.faults[pick % len(step.faults)]
                return say(f"fault:{fault.code}") if choice == "fault" else say("pass")
        return Silent(0.0)

    def look(self) -> None:
        """Compare the roster with the bystander, and READY with the bare events."""
        assert self.boat is not None
        if self._seen == len(self._memory.kept):
            return
        new = self._memory.kept[self._seen :]
        for kept in new:
            self.bystander.see(kept)
            self.counts["swaps"] += kept.kind == "kit_exchanged"
            self.counts["given"] += kept.kind == "item_given"
            self.counts["not given"] += kept.kind == "item_missing"
        self._seen = len(self._memory.kept)
        if {kept.kind for kept in new} <= {"asked", "doubted", "paused", "resumed"}:
            return
        roster, now_s = self.boat.roster, self._memory.now_s
        for place in DIVERS:
            worn = {item: number for item, number in roster.worn(place).items() if number}
            assert worn == self.bystander.on(place), f"diver {place}"
            if roster.found(place, now_s).standing is Standing.READY:
                lost = self.bystander.lost
                assert truly_ready(self._check, self._memory.kept, place, now_s, lost), f"diver {place} is not ready"
                self.counts["ready"] += 1
        if roster.is_ready(now_s):
            standings = roster.standings(now_s).values()
            assert {found.standing for found in standings} <= {Standing.READY, Standing.OFF}
            self.counts["boat ready"] += 1

    def note(self, window_s: float) -> None:
        return None

    def reopen(self) -> bool:
        return True


class Nobody:
    """Neither hears nor sees."""

    def say(self, text: str) -> None: ...
    def said(self, text: str) -> None: ...
    def heard(self, fact: Fact) -> None: ...
    def recorded(self, records: Sequence[Record]) -> None: ...


def plan(check: Check) -> list[tuple[str, dict[str, Any]]]:
    """Three divers with numbered kit, a spare of each item."""
    divers = [
        ("diver_planned", {"trip": 1, "place": at, "diver": str(at), "water_l": None,
                           "items": {item.id: str(at) for item in check.items}})
        for at in DIVERS
    ]  # fmt: skip
    spares = [("spare_planned", {"trip": 1, "item": item.id, "number": "4"}) for item in check.items]
    trip = ("trip_planned", {"trip": 1, "name": "Reef", "depth_m": None, "minutes": None})
    return [("day_planned", {"date": "2026-05-04", "trips": 1, "divers": 3}), trip, *divers, *spares]


def back_of(check: Check) -> Check:
    steps = tuple(replace(s, touches=s.touches[:1], after=(), faults=tuple(replace(f, remedy=Remedy.SHOP)
                  for f in s.faults)) for s in check.steps)  # fmt: skip
    return replace(check, id="return", digest="1" * 64, steps=steps, after_dive=True)


COUNTS = {"sequences": 0}
# a check after the dive is left, its diver exchanges a set, and then reports that set
EXCHANGED_SINCE = bytes.fromhex(
    "74ef3f26cc31508b2dfda2a290adaed50cca2d5399c60c784931a18f02e2326ce58a581186e01ef115f2243a31a9"
)
# a check after the dive sets a jacket apart and takes that back: the check before the dive stands
TAKEN_BACK = bytes.fromhex(
    "0000010000001316000114001d1b393a4a00018f91a70bc6168d929ca6a8b8c7f5b08a5a015972d2"
)


@pytest.fixture
def in_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(boat_roster, "day_entries", lambda log, day: log.of_day())
    monkeypatch.setattr(boat_roster, "rail_entries", lambda log, day: iter(()))


@settings(
    max_examples=SEQUENCES, deadline=None, database=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
@given(choices=st.binary(min_size=40, max_size=110), calm=st.booleans())
@example(choices=EXCHANGED_SINCE, calm=False)
@example(choices=TAKEN_BACK, calm=False)
def test_random_groups(kits: Mapping[str, Check], in_memory: None, choices: bytes, calm: bool) -> None:
    """Each pair of bytes is a choice; a crash builds the boat anew from the record, sometimes after shop work."""
    check, memory = kits["swaps"], Memory()
    memory.append_together([boat.Part(DAY, plan(check))])
    pairs = iter([(pick, byte % 14 if calm and byte >= 40 else byte) for pick, byte in pairwise(choices)])
    deck = Deck(check, memory, pairs)
    parts = Parts(memory, deck, Nobody(), Nobody(), None, shipped_replies("en"), lambda: memory.now_s)  # type: ignore[arg-type]
    ids, after_dive = iter(f"s{n}" for n in range(1000)), False
    while True:
        outing = boat_roster.Outing(DAY, 1, check, back_of(check), after_dive)
        deck.boat = led = boat.Boat(outing, parts, lambda: next(ids))
        deck.look()
        try:
            led.run()
        except End:
            break
        except Crash:
            deck.counts["crashes"] += 1
            after_dive = memory.now_s % 7 == 0
            if memory.now_s % 2 == 0 and led.roster.rail.apart:
                item, number = sorted(led.roster.rail.apart)[0]
                back = ("returned_to_rental", {"item": item, "number": number})
                memory.append_together([boat.Part("shop", [back])])
    told = ((e.session, Record(e.kind, e.facts), e.wall_s) for e in memory.of_day())
    again = Roster.of(check, back_of(check), 1, Rail(), told)
    live = led.roster
    assert (again.divers, again.courses, again.rail.apart) == (live.divers, live.courses, live.rail.apart)
    COUNTS["sequences"] += 1
    for name, count in deck.counts.items():
        COUNTS[name] = COUNTS.get(name, 0) + count


def test_what_another_came_back_with_stays_off_its_diver(kits: Mapping[str, Check]) -> None:
    """A set that was exchanged, and reported by who dived with it, comes back to nobody unasked."""
    check, wore = kits["swaps"], {"set": "2", "jacket": "2"}
    told = [
        *((DAY, kind, facts) for kind, facts in plan(check)),
        (DAY, "diver_called", {"trip": 1, "place": 2, "check": "back", "after_dive": True}),
        ("back", "check_started", {"items": wore, "apart": [], "by": "typed", "digest": "1" * 64}),
        (DAY, "kit_exchanged", {"trip": 1, "one": 2, "other": 3, "items": ["set"]}),
        ("back", "answered", {"step": "hoses", "outcome": "fault", "code": "cut"}),
        ("back", "set_apart", {"item": "set", "number": "2", "step": "hoses", "code": "cut", "replace": False}),
        ("shop", "returned_to_rental", {"item": "set", "number": "2"}),
    ]
    roster = Roster.of(check, back_of(check), 1, Rail(), ((s, Record(kind, facts), 1.0) for s, kind, facts in told))
    assert [roster.worn(place).get("set") for place in DIVERS] == ["1", "3", None]


def test_the_random_groups_were_worth_it() -> None:
    """Boats were ready, kit changed places, items were given; without this the run above would prove nothing."""
    print(COUNTS)
    assert COUNTS["sequences"] >= SEQUENCES
    assert min(COUNTS["ready"], COUNTS["swaps"], COUNTS["crashes"]) >= SEQUENCES // 10
    assert min(COUNTS["boat ready"], COUNTS["given"]) >= SEQUENCES // 100
