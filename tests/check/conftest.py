"""A reduced sequence, a diver's every fact, and a witness who only watches and listens.

The witness knows what was asked, what was answered and which acts were taken back. It
shares no code with the session's bookkeeping or with the verdict, and says of every
moment whether READY would be true.
"""

from __future__ import annotations

import tomllib
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from importlib.resources import files
from string import Formatter
from typing import Any

import pytest

from assistant.check.progress import Progress
from assistant.check.session import Session
from assistant.check.steps import Check, Fault, Item, Number, Reading, Remedy, Step
from assistant.check.table import State
from assistant.check.turns import Continued, Earlier, Expects, Fact, Judged, NoteKept, Stamped, Start, Stop, Turn
from assistant.errors import BadInput
from assistant.events import Broken, Care, Doubted, Heard, Match, Silent, Why

VALID_S = 1000.0
EARLY_S, LATE_S = 0.0, 2000.0  # two moments, each out of the other's validity
NUMBERS = {
    "good": 200.0, "low": 20.0, "odd": 999.0, "alike": 150.0, "alike low": 30.0, "again": 100.0, "refused": 90.0,
    "strange": 310.0, "early": 60.0, "alike early": 61.0, "two": 2.0, "three": 3.0, "seven": 7.0,
}  # fmt: skip


def say(meaning: str, **slots: str) -> Heard:
    """A phrase of that meaning, heard as a whole."""
    return Heard(Match(tuple(meaning.replace(":", " ").split()), meaning, Care.PLAIN, slots))


def half(meaning: str, **slots: str) -> Heard:
    """The same, less than surely heard."""
    return Heard(replace(say(meaning, **slots).match, is_unsure=True))


def value_of(kind: str, words: str) -> tuple[float, tuple[float, ...]]:
    """Numbers of the tests: `alike` and `three` could be another, an unlisted word is none."""
    if words not in NUMBERS:
        raise BadInput(f"{words} is no number", "Say another.")
    return NUMBERS[words], ((15.0,) if words in ("three",) or words.startswith("alike") else ())


def judge(name: str, numbers: Mapping[str, float], earlier: Earlier | None, now_s: float) -> Judged:
    """The tests' judge: below 50 is bad, 90 cannot be meant, 100 is asked again, from 300 on is a finding that no
    fault of the tests' steps is named for; a second reading must know the first, and 60 and 61 come too early."""
    value, limit = numbers["pressure"], {"limit": (50.0, "bar")}
    if value == NUMBERS["refused"] or (name == "leak" and (earlier is None or now_s < earlier.at_s)):
        raise BadInput("Start was understood as lower.", "Say them again.")
    is_early = value in (NUMBERS["early"], NUMBERS["alike early"])
    if name == "leak" and is_early:
        names = {"minutes": (1.0, "min"), "left": (7.0, "min"), "gross": (20.0, "l")}
        return Judged("later", "too_soon", "too early", names, "5e7")
    if name == "leak":
        lost, names = value < 50, {"minutes": (1.0, "min"), "drop": (1.0, "bar")}
        return Judged("bad" if lost else "good", "leaks" if lost else "tight", "gone" if lost else "none", names, "5e7")
    if value == NUMBERS["again"] or is_early:
        return Judged("again", "low", "again", limit)
    if value == NUMBERS["strange"]:
        return Judged("bad", "high", "strange", limit)
    if value < 50:
        return Judged("bad", "low", "too low", limit, "5e7")
    return Judged("good", "enough", "well above", limit, "5e7")


def spoken(value: float, unit: str) -> str:
    return f"{value:g} {unit}".replace(" number", "")


def fault(code: str, item: str, remedy: Remedy) -> Fault:
    return Fault(code, code.replace("_", " "), item, (), f"Mend {code}.", remedy)


def step(step_id: str, touches: tuple[str, ...], *faults: Fault, **kwargs: Any) -> Step:
    """A step with the reduced sequence's habits; its words are its id."""
    facts: dict[str, Any] = {"critical": True, "may_be_absent": False, "after": (), "reading": None} | kwargs
    name = step_id.capitalize()
    return Step(
        step_id, name, touches[0], touches, f"{name}?", f"About {step_id}.", facts["critical"],
        facts["may_be_absent"], facts["after"], (), faults, (f"{step_id} good", f"{step_id} bad"), facts["reading"],
    )  # fmt: skip


def reduced(*steps: Step) -> Check:
    items = (Item("set", "regulator set"), Item("jacket", "jacket"))
    return Check("reduced", "Reduced", "en", "0" * 64, VALID_S, "Caution.", "Closing.", (), items, steps)


HOSES = step("hoses", ("set",), fault("cut", "set", Remedy.SWAP))
INFLATOR = step(
    "inflator", ("jacket", "set"), fault("sticks", "jacket", Remedy.SWAP), fault("loose", "jacket", Remedy.REPEAT),
    after=("hoses",),
)  # fmt: skip
DUMP = step("dump", ("jacket", "set"), fault("stiff", "jacket", Remedy.HOLD), critical=False, may_be_absent=True)
BAR = Number("pressure", "pressure", "bar", 0.0, 330.0)
SCALE = Reading("starting_pressure", (), (BAR,), {"low": "low"})
PRESSURE = step("pressure", ("set",), fault("low", "set", Remedy.SWAP), reading=SCALE)
PSI = Number("pressure_psi", "pressure_psi", "psi", 15.0, 4800.0)
UNITS = replace(PRESSURE, reading=replace(SCALE, numbers=(BAR, PSI)))
BREATHS = step(
    "breaths", ("set",), fault("low", "set", Remedy.HOLD), after=("pressure",),
    reading=replace(SCALE, needed=False, since="pressure"),
)  # fmt: skip

LEAK = step(
    "leak", ("set",), fault("low", "set", Remedy.HOLD), after=("pressure",),
    reading=Reading("leak", (), (BAR,), {"leaks": "low"}, since="pressure"),
)  # fmt: skip

COMMANDS = (
    "repeat", "explain", "back", "correct", "wait", "carry_on", "absent", "note", "where", "leave_open", "stop",
)  # fmt: skip
FACTS: dict[str, Fact] = {
    "start": Start({"set": 1, "jacket": 1}),
    "pass": say("pass"),
    "half pass": half("pass"),
    "half cut": half("fault:cut"),
    "half stiff": half("fault:stiff"),
    "half low": half("fault:low"),
    "half absent": half("command:absent"),
    "cut": say("fault:cut"),
    "sticks": say("fault:sticks"),
    "loose": say("fault:loose"),
    "stiff": say("fault:stiff"),
    "low": say("fault:low"),
    "read good": say("reading", pressure="good"),
    "read unsure": half("reading", pressure="good"),
    "read low": say("reading", pressure="low"),
    "read odd": say("reading", pressure="odd"),
    "read alike": say("reading", pressure="alike"),
    "read alike low": say("reading", pressure="alike low"),
    "read again": say("reading", pressure="again"),
    "read early": say("reading", pressure="early"),
    "read alike early": say("reading", pressure="alike early"),
    "read refused": say("reading", pressure="refused"),
    "read strange": say("reading", pressure="strange"),
    "read nothing": say("reading"),
    "read nonsense": say("reading", pressure="nonsense"),
    "swapped": say("swapped"),
    "swapped two": say("swapped", number="two"),
    "swapped three": say("swapped", number="three"),
    "unmarked": say("swapped", unmarked="unmarked"),
    "no spare": say("no_spare"),
    "yes": say("yes"),
    "no": say("no"),
    **{f"command {name}": say(f"command:{name}") for name in COMMANDS},
    "doubt": Doubted(Why.NO_PHRASE, "mumble"),
    "decoy": Heard(Match(("not", "good"), "doubt:negated", Care.NEVER)),
    "early": Doubted(Why.EARLY),
    "silence": Silent(9.0),
    "broken": Broken("microphone", "gone"),
    "crash": Continued(),
    "note kept": NoteKept("c" * 64),
    "stop key": Stop(),
}


NOT_TALK = ("half", "read", "low", "swapped t", "start", "yes", "no")
TALK = tuple(name for name in FACTS if name == "no spare" or name == "note kept" or not name.startswith(NOT_TALK))
PAUSES = ("silence", "broken", "note kept", "command note", "command wait", "early")  # they double every state
NUMBERING = (
    "start", "pass", "half pass", "cut", "swapped", "swapped two", "swapped three", "unmarked", "yes", "no", "no spare",
    "command correct", "command back", "doubt", "silence", "crash", "command carry_on",
)  # fmt: skip
HALVES = (
    "start", "pass", "half pass", "cut", "half cut", "half stiff", "command absent", "half absent", "yes", "no",
    "unmarked", "no spare", "command correct", "command leave_open", "command carry_on", "doubt", "silence", "crash",
)  # fmt: skip
READING = (
    "start", "pass", "half pass", "half low", "read good", "read low", "read odd", "read alike", "read alike low",
    "read again", "read refused", "read strange", "read nothing", "read nonsense", "unmarked", "yes", "no", "low",
    "no spare", "command absent", "command correct", "command back", "command leave_open", "command carry_on",
    "command repeat", "doubt", "decoy", "silence", "crash",
)  # fmt: skip
TWO_READINGS = tuple(name for name in READING if name not in ("read odd", "read nonsense", "decoy", "silence"))
LEAKING = (
    "start", "read good", "yes", "no", "read low", "read early", "read alike early", "no spare",
    "command correct", "command carry_on", "command leave_open", "doubt", "crash",
)
TIMELY = (
    "start", "pass", "cut", "unmarked", "no spare", "command correct", "command back", "command leave_open",
    "crash", "command stop",
)  # fmt: skip


@pytest.fixture(scope="session")
def replies() -> Mapping[str, str]:
    """The replies that ship, so that every sentence of them is filled in here."""
    path = files("grammars") / "en" / "replies.toml"
    return dict(tomllib.loads(path.read_text(encoding="utf-8"))["reply"])


def is_half_fault(step: Step, name: str) -> bool:
    """Whether this fact is a fault of the step, less than surely heard."""
    return name.startswith("half ") and name.removeprefix("half ") in {fault.code for fault in step.faults}


AS_HALF = {
    "pass": "half pass", "command absent": "half absent", "read good": "read alike", "read low": "read alike low",
}  # what these are at a step whose fault was read back and not denied
DENIALS = ("no", "command correct", "command back")


@dataclass(frozen=True)
class Witness:
    """What somebody beside the diver knows: `good` steps with the time of their answer, items `off`
    the diver, numbers `on` it and set `apart`, and what the last replacement made void."""

    good: frozenset[tuple[str, float]] = frozenset()
    off: frozenset[str] = frozenset()
    apart: frozenset[tuple[str, str]] = frozenset()
    on: tuple[tuple[str, str], ...] = ()
    void: frozenset[tuple[str, float]] = frozenset()
    before: tuple[tuple[str, str], ...] = ()
    stopped: bool = False
    started: bool = False
    read: str = ""  # what was read out and is now read back
    claimed: frozenset[tuple[str, str]] = frozenset()  # steps with faults that were read back, not yet agreed or denied

    def ready(self, check: Check, now_s: float) -> bool:
        """Whether READY is true now."""
        young = {step for step, at_s in self.good if 0 <= now_s - at_s <= check.valid_s}
        return self.started and not self.stopped and not self.off and young == {s.id for s in check.steps}

    def saw(self, check: Check, asked: Expects, name: str, turn: Turn, now_s: float) -> Witness:
        """The witness after one turn: from the question, the fact's name, and the acts taken back."""
        after = self
        for record in turn.records:
            if record.kind == "withdrawn":
                after = after.forget(record.facts)
            if record.kind == "set_apart":
                after = after.without(record.facts["item"])
            if record.kind == "answered" and record.facts["outcome"] == "fault":
                after = after.unclaimed(record.facts["step"], record.facts["code"])
        if name == "start" and asked.kind == "start":
            number = turn.records[0].facts["items"]["set"] or ""
            return replace(after, started=True, on=tuple((i.id, number) for i in check.items))
        if name in ("command stop", "stop key") and asked.kind not in ("start", "nothing"):
            return replace(after, stopped=True)
        if asked.kind in ("step", "confirm") and asked.step_id:
            return after.answered(check.step(asked.step_id), asked, name, now_s)
        if asked.kind in ("replacement", "number", "confirm"):
            return after.swapped(check, asked, name)
        return after

    def answered(self, step: Step, asked: Expects, name: str, now_s: float) -> Witness:
        """A pass makes the step good, a fault makes it bad and may take the item off."""
        needed = step.reading is not None and step.reading.needed
        if asked.kind == "step" and step.id in dict(self.claimed):
            name = AS_HALF.get(name, name)
        if is_half_fault(step, name):
            rest = frozenset(claim for claim in self.claimed if claim[0] != step.id)
            self = replace(self, claimed=rest | {(step.id, name.removeprefix("half "))})
        elif asked.kind == "confirm" and name in DENIALS and is_half_fault(step, self.read):
            self = self.unclaimed(step.id)
        if asked.kind == "step":
            alike = (name == "half pass" and not needed) or (bool(step.reading) and name.startswith("read alike"))
            alike = alike or (name == "half absent" and step.may_be_absent) or is_half_fault(step, name)
            if alike or self.read:
                self = replace(self, read=name if alike else "")
        elif is_half_fault(step, name):
            self = replace(self, read=name)
        passed = (name == "pass" and not needed) or (name == "command absent" and step.may_be_absent)
        passed = passed or (name == "read good" and step.reading is not None)
        if asked.kind == "confirm":
            passed = name == "yes" and self.read in ("read alike", "half pass", "half absent")
        rest = frozenset(g for g in self.good if g[0] != step.id)
        if passed:
            self = self.unclaimed(step.id)
            return replace(self, good=rest | {(step.id, now_s)}, void=frozenset())
        named = self.fault(step, asked, name)
        if named is None:
            return self
        return replace(self, good=rest, void=frozenset()).without(named.item if named.remedy is Remedy.SWAP else "")

    def fault(self, step: Step, asked: Expects, name: str) -> Fault | None:
        """The fault that this fact names at this question."""
        if asked.kind == "step" and step.id in dict(self.claimed):
            name = AS_HALF.get(name, name)
        if asked.kind == "confirm":
            agreed = {"read alike low": "read low"}.get(self.read, self.read.removeprefix("half "))
            name = agreed if name == "yes" else "" if name.startswith("read") else name
        code = "low" if name == "read low" and step.reading else name
        return next((f for f in step.faults if f.code == code), None)

    def unclaimed(self, step_id: str, code: str = "") -> Witness:
        """The fault that was read back at the step counts no more: agreed to, denied, or another answer was."""
        gone = {claim for claim in self.claimed if claim[0] == step_id and code in ("", claim[1])}
        return replace(self, claimed=self.claimed - gone)

    def without(self, item: str) -> Witness:
        """The item comes off the diver and is set apart."""
        if not item:
            return self
        number = dict(self.on)[item]
        return replace(self, off=self.off | {item}, apart=self.apart | ({(item, number)} if number else set()))

    def swapped(self, check: Check, asked: Expects, name: str) -> Witness:
        """A replacement that was not set apart makes void what its item touches."""
        number = {"swapped two": "2", "unmarked": ""}.get(name)
        if asked.kind == "confirm":
            number = "3" if name == "yes" else None
        if number is None or (number and (asked.item, number) in self.apart):
            return self
        void = frozenset(g for g in self.good if asked.item in check.step(g[0]).touches)
        on = tuple((i, number if i == asked.item else n) for i, n in self.on)
        return replace(self, good=self.good - void, void=void, off=self.off - {asked.item}, on=on, before=self.on)

    def forget(self, facts: Mapping[str, Any]) -> Witness:
        """An act taken back."""
        item = facts["item"]
        if facts["what"] == "stopped":
            return replace(self, stopped=False)
        if facts["what"] == "replaced":
            good = self.good | self.void
            return replace(self, good=good, void=frozenset(), off=self.off | {item}, on=self.before, before=())
        if facts["what"] != "answered":
            return self
        good = frozenset(g for g in self.good if g[0] != facts["step"])
        apart = self.apart - {(item, dict(self.on).get(item, ""))}
        return replace(self, good=good, off=self.off - {item}, apart=apart)


class Violated(AssertionError):
    """The session and the witness disagree."""


@dataclass(frozen=True)
class Moment:
    """Where an exploration is: the session's value, the witness, the clock, and one way that led here."""

    state: State
    progress: Progress
    witness: Witness
    now_s: float
    entries: tuple[Stamped, ...] = field(compare=False, default=())
    path: tuple[str, ...] = field(compare=False, default=())

    def key(self) -> Any:
        witness = self.witness
        if self.progress.last is None or self.progress.last.what != "replaced":
            witness = replace(witness, void=frozenset(), before=())  # only the last act can be taken back
        return freeze(self.state, self.progress), witness, self.now_s


def freeze(state: State, p: Progress) -> Any:
    """All that the session's future depends on, as one hashable value."""
    act = p.last
    last = act and (act.what, act.step, act.item, act.pending, tuple(act.answers.items()), act.old)
    return (
        state, tuple(p.on.items()), p.off, frozenset(pair for pair in p.apart if pair[1]),
        tuple(p.answers.items()), tuple(sorted(p.left.items())), p.pending, last, p.question, p.doubts, p.silences,
    )  # fmt: skip


@dataclass(frozen=True)
class Explorer:
    """Walks a reduced sequence through every fact in every state it can reach, and believes the witness."""

    check: Check
    replies: Mapping[str, str]
    facts: Mapping[str, Fact]
    times_s: tuple[float, ...] = (EARLY_S, LATE_S)

    def explore(self, limit: int = 10**9) -> tuple[int, int]:
        """States and turns seen until nothing is new; Violated with the way there; AssertionError at the limit."""
        session = Session(self.check, self.replies, value_of, spoken, judge)
        first = Moment(session.state, session.progress, Witness(), self.times_s[0])
        seen, queue, turns = {first.key()}, deque([first]), 0
        while queue:
            moment = queue.popleft()
            for after in self.next_moments(session, moment):
                turns += 1
                if after.key() not in seen:
                    assert len(seen) < limit, f"more than {limit} states"
                    seen.add(after.key())
                    queue.append(after)
        return len(seen), turns

    def next_moments(self, session: Session, moment: Moment) -> Iterator[Moment]:
        for now_s in self.times_s:
            if now_s != moment.now_s:
                yield replace(moment, now_s=now_s, path=(*moment.path, f"clock {now_s:g}"))
        for name, fact in self.facts.items():
            session.state, session.progress, session.entries = moment.state, moment.progress, moment.entries
            yield self.step(session, moment, name, fact)

    def step(self, session: Session, moment: Moment, name: str, fact: Fact) -> Moment:
        """One fact: decide, watch, apply, compare."""
        asked = session.expects
        path = (*moment.path, name)
        try:
            turn = session.decide(fact, moment.now_s)
            unchanged = freeze(session.state, session.progress) == freeze(moment.state, moment.progress)
            witness = moment.witness.saw(self.check, asked, name, turn, moment.now_s)
            watch(self.check, moment, asked, name, turn, witness, unchanged)
            for record in turn.records:
                session.apply(record, moment.now_s)
            compare(self.check, session, turn, witness, self.times_s)
        except Exception as problem:
            raise Violated(f"{problem!r} after {' / '.join(path)}") from problem
        return Moment(session.state, session.progress, witness, moment.now_s, session.entries, path)


def watch(
    check: Check, moment: Moment, asked: Expects, name: str, turn: Turn, witness: Witness, unchanged: bool
) -> None:
    """What must hold of every turn, whatever state it came from."""
    kinds = [record.kind for record in turn.records]
    assert unchanged, "deciding changed the session"
    if name in ("doubt", "decoy", "early", "silence", "broken", "crash") or name.startswith("half "):
        made = {record.kind for record in turn.records if record.facts.get("outcome") != "fault"}
        assert not {"answered", "replaced", "no_spare"} & made, f"{name} made {kinds}"
        is_third = asked.kind == "confirm" and "doubted" in kinds and moment.witness.read.startswith("half ")
        assert is_third or "answered" not in kinds, f"{name} made {kinds}"
        assert expired(turn), f"{name} withdrew an answer"
    for record in turn.records:
        if record.kind == "replaced":
            assert (record.facts["item"], record.facts["new"]) not in moment.witness.apart, "back from the set apart"
            assert asked.kind in ("replacement", "number", "confirm"), "replaced out of place"
        if record.kind == "answered":
            optional = asked.step_id and check.step(asked.step_id).may_be_absent
            assert record.facts["outcome"] != "absent" or optional, "absent where it must be fitted"
            assert (asked.kind, asked.step_id) in (("step", record.facts["step"]), ("confirm", record.facts["step"]))
            needed = asked.step_id and check.step(asked.step_id).needs_number
            judged = record.facts.get("judged") == "good" and record.facts["settings"]
            assert record.facts["outcome"] != "passed" or judged or not needed, "passed without a number judged good"
        if record.kind == "asked" and record.facts["what"] == "step":
            may_ask(check, record.facts["step"], witness)
    if name == "crash" and asked.kind in ("replacement", "number"):
        assert turn.expects.kind == "replacement", "a replacement is no longer awaited"
    if asked.kind in ("step", "confirm") and asked.step_id:
        named = moment.witness.fault(check.step(asked.step_id), asked, name)
        if named is not None:
            assert kinds[0] == "answered", "a fault was lost"
            assert ("set_apart" in kinds) or named.remedy is not Remedy.SWAP, "a failed item was not set apart"
            assert (turn.expects.kind == "replacement") == ("set_apart" in kinds), "no replacement was asked for"


def expired(turn: Turn) -> bool:
    """Whether the only answers withdrawn were too old."""
    return all(r.facts["because"] == "expired" for r in turn.records if r.kind == "withdrawn")


def may_ask(check: Check, step_id: str, witness: Witness) -> None:
    """A step is asked only when what it stands on is good and what it touches is on the diver."""
    good = {step for step, _ in witness.good}
    step = check.step(step_id)
    assert set(step.after) <= good, f"{step_id} was asked before {step.after}"
    assert not set(step.touches) & witness.off, f"{step_id} was asked without its item"


def compare(check: Check, session: Session, turn: Turn, witness: Witness, times_s: tuple[float, ...]) -> None:
    """The session's verdict at every time is what the witness says, and it is given only then."""
    settled = {step for step, answer in session.progress.answers.items() if answer.outcome != "fault"}
    assert settled == {step for step, _ in witness.good}, "the bookkeeping and the witness know other steps as good"
    assert session.progress.off == witness.off, "the bookkeeping and the witness see other items on the diver"
    for now_s in times_s:
        said, true = session.verdict(now_s).ready, witness.ready(check, now_s)
        assert said == true, f"READY {said} at {now_s:g}, the witness says {true}"
    for record in turn.records:
        if record.kind == "verdict_given":
            given = record.facts["verdict"] == "ready"
            assert given == session.verdict(session.entries[-1][1]).ready, "the verdict spoken is not the one judged"
            assert given != bool(record.facts["reasons"]), "a verdict with the wrong reasons"


@pytest.fixture(scope="session")
def explorers(replies: Mapping[str, str]) -> dict[str, Explorer]:
    """The reduced sequences: two items with a swap, a repeat, a hold and an optional step; and a reading."""
    def facts(*names: str) -> dict[str, Fact]:
        return {name: FACTS[name] for name in names}

    talk = [name for name in TALK if name not in PAUSES]
    one, started = (EARLY_S,), {"start": Start()}
    return {
        "talk": Explorer(reduced(HOSES, INFLATOR, DUMP), replies, started | facts(*talk), one),
        "pauses": Explorer(reduced(HOSES, INFLATOR), replies, started | facts(*TALK), one),
        "numbers": Explorer(reduced(HOSES, INFLATOR), replies, facts(*NUMBERING), one),
        "halves": Explorer(reduced(HOSES, DUMP), replies, facts(*HALVES), one),
        "readings": Explorer(reduced(PRESSURE), replies, facts(*READING), one),
        "two readings": Explorer(reduced(PRESSURE, BREATHS), replies, facts(*TWO_READINGS), one),
        "leaks": Explorer(reduced(PRESSURE, LEAK), replies, facts(*LEAKING), one),
        "times": Explorer(reduced(HOSES, INFLATOR), replies, facts(*TIMELY)),
    }


@pytest.fixture(scope="session")
def violated() -> type[Exception]:
    """What an exploration raises when session and witness disagree."""
    return Violated


@pytest.fixture(scope="session")
def kits() -> dict[str, Check]:
    """Reduced sequences by name."""
    return {
        "swaps": reduced(HOSES, INFLATOR, DUMP), "readings": reduced(PRESSURE),
        "two readings": reduced(PRESSURE, BREATHS), "units": reduced(UNITS),
    }  # fmt: skip


@pytest.fixture(scope="session")
def facts() -> dict[str, Fact]:
    """Every fact by name."""
    return FACTS


@pytest.fixture(scope="session")
def plain(replies: Mapping[str, str]) -> dict[str, str]:
    """Each reply as its key and what fills it."""
    names = {key: [name for _, name, _, _ in Formatter().parse(text) if name] for key, text in replies.items()}
    return {key: " ".join([key, *(f"{{{name}}}" for name in names[key])]) for key in replies}


@pytest.fixture(scope="session")
def open_session(plain: Mapping[str, str]) -> Callable[[Check], Session]:
    """A new session of a check, with the tests' numbers and plain replies."""
    return lambda check: Session(check, plain, value_of, spoken, judge)
