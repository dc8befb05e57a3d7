"""The session's table: in which state, on which sign, where to and what follows. Data only.

A sign is what a fact amounts to (meaning.py). The table is total over state and sign;
a pair without a row cannot happen, and if it does UnknownTurn is raised. Where a row
names several next states, what follows chooses by the bookkeeping, and the machine
refuses any other. The picture in DEVELOPERS.md is `draw()` of this table.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assistant.errors import UnknownTurn


class State(StrEnum):
    """What the session is doing between two facts."""

    IDLE = "idle"  # waits for the start phrase
    ASKING = "asking"  # a step's question stands
    CONFIRMING = "confirming"  # a number or an answer was read back, yes or no
    REPLACING = "replacing"  # an item is set apart: swapped, or no spare
    NUMBERING = "numbering"  # swapped, but with which number
    NOTING = "noting"  # a note is being spoken
    WAITING = "waiting"  # paused until carry on
    CLOSED = "closed"  # the verdict was given; only "correct that" opens it again


class Sign(StrEnum):
    """What a fact amounts to, whatever way it came in."""

    STARTED = "started"
    PASSED = "passed"
    ABSENT = "absent"
    FAULTED = "faulted"
    READ = "read"
    AGREED = "agreed"
    DENIED = "denied"
    SWAPPED = "swapped"
    NUMBERED = "numbered"
    NO_SPARE = "no_spare"
    REPEAT = "repeat"
    EXPLAIN = "explain"
    GO_BACK = "go_back"
    CORRECT = "correct"
    WAIT = "wait"
    CARRY_ON = "carry_on"
    NOTE = "note"
    WHERE = "where"
    LEAVE_OPEN = "leave_open"
    STOP = "stop"
    DOUBTED = "doubted"
    SILENT = "silent"
    BROKEN = "broken"
    CONTINUED = "continued"
    NOTE_KEPT = "note_kept"


@dataclass(frozen=True, slots=True)
class Row:
    """On `sign` in `state`, do `follow` (a function of moves.py) and be in one of `to`."""

    state: State
    sign: Sign
    to: tuple[State, ...]
    follow: str


IDLE, ASKING, CONFIRMING, REPLACING = State.IDLE, State.ASKING, State.CONFIRMING, State.REPLACING
NUMBERING, NOTING, WAITING, CLOSED = State.NUMBERING, State.NOTING, State.WAITING, State.CLOSED
QUESTIONS = (ASKING, CONFIRMING, REPLACING, NUMBERING)
SAME: tuple[State, ...] = ()  # in a line below: the state it stands in
ANSWERS = (Sign.PASSED, Sign.ABSENT, Sign.FAULTED, Sign.READ)
SWAPS = (Sign.SWAPPED, Sign.NUMBERED, Sign.NO_SPARE)
YES_NO = (Sign.AGREED, Sign.DENIED)
OUT_OF_PLACE_ALWAYS = (Sign.CARRY_ON, Sign.DOUBTED)

# states, signs, next states, what follows
LINES: tuple[tuple[tuple[State, ...], tuple[Sign, ...], tuple[State, ...], str], ...] = (
    ((IDLE,), (Sign.STARTED,), (ASKING, CLOSED), "begin"),
    ((IDLE,), tuple(s for s in Sign if s is not Sign.STARTED), SAME, "ignore"),
    # a step's question
    ((ASKING,), (Sign.PASSED,), (ASKING, CONFIRMING, CLOSED), "take_pass"),
    ((ASKING,), (Sign.ABSENT,), (ASKING, CONFIRMING, CLOSED), "take_absent"),
    ((ASKING,), (Sign.FAULTED,), (ASKING, CONFIRMING, REPLACING, CLOSED), "take_fault"),
    ((ASKING,), (Sign.READ,), (ASKING, CONFIRMING, REPLACING, WAITING, CLOSED), "take_reading"),
    ((ASKING,), (*YES_NO, *SWAPS, *OUT_OF_PLACE_ALWAYS), (ASKING, CLOSED), "doubt"),
    ((ASKING,), (Sign.LEAVE_OPEN,), (ASKING, CLOSED), "leave_open"),
    ((ASKING,), (Sign.GO_BACK,), (ASKING,), "go_back"),
    ((ASKING,), (Sign.CORRECT,), (ASKING, REPLACING), "correct"),
    # a number or an answer read back
    ((CONFIRMING,), (Sign.AGREED,), (ASKING, REPLACING, WAITING, CLOSED), "agree"),
    ((CONFIRMING,), (Sign.DENIED, Sign.GO_BACK, Sign.CORRECT), (ASKING, NUMBERING), "deny"),
    ((CONFIRMING,), (Sign.LEAVE_OPEN,), (ASKING, CONFIRMING, WAITING, CLOSED), "leave_open"),
    ((CONFIRMING,), (Sign.FAULTED,), (ASKING, CONFIRMING, REPLACING, WAITING, CLOSED), "take_fault"),
    (
        (CONFIRMING,),
        (Sign.PASSED, Sign.ABSENT, Sign.READ, *SWAPS, *OUT_OF_PLACE_ALWAYS),
        (ASKING, CONFIRMING, REPLACING, WAITING, CLOSED),
        "doubt",
    ),
    # an item is set apart
    ((REPLACING,), (Sign.SWAPPED, Sign.NUMBERED), (*QUESTIONS, CLOSED), "take_swap"),
    ((REPLACING,), (Sign.NO_SPARE,), (ASKING, CLOSED), "take_no_spare"),
    ((REPLACING,), (Sign.CORRECT, Sign.GO_BACK), (ASKING,), "take_back_fault"),
    ((REPLACING,), (*ANSWERS, *YES_NO, Sign.LEAVE_OPEN, *OUT_OF_PLACE_ALWAYS), (REPLACING, WAITING), "doubt"),
    ((NUMBERING,), (Sign.SWAPPED, Sign.NUMBERED), (*QUESTIONS, CLOSED), "take_swap"),
    ((NUMBERING,), (Sign.NO_SPARE,), (ASKING, CLOSED), "take_no_spare"),
    ((NUMBERING,), (Sign.CORRECT, Sign.GO_BACK), (REPLACING,), "ask_replacement"),
    ((NUMBERING,), (*ANSWERS, *YES_NO, Sign.LEAVE_OPEN, *OUT_OF_PLACE_ALWAYS), (NUMBERING, WAITING), "doubt"),
    # understood at every question
    (QUESTIONS, (Sign.REPEAT, Sign.STARTED), SAME, "ask_again"),
    (QUESTIONS, (Sign.EXPLAIN,), SAME, "explain"),
    (QUESTIONS, (Sign.WHERE,), SAME, "tell_where"),
    (QUESTIONS, (Sign.NOTE,), (NOTING,), "take_note"),
    (QUESTIONS, (Sign.WAIT,), (WAITING,), "pause"),
    ((ASKING,), (Sign.SILENT,), (ASKING, WAITING), "silence"),
    ((CONFIRMING,), (Sign.SILENT,), (CONFIRMING, WAITING), "silence"),
    ((REPLACING,), (Sign.SILENT,), (REPLACING, WAITING), "silence"),
    ((NUMBERING,), (Sign.SILENT,), (NUMBERING, WAITING), "silence"),
    # a note
    ((NOTING,), (Sign.NOTE_KEPT,), QUESTIONS, "keep_note"),
    ((NOTING,), (Sign.WAIT,), (WAITING,), "pause"),
    (
        (NOTING,),
        tuple(
            s
            for s in Sign
            if s not in (Sign.NOTE_KEPT, Sign.WAIT, Sign.STOP, Sign.BROKEN, Sign.CONTINUED)
        ),
        QUESTIONS,
        "drop_note",
    ),
    # paused
    ((WAITING,), (Sign.CARRY_ON, Sign.STARTED), QUESTIONS, "carry_on"),
    ((WAITING,), (Sign.WHERE,), SAME, "tell_where_waiting"),
    ((WAITING,), (Sign.DOUBTED, Sign.SILENT, Sign.BROKEN), SAME, "ignore"),
    (
        (WAITING,),
        (*ANSWERS, *YES_NO, *SWAPS, Sign.REPEAT, Sign.EXPLAIN, Sign.GO_BACK, Sign.CORRECT, Sign.WAIT, Sign.NOTE,
         Sign.LEAVE_OPEN),
        SAME,
        "remind",
    ),
    # whatever goes on
    ((*QUESTIONS, NOTING, WAITING), (Sign.STOP,), (CLOSED,), "stop"),
    ((*QUESTIONS, NOTING), (Sign.BROKEN,), (WAITING,), "break_off"),
    ((*QUESTIONS, NOTING, WAITING), (Sign.CONTINUED,), (ASKING, REPLACING, CLOSED), "go_on"),
    ((*QUESTIONS, WAITING), (Sign.NOTE_KEPT,), SAME, "keep_late_note"),
    ((CLOSED,), (Sign.NOTE_KEPT,), SAME, "keep_late_note"),
    ((CLOSED,), (Sign.CORRECT,), (ASKING, REPLACING), "take_back_end"),
    ((CLOSED,), tuple(s for s in Sign if s not in (Sign.NOTE_KEPT, Sign.CORRECT)), SAME, "ignore"),
)  # fmt: skip


def lay_out() -> dict[tuple[State, Sign], Row]:
    """The lines above as one row for each pair; ValueError when a pair has two."""
    rows: dict[tuple[State, Sign], Row] = {}
    for states, signs, to, follow in LINES:
        for state in states:
            for sign in signs:
                if (state, sign) in rows:
                    raise ValueError(f"two rows for {state} and {sign}")
                rows[state, sign] = Row(state, sign, to or (state,), follow)
    return rows


TABLE = lay_out()


def look_up(state: State, sign: Sign) -> Row:
    """The row of the pair; UnknownTurn (a bug of ours: report it) when there is none."""
    try:
        return TABLE[state, sign]
    except KeyError:
        raise UnknownTurn(f"no row for the sign {sign!r} in the state {state!r}", "Report this; restart kitcall, "
                          "the check resumes from the record.") from None  # fmt: skip


GROUPS = {
    "an answer": frozenset({Sign.PASSED, Sign.ABSENT, Sign.FAULTED, Sign.READ}),
    "a replacement": frozenset({Sign.SWAPPED, Sign.NUMBERED, Sign.NO_SPARE}),
    "yes or no": frozenset({Sign.AGREED, Sign.DENIED}),
    "a question back": frozenset({Sign.REPEAT, Sign.EXPLAIN, Sign.WHERE}),
    "doubt or silence": frozenset({Sign.DOUBTED, Sign.SILENT}),
    "a correction": frozenset({Sign.GO_BACK, Sign.CORRECT, Sign.LEAVE_OPEN}),
}  # signs that the picture names together, where all of a group lead the same way


def draw() -> str:
    """The picture of the session as a Mermaid state diagram, one arrow for each pair of states that differ.

    Not drawn: signs that leave the state as it is, and signs out of place, which are doubted like any other words.
    """
    arrows: dict[tuple[State, State], set[str]] = {}
    for row in TABLE.values():
        for to in row.to:
            if to is not row.state and (row.follow != "doubt" or row.sign is Sign.DOUBTED):
                name = "anything else" if row.follow == "drop_note" else row.sign.value.replace("_", " ")
                arrows.setdefault((row.state, to), set()).add(name)
    lines = [f"    {source} --> {to} : {name_signs(signs)}" for (source, to), signs in arrows.items()]
    return "\n".join(["stateDiagram-v2", f"    [*] --> {IDLE}", *lines, f"    {CLOSED} --> [*]"]) + "\n"


def name_signs(signs: set[str]) -> str:
    """The signs of an arrow in words, whole groups by their name."""
    groups = {name: {sign.value.replace("_", " ") for sign in group} for name, group in GROUPS.items()}
    named = [name for name, group in groups.items() if group <= signs]
    return ", ".join([*named, *sorted(signs.difference(*(groups[name] for name in named)))])
