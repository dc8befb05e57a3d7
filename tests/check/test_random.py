"""Random facts on the shipped sequence: the verdict against the witness, replay, purity."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from importlib.resources import as_file, files
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from assistant.check.session import Session
from assistant.check.steps import Check, Remedy
from assistant.check.turns import Continued, Fact, NoteKept, Record, Start, Stop, Turn
from assistant.events import Broken, Care, Doubted, Heard, Match, Silent, Why
from assistant.judges import Judges
from assistant.language import numbers
from assistant.language.expected import value_of
from assistant.language.sequence import load
from assistant.sums.settings import load as load_settings

SEQUENCES = int(os.environ.get("KITCALL_SEQUENCES", "1000"))  # 10,000 take minutes: see the long tests
MOSTLY_GOOD = ("pass",) * 12 + ("swap", "fault", "fault", "command", "doubt", "silence", "odd", "crash", "clock")


@pytest.fixture(scope="module")
def rental() -> Check:
    with as_file(files("grammars") / "en" / "checks" / "rental.toml") as path:
        return load(path, lambda word: True)


JUDGES = Judges(load_settings(Path(__file__).parents[1] / "hurried.toml"), lambda now_s: date(2026, 11, 25))
# What is said at a step that asks for numbers: good, then bad or unclear ones.
READINGS: dict[str, tuple[tuple[str, str], ...]] = {
    "test_stamp": (("month_year", "march twenty twenty four"), ("month_year", "march twenty twenty"),
                   ("month_year", "june twenty twenty five"), ("month_year", "june nineteen")),
    "contents_label": (("oxygen", "twenty one"), ("oxygen", "thirty two"), ("air", "air"), ("oxygen", "two point one")),
    "pressure": (("pressure", "two hundred"), ("pressure", "one fifty"), ("pressure", "one nine five"),
                 ("pressure", "nine")),
    "pressure_again": (("pressure", "two hundred"), ("pressure", "one twenty"), ("pressure", "one nine five"),
                       ("pressure", "one fifty")),
}  # fmt: skip
GOOD = ("march twenty twenty four", "june twenty twenty five", "twenty one", "air", "two hundred", "one nine five")


def say(meaning: str, **slots: str) -> Heard:
    return Heard(Match(tuple(meaning.split()), meaning, Care.PLAIN, slots))


class Diver:
    """Turns random choices into facts that fit the question more often than not, and keeps the truth.

    `good` are the steps that a bystander saw pass on what is worn now, with their times.
    """

    def __init__(self, check: Check) -> None:
        self.check, self.good, self.off, self.taken = check, dict[str, float](), set[str](), dict[str, float]()
        self.stopped = self.started = False
        self.claims: dict[str, str] = {}  # by step the fault that was read back, and neither agreed to nor denied
        self.half = ""  # the meaning of what was heard less than surely, and is read back

    def fact(self, session: Session, choice: str, pick: int) -> Fact:
        asked = session.expects
        if choice == "odd":
            return (Stop(), NoteKept("c" * 64), Broken("speaker", "gone"), say("yes"), say("no_spare"))[pick % 5]
        if choice == "crash":
            return Continued()
        if choice == "silence":
            return Silent(9.0)
        if choice == "doubt":
            return (Doubted(list(Why)[pick % len(Why)]), Heard(Match(("not",), "doubt:negated", Care.NEVER)))[pick % 2]
        if choice == "command":
            names = ("repeat", "explain", "back", "correct", "correct", "wait", "absent", "note", "where", "leave_open")
            return say(f"command:{names[pick % len(names)]}")
        return self.fitting(asked.kind, asked.step_id, choice, pick)

    def fitting(self, kind: str, step_id: str, choice: str, pick: int) -> Fact:
        if kind == "start":
            return Start({item.id: pick for item in self.check.items})
        if kind in ("replacement", "number"):
            unmarked = say("swapped", unmarked="unmarked")
            number = say("swapped", number=("six", "nine five")[pick % 2])
            return (number, unmarked, say("swapped"), say("no_spare") if choice == "swap" else number)[pick % 4]
        if kind in ("confirm", "waiting", "note"):
            yes_no = say(("yes", "no")[pick % 2])
            fitting: dict[str, Fact] = {"confirm": yes_no, "waiting": say("command:carry_on"), "note": NoteKept("c")}
            return fitting[kind]
        step = self.check.step(step_id) if step_id else self.check.steps[0]
        if choice in ("fault", "swap"):
            said = say(f"fault:{step.faults[pick % len(step.faults)].code}")
            return said if pick % 5 else Heard(replace(said.match, is_unsure=True))
        if step.needs_number:
            name, words = READINGS[step.id][pick % 4 if choice != "pass" or pick % 3 == 0 else 2 * (pick % 2)]
            return say("reading", **{name: words})
        return say("pass") if pick % 7 else Heard(replace(say("pass").match, is_unsure=True))

    def watch(self, asked: Any, fact: Fact, turn: Turn, now_s: float) -> None:
        """Keep the truth from the question, the fact and the acts taken back or voided."""
        self.take_back(turn)
        if isinstance(fact, Start) and asked.kind == "start":
            self.started = True
        if isinstance(fact, Stop) and asked.kind not in ("start", "nothing"):
            self.stopped = True
        for record in turn.records:
            if record.kind == "answered" and record.facts["outcome"] == "fault":
                self.good.pop(record.facts["step"], None)
                self.off |= {other.facts["item"] for other in turn.records if other.kind == "set_apart"}
                self.answer(record.facts["step"], f"fault:{record.facts['code']}")
            elif record.kind == "answered":
                self.answer(record.facts["step"], "")
            if record.kind == "replaced":
                item = record.facts["item"]
                self.taken = {s: t for s, t in self.good.items() if item in self.check.step(s).touches}
                self.good = {s: t for s, t in self.good.items() if s not in self.taken}
                self.off.discard(item)
        if asked.kind in ("step", "confirm") and asked.step_id and isinstance(fact, Heard):
            self.hear(asked, fact.match, turn, now_s)

    def hear(self, asked: Any, match: Match, turn: Turn, now_s: float) -> None:
        step, is_fault = self.check.step(asked.step_id), match.meaning.startswith("fault:")
        half, self.half = self.half, ""
        closes = match.meaning == "pass" or self.reads_well(match) or match.meaning == "command:absent"
        if match.is_unsure and (asked.kind == "step" or is_fault):
            self.half = match.meaning
            self.claims |= {step.id: match.meaning} if is_fault else {}
        elif asked.kind == "step" and step.id in self.claims and closes:
            may = match.meaning != "command:absent" or step.may_be_absent
            self.half = "pass" if may else ""
            return
        elif asked.kind == "confirm" and half.startswith("fault:") and match.meaning in DENIALS:
            self.claims.pop(step.id, None)
        elif asked.kind == "confirm" and match.meaning not in ("yes", "no") and not is_fault:
            self.half = half
        agreed = half if asked.kind == "confirm" and match.meaning == "yes" else ""
        named = agreed or match.meaning
        if agreed == "pass":
            self.good[step.id] = now_s
        elif named.startswith("fault:") and (agreed or not match.is_unsure):
            self.good.pop(step.id, None)
            fault = step.fault(named.removeprefix("fault:"))
            third = any(record.kind == "set_apart" for record in turn.records)
            if fault.remedy is Remedy.SWAP or third:
                self.off.add(fault.item)
        elif (match.meaning == "reading" and not self.reads_well(match)) or match.meaning == "yes":
            self.off |= {record.facts["item"] for record in turn.records if record.kind == "set_apart"}
            if any(record.kind == "answered" for record in turn.records):
                self.good.pop(step.id, None)
        elif asked.kind == "step" and (
            (match.meaning == "pass" and not step.needs_number and not match.is_unsure)
            or (match.meaning == "command:absent" and step.may_be_absent)
            or self.reads_well(match)
        ):
            self.good[step.id] = now_s

    def answer(self, step_id: str, fault: str) -> None:
        """An answer settles what was read back at its step, unless that was another fault."""
        if self.claims.get(step_id) == fault or not fault:
            self.claims.pop(step_id, None)

    @staticmethod
    def reads_well(match: Match) -> bool:
        """Whether the words are a number that is good at its step."""
        return match.meaning == "reading" and set(match.slots.values()) <= set(GOOD)

    def take_back(self, turn: Turn) -> None:
        for record in turn.records:
            if record.kind != "withdrawn":
                continue
            what, item = record.facts["what"], record.facts["item"]
            if what == "answered":
                self.good.pop(record.facts["step"], None)
                self.off.discard(item)
            elif what == "replaced":
                self.good |= self.taken
                self.off.add(item)
            elif what == "stopped":
                self.stopped = False

    def ready(self, now_s: float) -> bool:
        young = {s for s, t in self.good.items() if -60 <= now_s - t <= self.check.valid_s}
        return self.started and not self.stopped and not self.off and young == {s.id for s in self.check.steps}


DENIALS = ("no", "command:back", "command:correct")
COUNTS = {"sequences": 0, "facts": 0, "ready": 0, "hold": 0}


@settings(
    max_examples=SEQUENCES, deadline=None, database=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
@given(st.binary(min_size=30, max_size=100), st.booleans())
def test_random_facts_on_the_shipped_sequence(
    rental: Check, replies: Mapping[str, str], choices: bytes, calm: bool
) -> None:
    """Each pair of bytes is a choice. READY exactly when the witness says so; a replay ends where the session is."""
    session, diver, now_s = Session(rental, replies, value_of, numbers.read_back, JUDGES.judge), Diver(rental), 1000.0
    for pick, byte in pairwise(choices):
        choice = "pass" if calm and byte >= 12 else MOSTLY_GOOD[byte % len(MOSTLY_GOOD)]
        if choice == "clock":
            now_s += (60.0, 3600.0, rental.valid_s, -7200.0)[pick % 4]
            continue
        now_s += 1.0
        fact, asked = diver.fact(session, choice, pick), session.expects
        turn = session.decide(fact, now_s)
        diver.watch(asked, fact, turn, now_s)
        for record in turn.records:
            session.apply(record, now_s)
        COUNTS["facts"] += 1
        if any(record.kind not in ("asked", "doubted", "paused") for record in turn.records):
            assert session.verdict(now_s).ready == diver.ready(now_s)
        if turn.expects.kind == "nothing" and turn.records:
            COUNTS["ready" if session.verdict(now_s).ready else "hold"] += 1
    stored = [(Record(r.kind, json.loads(json.dumps(dict(r.facts)))), at_s) for r, at_s in session.entries]
    again = Session.replay(rental, replies, stored, value_of, numbers.read_back, JUDGES.judge)
    assert (again.state, again.progress, again.expects) == (session.state, session.progress, session.expects)
    COUNTS["sequences"] += 1


def test_the_random_sequences_were_worth_it() -> None:
    """The run above reached verdicts of both kinds; without this a diver who never finishes would prove nothing."""
    print(COUNTS)
    assert COUNTS["sequences"] >= SEQUENCES
    assert min(COUNTS["ready"], COUNTS["hold"]) >= SEQUENCES // 20
