"""The conversation as an event-sourced machine: facts in, records and words out.

`decide` thinks and changes nothing; `apply` changes the state and decides nothing.
The caller commits a turn's records, applies each, and only then speaks. State is a
function of the applied records, so `replay` of a log ends where the session was.
No clock, no sound, no store; one thread owns a session. Only file that knows transitions.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache

from transitions import Machine, MachineError

from assistant.check import meaning
from assistant.check.draft import Draft, Ground
from assistant.check.moves import MOVES
from assistant.check.progress import Progress, evolve, prerequisites
from assistant.check.speech import Speech
from assistant.check.steps import Check
from assistant.check.table import TABLE, State, look_up
from assistant.check.turns import Expects, Fact, Judge, Record, Spoken, Stamped, Start, Taken, Turn, ValueOf
from assistant.check.verdict import Verdict, judge
from assistant.errors import UnknownTurn

ASKED = {
    "step": State.ASKING,
    "confirm": State.CONFIRMING,
    "replacement": State.REPLACING,
    "number": State.NUMBERING,
    "note": State.NOTING,
}
LISTENS = {
    State.IDLE: ("start", 600.0),
    State.ASKING: ("step", 45.0),
    State.CONFIRMING: ("confirm", 20.0),
    State.REPLACING: ("replacement", 120.0),
    State.NUMBERING: ("number", 30.0),
    State.NOTING: ("note", 20.0),
    State.WAITING: ("waiting", 600.0),
    State.CLOSED: ("nothing", 15.0),  # nothing is asked, but "correct that" is still taken
}  # windows in s: as long as the hands are busy with it; common practice, no source


def destined(to: State) -> Callable[..., bool]:
    """A condition of the machine: the turn's last record leads to this state."""

    def leads(reached: State) -> bool:
        return reached is to

    return leads


@cache
def machine() -> Machine:
    """The machine that the table describes; it holds no model, so all sessions share it."""
    rows = [
        {"trigger": row.sign.value, "source": row.state, "dest": to, "conditions": destined(to)}
        for row in TABLE.values()
        for to in row.to
    ]
    return Machine(model=None, states=State, initial=State.IDLE, transitions=rows, auto_transitions=False)


class Session:
    """One check of one diver.

    check: the loaded sequence. replies: the texts of the replies file.
    value_of(kind, words): the value of a spoken number and what else it could have been;
    raises BadInput. spoken(value, unit): the value in words, figure by figure. judge(name, numbers,
    earlier, now_s): what a reading is worth; raises BadInput for one that cannot be meant.
    Raises GrammarError when a reply is missing.
    """

    def __init__(
        self, check: Check, replies: Mapping[str, str], value_of: ValueOf, spoken: Spoken, judge: Judge
    ) -> None:
        self.check = check
        self.state = State.IDLE
        self.progress = Progress()
        self.entries: tuple[Stamped, ...] = ()
        self._ground = Ground(check, prerequisites(check), Speech(check, replies, spoken), value_of, judge)

    @classmethod
    def replay(
        cls,
        check: Check,
        replies: Mapping[str, str],
        entries: Iterable[Stamped],
        value_of: ValueOf,
        spoken: Spoken,
        judge: Judge,
    ) -> Session:
        """The session that these records, each with its wall time in s, have led to."""
        session = cls(check, replies, value_of, spoken, judge)
        for record, at_s in entries:
            session.apply(record, at_s)
        return session

    @property
    def expects(self) -> Expects:
        """What to listen for now."""
        return self._expect(self.state, self.progress)

    def decide(self, fact: Fact, now_s: float, by: str = "voice", taken: Taken | None = None) -> Turn:
        """What follows from the fact at `now_s` (wall seconds); changes nothing.

        by: how words came in, voice or typed. taken: what other divers have, and what is set apart elsewhere:
        it cannot be a replacement. Raises UnknownTurn for a fact without a row
        (report it), BadInput when a check is to start on an item that was set apart.
        """
        said = meaning.read(fact, by)
        row = look_up(self.state, said.sign)
        start = fact if isinstance(fact, Start) else Start(by=said.by)
        draft = Draft(self._ground, self.progress, self.entries, said, start, now_s, taken or {})
        MOVES[row.follow](draft)
        state = reached(draft.records) or self.state
        return Turn(tuple(draft.records), tuple(draft.say), self._expect(state, draft.progress))

    def apply(self, record: Record, at_s: float) -> None:
        """Take in one committed record made at `at_s` (wall seconds).

        Raises UnknownTurn for a record that no row of the table can have made (verify the log).
        """
        progress = evolve(self.check, self.progress, record, at_s)
        if "turn" in record.facts:
            self._move(record)
        self.progress = progress
        self.entries = (*self.entries, (record, at_s))

    def verdict(self, now_s: float) -> Verdict:
        """What the records say at `now_s` (wall seconds); a READY lapses when its answers grow old."""
        return judge(self.check, self.entries, now_s)

    def _move(self, record: Record) -> None:
        turn, state = record.facts["turn"], reached([record])
        event = machine().events.get(turn)
        try:
            moved = event is not None and event.trigger(self, state)
        except MachineError:
            moved = False
        if not moved:
            raise UnknownTurn(f"a record leads from {self.state} by {turn} to {state}", "Verify the record.")

    def _expect(self, state: State, progress: Progress) -> Expects:
        kind, window_s = LISTENS[state]
        about = progress.question
        if kind in ("start", "nothing"):
            return Expects(kind, window_s=window_s)
        return Expects(kind, about.step, about.item, window_s)


def reached(records: Iterable[Record]) -> State | None:
    """The state that the last of these records leads to; None when they leave it as it is."""
    state = None
    for record in records:
        if record.kind == "asked":
            state = ASKED[record.facts["what"]]
        elif record.kind == "paused":
            state = State.WAITING
        elif record.kind == "verdict_given":
            state = State.CLOSED
    return state
