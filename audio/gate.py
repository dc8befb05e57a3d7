"""From readings to a decision: the rules that stand between a recogniser and the record.

A reading is never an answer by itself. The recogniser mixes halves of phrases; among its many readings
the best that is a listed phrase as a whole is taken, and then doubted by these rules. First that speaks
decides; every one but the last can only make the ear more doubtful:

1. no words at all                                       -> noise
2. no listed phrase among the readings, one too far
   behind the best reading, or behind a reading with a
   word of everyday talk or of no kind                   -> no_phrase
   but a weighty phrase little behind any of these       -> unsure: read back
3. the best listed phrase is known to be no answer       -> known_wrong
4. another meaning reads nearly as well                  -> near
   the same meaning with another number does so, or it is
   a lone word, as "fine" is heard for "five": taken,
   but unsure; the session reads it back
5. firm only: a better reading, though no phrase, holds
   a word that turns an answer around ("not")            -> known_wrong
6. firm only: the rival decoding, in which every word has
   its soundalikes beside it, prefers one of them: by
   anything where it tells of bad kit, clearly where it
   is nonsense                                           -> near
7. firm only: a second recogniser (opinion.py) finds one
   of those soundalikes likelier, or what it would write
   itself much likelier                                  -> near
   or writes further words around the phrase, or in it   -> more
8. firm only: it keeps to FIRM and not to SURE           -> unsure: read back
9. where a lone word may answer (a number is asked for),
   the sound is short, and rules 1 to 4 left no phrase or
   an unsure number: a decoding against those words alone
   hears one, ahead of sound of no kind                   -> that one, unsure

10. no phrase, or a pass beside which a voice was heard:
   the second recogniser, which knows no list, writes a
   listed phrase and no other word, and the first has
   that meaning among its readings                       -> that one; a pass or a fault unsure

Rules 9 and 10 find something. Rule 9 can only turn "asked again" (or "left alone") into "read back", and say which
number is read back; by rule 10 a yes or a command is taken, on which two recognisers agree. What was sure is not
touched.

Each holds with margins of a set: FIRM and SURE, and FINAL for the yes to what was read back (ear.py).

What a wrong answer costs, and so how each margin was chosen, stands in DEVELOPERS.md under "The
operating point"; tests/bench/bench_hearing.py measures it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from assistant.events import Care, Listening, Match, Why, Word
from audio.opinion import Weighed, plain_words
from audio.recognise import UNKNOWN, Reading

FAR = 99.0  # ahead of what was not read at all
WEIGHED = 6  # soundalikes that the second recogniser is asked about; each costs it some 20 ms


@dataclass(frozen=True, slots=True)
class Margins:
    """In units of the decoder's log likelihood."""

    plain: float = 6.0  # how far below the best reading a listed phrase may lie
    firm: float = 4.0
    weighty: float = 3.0  # a fault no further behind the best reading is read back, were that one talk
    weighty_sure: float = 1.0  # and is taken at once no further behind than this
    other_plain: float = 0.5  # an answer must beat every other meaning by this much
    other_firm: float = 5.0  # "full and not firm" was once read as "full and firm" 3.5 ahead
    other_number: float = 3.0  # or is unsure, and read back; "one nine zero" lay 2.9 behind "one zero"
    rival: float = 3.0  # a pass may lie this far below the rival decoding's best where that is nonsense
    rival_faulty: float = -1.0  # and must lie this far above what a diver would say of bad kit
    other_opinion: float = 2.0  # a pass may lie this far behind a soundalike by the second recogniser
    written: float = 20.0  # and this far behind what that one writes of its own accord
    lone_unknown: float = 2.5  # a lone word must lie this far ahead of sound of no kind
    lone_none: float = 0.0  # and of no words at all: "six" on a line that takes its s is hardly more than that
    agreed: float = 6.0  # so far behind the best reading may lie what the second recogniser wrote of its own accord


FINAL = Margins()
# what is read back, and what is taken at once: see "The operating point"
FIRM = replace(FINAL, other_firm=3.0, rival=4.0, other_opinion=6.0)
SURE = replace(FINAL, firm=0.5, rival=1.0, rival_faulty=-2.0, other_opinion=0.0, written=3.0)


@dataclass(frozen=True, slots=True)
class Ruling:
    """`match` when a listed phrase stands, else `why`; `numbers` is the evidence."""

    match: Match | None
    why: Why | None
    text: str
    numbers: dict[str, float]
    words: tuple[Word, ...] = ()  # of the reading that was decided on
    written: str = ""  # by the second recogniser, where it was asked


def rule(
    readings: Sequence[Reading],
    listening: Listening,
    margins: Margins,
    rivals: Sequence[Reading] | None = None,
    weighed: Weighed | None = None,
) -> Ruling:
    """Decide on the readings of one utterance (best first); `rivals` are those of the rival decoding, `weighed` is
    the second recogniser's opinion of the phrase."""
    best = readings[0]
    listed = [(reading, match) for reading in readings if (match := listening.match(reading.tokens))]
    if not best.tokens:
        return Ruling(None, Why.NOISE, "", {})
    if not listed:
        return Ruling(None, Why.NO_PHRASE, best.text, {})
    reading, match = listed[0]
    numbers = {"behind_best": best.score - reading.score}
    is_firm = match.care.is_firm
    better = [other for other in readings if other.score > reading.score]
    is_amid_talk = any(UNKNOWN in other.tokens or listening.is_talk(other.tokens) for other in better)
    is_far = is_amid_talk or numbers["behind_best"] > (margins.firm if is_firm else margins.plain)
    if is_far and (match.care is not Care.WEIGHTY or numbers["behind_best"] > margins.weighty):
        return Ruling(None, Why.NO_PHRASE, best.text, numbers)
    if match.care is Care.WEIGHTY:
        match = replace(match, is_unsure=is_far or numbers["behind_best"] > margins.weighty_sure)
    if match.care is Care.NEVER:
        return Ruling(None, Why.KNOWN_WRONG, reading.text, numbers)
    others = [other.score for other, meant in listed if meant.meaning != match.meaning]
    if others:
        numbers["ahead_of_other"] = reading.score - max(others)
        if numbers["ahead_of_other"] < (margins.other_firm if is_firm else margins.other_plain):
            return Ruling(None, Why.NEAR, reading.text, numbers)
    numbers_heard = [other.score for other, meant in listed if _holds_other_number(meant, match)]
    if numbers_heard and match.care is not Care.WEIGHTY:
        numbers["ahead_of_number"] = reading.score - max(numbers_heard)
        match = replace(match, is_unsure=numbers["ahead_of_number"] < margins.other_number)
    if listening.lone and match.care is Care.NUMBER and len(match.words) == 1:
        match = replace(match, is_unsure=True)
    if is_firm and any(listening.turns(other.tokens) for other in better):
        return Ruling(None, Why.KNOWN_WRONG, reading.text, numbers)
    why = _lose_to_rival(match, listening, margins, rivals, numbers) if is_firm else None
    if is_firm and weighed and not why:
        numbers["behind_written"], numbers["behind_other"] = weighed.behind_written, weighed.behind_other
        if weighed.behind_written > margins.written or weighed.behind_other > margins.other_opinion:
            why = Why.NEAR
        elif weighed.has_more:
            why = Why.MORE
    written = weighed.written if weighed else ""
    return Ruling(None if why else match, why, reading.text, numbers, reading.words, written)


def _holds_other_number(one: Match, other: Match) -> bool:
    """True when two phrases mean the same of different numbers; an "and" within a number changes nothing."""
    return one.meaning == other.meaning and _slot_words(one) != _slot_words(other)


def _slot_words(match: Match) -> dict[str, list[str]]:
    return {name: [word for word in words.split() if word != "and"] for name, words in match.slots.items()}


def _lose_to_rival(
    match: Match,
    listening: Listening,
    margins: Margins,
    rivals: Sequence[Reading] | None,
    numbers: dict[str, float],
) -> Why | None:
    if rivals is not None:
        listed = [(rival.score, listening.match(rival.tokens)) for rival in rivals]
        same = max((score for score, meant in listed if meant and meant.meaning == match.meaning), default=-np.inf)
        faulty = max((rival.score for rival in rivals if listening.turns(rival.tokens)), default=-np.inf)
        numbers["behind_rival"] = rivals[0].score - same
        numbers["behind_faulty"] = faulty - same
        if numbers["behind_rival"] > margins.rival or numbers["behind_faulty"] > margins.rival_faulty:
            return Why.NEAR
    return None


def with_lone(ruling: Ruling, readings: Sequence[Reading], listening: Listening, margins: Margins) -> Ruling:
    """Rule 9. `readings`, best first, are those of a decoding against `listening.lone` alone. A sure phrase, and what
    was doubted for more than want of a phrase, stays as ruled; so does all where that decoding heard something else as
    well or nearly as well."""
    listed = [(reading, match) for reading in readings if (match := listening.match(reading.tokens))]
    if not listed or len(listed[0][0].tokens) > 1 or not _may_be_lone(ruling, listed[0][1]):
        return ruling
    said, match = listed[0]
    unknown = [reading.score for reading in readings if UNKNOWN in reading.tokens]
    none = [reading.score for reading in readings if not reading.tokens]
    numbers = ruling.numbers | {
        "ahead_of_unknown": min(FAR, said.score - max(unknown, default=-np.inf)),
        "ahead_of_none": min(FAR, said.score - max(none, default=-np.inf)),
    }
    if numbers["ahead_of_unknown"] < margins.lone_unknown or numbers["ahead_of_none"] < margins.lone_none:
        return replace(ruling, numbers=numbers)
    return Ruling(replace(match, is_unsure=True), None, said.text, numbers, said.words, ruling.written)


def with_agreement(
    ruling: Ruling, readings: Sequence[Reading], listening: Listening, margins: Margins, is_clear: bool
) -> Ruling | None:
    """Rule 10, by `ruling.written`; None where the two do not agree, where the first has another meaning nearly as
    well, and where anything but want of a phrase spoke against it. In a loud place (not `is_clear`) it finds no yes:
    a "no" beside it may be lost to both."""
    if ruling.why not in (None, Why.NO_PHRASE):
        return None
    match = listening.match(tuple(plain_words(ruling.written)))
    if match is None or match.care in (Care.NEVER, Care.NUMBER) or (match.care is Care.FINAL and not is_clear):
        return None
    listed = [(each, meant) for each in readings if (meant := listening.match(each.tokens))]
    same = [each for each, meant in listed if (meant.meaning, meant.slots) == (match.meaning, match.slots)]
    if not same or readings[0].score - same[0].score > margins.agreed:
        return None
    ahead = margins.other_firm if match.care.is_firm else margins.other_plain
    if any(each.score > same[0].score - ahead for each, meant in listed if meant.meaning != match.meaning):
        return None
    is_unsure = match.care in (Care.FIRM, Care.WEIGHTY)
    numbers = ruling.numbers | {"behind_best": readings[0].score - same[0].score}
    return Ruling(replace(match, is_unsure=is_unsure), None, match.text, numbers, same[0].words, ruling.written)


def _may_be_lone(ruling: Ruling, found: Match) -> bool:
    if ruling.match is None:
        return ruling.why in (Why.NOISE, Why.NO_PHRASE)
    return ruling.match.is_unsure and ruling.match.meaning == found.meaning


def doubtful(
    match: Match, listening: Listening, readings: Sequence[Reading], rivals: Sequence[Reading] | None
) -> tuple[str, ...]:
    """What else the sound could have been, likeliest first: what the second recogniser is asked about."""
    texts = [each.text for each in (*(rivals or ()), *readings) if each.tokens and UNKNOWN not in each.tokens]
    others = [text for text in dict.fromkeys(texts) if not _means(listening, text, match.meaning)]
    return tuple(others[:WEIGHED])


def _means(listening: Listening, text: str, meaning: str) -> bool:
    found = listening.match(tuple(text.split()))
    return found is not None and found.meaning == meaning
