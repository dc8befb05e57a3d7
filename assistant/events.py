"""Small frozen facts that cross rooms. They know nobody and do nothing.

Times named `_s` are seconds of audio counted from the first frame of the turn,
unless a name says otherwise. What the ear returns is one of four types, Heard,
Doubted, Silent, Broken; none of them is ever None, and none stands for another.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol


class Care(StrEnum):
    """How sure the ear must be before it takes a phrase."""

    FIRM = "firm"  # a wrong acceptance could hurt somebody; where the ear is less than sure, it is read back
    FINAL = "final"  # as firm, and the answer to what was read back: there is nothing left to ask
    WEIGHTY = "weighty"  # a wrong acceptance takes good kit off the boat; less than surely heard, it is read back
    PLAIN = "plain"  # a wrong acceptance costs time
    NUMBER = "number"  # the phrase holds a number that may go on
    NEVER = "never"  # known to be no answer: hearing it means doubt, and says why

    @property
    def is_firm(self) -> bool:
        """True where two recognisers must agree."""
        return self in (Care.FIRM, Care.FINAL)


@dataclass(frozen=True, slots=True)
class Match:
    """A whole phrase of the grammar in force.

    `meaning` is opaque to audio: the asker chose it ("pass", "fault:sticks",
    "command:repeat", "doubt:negated"). `slots` maps a rule's name to the words it took.
    `is_unsure`: the same with another number read nearly as well, one word of a number where a number alone is asked
    for, a FIRM or WEIGHTY phrase that not every rule is sure of, or one of them or a number said in a loud place.
    """

    words: tuple[str, ...]
    meaning: str
    care: Care
    slots: Mapping[str, str] = field(default_factory=dict)
    is_unsure: bool = False

    @property
    def text(self) -> str:
        return " ".join(self.words)

    @property
    def is_taken(self) -> bool:
        """False for a FIRM or WEIGHTY phrase that must be read back first: it is no answer yet."""
        return not (self.is_unsure and self.care in (Care.FIRM, Care.WEIGHTY))


class Listening(Protocol):
    """What may be heard now. language builds it, audio asks it."""

    @property
    def phrases(self) -> tuple[str, ...]:
        """Lower-case word strings, all known to the model, for the recogniser's n-gram."""
        ...

    @property
    def rivals(self) -> tuple[str, ...]:
        """Phrases for a second decoding, in which every FIRM phrase stands beside its soundalikes; may be empty."""
        ...

    @property
    def lone(self) -> tuple[str, ...]:
        """Words that are each an answer alone, for a last decoding of a short sound not surely heard; may be empty."""
        ...

    def match(self, words: tuple[str, ...]) -> Match | None:
        """The listed phrase that these words are as a whole, else None."""
        ...

    def goes_on(self, words: tuple[str, ...]) -> bool:
        """True when a longer answer starts with these words and means something else, or tells more: more of a number,
        its unit, another number."""
        ...

    def nears_firm(self, words: tuple[str, ...]) -> bool:
        """True when these words are a FIRM phrase, or are one with one word more: what a pass needs may be begun."""
        ...

    def turns(self, words: tuple[str, ...]) -> bool:
        """True when one of these words, not in a FIRM phrase itself, could turn an answer around ("never", "stuck")."""
        ...

    def is_talk(self, words: tuple[str, ...]) -> bool:
        """True when one of these words is in no phrase: somebody is talking, or hedging."""
        ...

    def is_about(self, words: tuple[str, ...]) -> bool:
        """True when these words, written down without a list, could be meant for one of the phrases at all."""
        ...


@dataclass(frozen=True, slots=True)
class Word:
    """One decoded word; conf is the recogniser's own 0..1, which never gates by itself."""

    text: str
    start_s: float
    end_s: float
    conf: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a decision rests on, for `hear --explain`, the record and the tests."""

    words: tuple[Word, ...] = ()
    speech_start_s: float | None = None
    speech_end_s: float | None = None
    decided_s: float = 0.0
    level_db: float | None = None
    noise_db: float | None = None
    numbers: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    written: str = ""  # by the second recogniser, where it was asked


@dataclass(frozen=True, slots=True)
class Heard:
    """A whole listed phrase was said, and every rule of the gate agrees."""

    match: Match
    evidence: Evidence = Evidence()


class Why(StrEnum):
    """Why something was not taken as an answer."""

    NO_PHRASE = "no_phrase"  # words, but no listed phrase as a whole
    KNOWN_WRONG = "known_wrong"  # a phrase listed as no answer: a negation, question, hedge
    NEAR = "near"  # another reading was too close to call
    UNSTEADY = "unsteady"  # the reading changed while it should have settled
    TOO_LOUD = "too_loud"  # clipped, or the deck drowns the voice
    TOO_FAINT = "too_faint"
    MORE = "more"  # a listed phrase, and a voice before or behind it that is in no word of it
    EARLY = "early"  # speech ran while our own voice did
    TOO_LONG = "too_long"  # the window closed on unbroken sound
    NOISE = "noise"  # sound, but no words


@dataclass(frozen=True, slots=True)
class Doubted:
    """Something was said or sounded, and it is not an answer."""

    why: Why
    text: str = ""
    detail: str = ""
    evidence: Evidence = Evidence()


@dataclass(frozen=True, slots=True)
class Silent:
    """Nobody spoke within the window."""

    waited_s: float


@dataclass(frozen=True, slots=True)
class Broken:
    """A part failed; `part` is microphone, speaker, voice, model, store, clock."""

    part: str
    problem: str
    mend: str = ""


Hearing = Heard | Doubted | Silent | Broken
