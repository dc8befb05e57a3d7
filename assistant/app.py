"""The conversation run for real: the only place where clock, record, ears and mouth meet.

One loop on one thread owns the session: hear, decide, commit, apply, and only then speak.
What could not be committed is neither applied nor acknowledged.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Protocol

from assistant.check.session import Session
from assistant.check.steps import Check
from assistant.check.turns import Continued, Expects, Fact, NoteKept, Record, Start, Taken, Turn
from assistant.check.verdict import Verdict
from assistant.errors import AudioError, BadInput, KitcallError, MicrophoneLost, NoSpeaker, StoreError
from assistant.events import Broken, Care, Heard, Match, Silent
from assistant.judges import Judges, refuse_unjudged
from assistant.language.expected import Expected, value_of
from assistant.language.numbers import read_back
from assistant.language.replies import Replies
from assistant.record import Clip, Entry, Log, Part
from assistant.sums.settings import defaults

LOST_FOR_S = 60.0  # a microphone that stays away this long ends the program; the log goes on later
TRY_EVERY_S = 1.0
# nobody said these: the question stands after the group's word, and what was read back before it is asked anew, since a
# yes may have been meant for the group
AGAIN, ANEW = (Heard(Match((), meaning, Care.PLAIN)) for meaning in ("command:repeat", "no"))
SAVE = "command:save"


class Ears(Protocol):
    """Where answers come from: a microphone, a keyboard, a rehearsal."""

    @property
    def by(self) -> str: ...

    def hear(self, expects: Expects, expected: Expected) -> Fact: ...
    def note(self, window_s: float) -> Clip | None: ...
    def reopen(self) -> bool: ...


class Mouth(Protocol):
    """Where words go."""

    def say(self, text: str) -> None: ...


class Floor(StrEnum):
    """Whose turn it is after something was heard in a group."""

    KEPT = "kept"  # it was for the check
    LENT = "lent"  # the group answered it; the check asks again
    LEFT = "left"  # this check is broken off for another


class Company(Protocol):
    """Who else is there while a check runs."""

    def taken(self) -> Taken: ...
    def hear(self, fact: Fact) -> Floor: ...
    def saw(self, entries: Sequence[Entry]) -> tuple[str, ...]: ...


class Alone:
    """Nobody: a check has the floor until its verdict. `apart` is what may not be taken."""

    def __init__(self, apart: Iterable[tuple[str, str]] = ()) -> None:
        self._apart = dict.fromkeys(apart, "")

    def taken(self) -> Taken:
        """What is set apart."""
        return self._apart

    def hear(self, fact: Fact) -> Floor:
        """All is for the check."""
        return Floor.KEPT

    def saw(self, entries: Sequence[Entry]) -> tuple[str, ...]:
        """Nothing is said about it."""
        return ()


class Witness(Protocol):
    """Who watches: the transcript on the screen, a test."""

    def said(self, text: str) -> None: ...
    def heard(self, fact: Fact) -> None: ...
    def recorded(self, records: Sequence[Record]) -> None: ...


@dataclass(frozen=True, slots=True)
class Parts:
    """Everything a conversation needs, made outside it."""

    log: Log
    ears: Ears
    mouth: Mouth
    witness: Witness
    expected: Expected
    replies: Replies
    wall_s: Callable[[], float] = time.time
    save_log: Callable[[Callable[[str], None]], object] = lambda say: None  # copies the record, and says how it went
    monotonic_s: Callable[[], float] = time.monotonic
    pause: Callable[[float], None] = time.sleep
    judges: Judges = field(default_factory=lambda: Judges(defaults()))

    def say(self, line: str) -> None:
        """Show a line and speak it."""
        self.witness.said(line)
        self.mouth.say(line)

    def keep(self, parts: Sequence[Part], clips: Sequence[Clip] = ()) -> list[Entry]:
        """Commit; only when this returns may anything be acknowledged. Says so and raises StoreError when it fails."""
        try:
            return self.log.append_together(parts, clips)
        except StoreError:
            self.say(self.replies.say("store_failed"))
            raise

    def hear(self, expects: Expects) -> Fact:
        """The next fact for check or group. "Save the log" is none: it is done here, at any time."""
        while True:
            fact = self.ears.hear(expects, self.expected)
            if not (isinstance(fact, Heard) and fact.match.meaning == SAVE):
                return fact
            self.witness.heard(fact)
            self.save_log(self.say)

    def wait_for_microphone(self, problem: KitcallError) -> None:
        """Say that it is gone, wait for it, say that it is back. Raises AudioError when it stays away."""
        until_s = self.monotonic_s() + LOST_FOR_S
        with suppress(NoSpeaker):  # it may hang on the same plug, and is opened again with the microphone
            self.say(self.replies.say("microphone_lost"))
        while not self.ears.reopen():
            if self.monotonic_s() > until_s:
                raise AudioError(str(problem), problem.mend) from problem
            self.pause(TRY_EVERY_S)
        self.say(self.replies.say("microphone_back"))


class Conversation:
    """One check of one diver, from the start phrase to the verdict, or until the company takes the floor.

    `session_id` names the check in the record; when the record has it already, the check goes on there.
    Raises BadInput when it was begun with another sequence file, GrammarError for a reading that nobody judges.
    """

    def __init__(
        self, check: Check, session_id: str, start: Start, parts: Parts, company: Company | None = None
    ) -> None:
        self._check, self._id, self._start, self._parts = check, session_id, start, parts
        self._company = company or Alone()
        refuse_unjudged(check)
        entries = list(parts.log.entries(session_id))
        refuse_other_sequence(check, entries)
        kept = [(Record(entry.kind, entry.facts), entry.wall_s) for entry in entries]
        self.session = Session.replay(check, parts.replies, kept, value_of, read_back, parts.judges.judge)
        self._is_resumed = bool(kept)
        self._clips: tuple[Clip, ...] = ()

    def run(self, at_once: bool = False) -> Verdict:
        """Hold the conversation until it ends; gives the verdict that was spoken.

        at_once: begin without waiting for the start phrase. Raises StoreError (nothing acknowledged is
        lost; mend, then resume), AudioError when microphone or speaker stay away.
        """
        if self._is_resumed:
            turn = self._take(Continued())
        elif at_once:
            turn = self._take(self._start)
        else:
            self._say(self._parts.replies["ready"])
            turn = Turn((), (), self.session.expects)
        while True:
            fact = self._listen(turn.expects)
            floor = self._company.hear(fact)
            is_over = turn.expects.kind == "nothing" and not isinstance(fact, Heard)
            if floor is Floor.LEFT or is_over:
                return self.session.verdict(self._parts.wall_s())
            if floor is Floor.LENT:
                fact = ANEW if turn.expects.kind == "confirm" else AGAIN
            turn = self._take(fact)

    def _listen(self, expects: Expects) -> Fact:
        try:
            if expects.kind == "note":
                return self._keep_note(expects)
            fact = self._parts.hear(expects)
        except MicrophoneLost as problem:
            return self._wait_for_microphone(expects, problem)
        if isinstance(fact, Start):
            return replace(self._start, by=fact.by)
        if expects.kind == "start" and isinstance(fact, Heard) and fact.match.meaning == "start":
            return replace(self._start, by=self._parts.ears.by)
        return fact

    def _keep_note(self, expects: Expects) -> Fact:
        clip = self._parts.ears.note(expects.window_s)
        if clip is None:
            return Silent(expects.window_s)
        self._clips = (clip,)
        return NoteKept(clip.digest)

    def _take(self, fact: Fact) -> Turn:
        """Decide, commit, apply, speak: in this order, always."""
        parts = self._parts
        if fact not in (AGAIN, ANEW):
            parts.witness.heard(fact)
        now_s = parts.wall_s()
        turn = self.session.decide(fact, now_s, parts.ears.by, self._company.taken())
        records = [(each.kind, each.facts) for each in turn.records]
        entries = parts.keep([Part(self._id, records, self._check.digest)], self._clips)
        self._clips = ()
        for record, entry in zip(turn.records, entries, strict=True):
            self.session.apply(record, entry.wall_s)
        parts.witness.recorded(turn.records)
        beside = self._company.saw(entries)
        for line in (*turn.say[:-1], *beside, *turn.say[-1:]):
            self._say(line)
        return turn

    def _say(self, line: str) -> None:
        self._parts.say(line)

    def _wait_for_microphone(self, expects: Expects, problem: KitcallError) -> Fact:
        """Record and say that it is gone, wait for it, and say that it is back; after the verdict only record it."""
        parts, broken = self._parts, Broken("microphone", str(problem), problem.mend)
        if expects.kind == "nothing":
            return broken
        self._take(broken)
        parts.wait_for_microphone(problem)
        self._say(parts.replies.say("ready" if expects.kind == "start" else "waiting"))
        return Silent(0.0)


def refuse_other_sequence(check: Check, entries: Sequence[Entry]) -> None:
    """A check goes on with the very file it was begun with; BadInput names both, and nothing was changed."""
    others = [entry for entry in entries if entry.sequence_digest != check.digest]
    if not others:
        return
    begun = others[0]
    name = begun.facts.get("check", "unknown")
    raise BadInput(
        f"Check {begun.session} was begun with the sequence {name} (SHA-256 {begun.sequence_digest[:12]}…), and this "
        f"one is {check.id} (SHA-256 {check.digest[:12]}…).",
        "Go on with the file it was begun with: --sequence FILE (sha256sum FILE tells). Or begin anew with --new; "
        "what was recorded is kept, on hold.",
    )
