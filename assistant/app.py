"""The conversation run for real: the only place where clock, record, ears and mouth meet.

One loop on one thread owns the session: hear, decide, commit, apply, and only then speak.
What could not be committed is neither applied nor acknowledged.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Protocol

from assistant.check.session import Session
from assistant.check.steps import Check
from assistant.check.turns import Continued, Expects, Fact, NoteKept, Record, Start, Turn
from assistant.check.verdict import Verdict
from assistant.errors import AudioError, BadInput, KitcallError, MicrophoneLost, NoSpeaker, StoreError
from assistant.events import Broken, Heard, Silent
from assistant.language.expected import Expected, value_of
from assistant.language.numbers import read_back
from assistant.language.replies import Replies
from assistant.record import Clip, Entry, Log

LOST_FOR_S = 60.0  # a microphone that stays away this long ends the program; the log goes on later
TRY_EVERY_S = 1.0


class Ears(Protocol):
    """Where answers come from: a microphone, a keyboard, a rehearsal."""

    by: str

    def hear(self, expects: Expects, expected: Expected) -> Fact: ...
    def note(self, window_s: float) -> Clip | None: ...
    def reopen(self) -> bool: ...


class Mouth(Protocol):
    """Where words go."""

    def say(self, text: str) -> None: ...


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
    monotonic_s: Callable[[], float] = time.monotonic
    pause: Callable[[float], None] = time.sleep


class Conversation:
    """One check of one diver, from the start phrase to the verdict.

    `session_id` names the check in the record; when the record has it already, the check goes on there.
    Raises BadInput when it was begun with another sequence file.
    """

    def __init__(self, check: Check, session_id: str, start: Start, parts: Parts) -> None:
        self._check, self._id, self._start, self._parts = check, session_id, start, parts
        entries = list(parts.log.entries(session_id))
        refuse_other_sequence(check, entries)
        kept = [(Record(entry.kind, entry.facts), entry.wall_s) for entry in entries]
        self.session = Session.replay(check, parts.replies, kept, value_of, read_back)
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
            if turn.expects.kind == "nothing" and not isinstance(fact, Heard):
                return self.session.verdict(self._parts.wall_s())
            turn = self._take(fact)

    def _listen(self, expects: Expects) -> Fact:
        try:
            if expects.kind == "note":
                return self._keep_note(expects)
            fact = self._parts.ears.hear(expects, self._parts.expected)
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
        parts.witness.heard(fact)
        now_s = parts.wall_s()
        turn = self.session.decide(fact, now_s, parts.ears.by)
        try:
            records = [(each.kind, each.facts) for each in turn.records]
            entries = parts.log.append_all(self._id, records, self._check.digest, self._clips)
        except StoreError:
            self._say(parts.replies.say("store_failed"))
            raise
        self._clips = ()
        for record, entry in zip(turn.records, entries, strict=True):
            self.session.apply(record, entry.wall_s)
        parts.witness.recorded(turn.records)
        for line in turn.say:
            self._say(line)
        return turn

    def _say(self, line: str) -> None:
        self._parts.witness.said(line)
        self._parts.mouth.say(line)

    def _wait_for_microphone(self, expects: Expects, problem: KitcallError) -> Fact:
        """Record and say that it is gone, wait for it, and say that it is back; after the verdict only record it."""
        parts, broken = self._parts, Broken("microphone", str(problem), problem.mend)
        if expects.kind == "nothing":
            return broken
        until_s = parts.monotonic_s() + LOST_FOR_S
        self._take(broken)
        with suppress(NoSpeaker):  # it may hang on the same plug, and is opened again with the microphone
            self._say(parts.replies.say("microphone_lost"))
        while not parts.ears.reopen():
            if parts.monotonic_s() > until_s:
                raise AudioError(str(problem), problem.mend) from problem
            parts.pause(TRY_EVERY_S)
        self._say(parts.replies.say("microphone_back"))
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
