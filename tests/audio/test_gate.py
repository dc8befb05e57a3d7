"""The gate, rule by rule: readings in, one decision or one doubt out. Margins are given, not the shipped ones."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assistant.events import Care, Match, Why, Word
from audio.gate import Margins, Ruling, doubtful, rule, with_agreement, with_lone
from audio.opinion import Weighed
from audio.recognise import UNKNOWN, Reading

MARGINS = Margins(plain=4.0, firm=3.0, other_plain=0.5, other_firm=2.0, rival=1.0, rival_faulty=0.0)
LISTED = {
    "stays firm": ("pass", Care.FIRM),
    "stays very firm": ("pass", Care.FIRM),
    "goes soft": ("fault:soft", Care.PLAIN),
    "goes on": ("fault:on", Care.PLAIN),
    "hose split": ("fault:split", Care.WEIGHTY),
    "yes confirmed": ("yes", Care.FINAL),
    "stays not firm": ("doubt:negated", Care.NEVER),
}


class Phrases:
    """A listening of seven phrases."""

    phrases = tuple(LISTED)
    rivals = ("stays firm", "stays form")
    lone: tuple[str, ...] = ()

    def match(self, words: tuple[str, ...]) -> Match | None:
        found = LISTED.get(" ".join(words))
        return Match(words, *found) if found else None

    def goes_on(self, words: tuple[str, ...]) -> bool:
        return False

    def nears_firm(self, words: tuple[str, ...]) -> bool:
        return False

    def turns(self, words: tuple[str, ...]) -> bool:
        return not {"not", "torn"}.isdisjoint(words)

    def is_talk(self, words: tuple[str, ...]) -> bool:
        return "coffee" in words

    def is_about(self, words: tuple[str, ...]) -> bool:
        return True


def readings(*rows: tuple[str, float]) -> list[Reading]:
    return [Reading(tuple(Word(word, 0.0, 0.0, 1.0) for word in text.split()), score) for text, score in rows]


ROWS = {
    "a pass alone": ([("stays firm", 9)], [("stays firm", 9)], "pass"),
    "a pass without rivals": ([("stays firm", 9)], None, "pass"),
    "a fault alone": ([("goes soft", 9)], None, "fault:soft"),
    "no words": ([("", 9), ("stays firm", 8.9)], None, Why.NOISE),
    "no listed phrase": ([("stays", 9), ("firm", 8)], None, Why.NO_PHRASE),
    "half a phrase more is no phrase": ([("stays firm firm", 9)], None, Why.NO_PHRASE),
    "a fault a little behind": ([("goes", 9), ("goes soft", 5.1)], None, "fault:soft"),
    "a fault too far behind": ([("goes", 9), ("goes soft", 4.9)], None, Why.NO_PHRASE),
    "a pass too far behind": ([("stays", 9), ("stays firm", 5.9)], None, Why.NO_PHRASE),
    "behind a word of no kind": ([(f"{UNKNOWN} goes soft", 9), ("goes soft", 8.9)], None, Why.NO_PHRASE),
    "behind talk": ([("coffee stays firm", 9), ("stays firm", 8.9)], None, Why.NO_PHRASE),
    "ahead of talk": ([("stays firm", 9), ("coffee stays firm", 8.9)], None, "pass"),
    "a negation": ([("stays not firm", 9)], None, Why.KNOWN_WRONG),
    "a negation nearly as good": ([("stays firm", 9), ("stays not firm", 7.1)], None, Why.NEAR),
    "a negation far behind": ([("stays firm", 9), ("stays not firm", 6.9)], None, "pass"),
    "the same meaning near": ([("stays firm", 9), ("stays very firm", 8.9)], None, "pass"),
    "two faults near": ([("goes soft", 9), ("goes on", 8.6)], None, Why.NEAR),
    "two faults apart": ([("goes soft", 9), ("goes on", 8.4)], None, "fault:soft"),
    "a pass behind a not": ([("not firm", 9), ("stays firm", 8)], None, Why.KNOWN_WRONG),
    "a fault behind a not": ([("not soft", 9), ("goes soft", 8)], None, "fault:soft"),
    "a soundalike that is nonsense, ahead": ([("stays firm", 9)], [("stays form", 9), ("stays firm", 7.9)], Why.NEAR),
    "nonsense hardly ahead": ([("stays firm", 9)], [("stays form", 9), ("stays firm", 8.1)], "pass"),
    "bad kit hardly ahead": ([("stays firm", 9)], [("stays torn", 9), ("stays firm", 8.9)], Why.NEAR),
    "bad kit behind nonsense": ([("stays firm", 9)], [("is form", 9), ("is torn", 8.8), ("stays firm", 8.7)], Why.NEAR),
    "bad kit behind": ([("stays firm", 9)], [("stays firm", 9), ("stays torn", 8.9)], "pass"),
    "no pass among the rivals": ([("stays firm", 9)], [("stays form", 9)], Why.NEAR),
    "a fault asks no rivals": ([("goes soft", 9)], [("stays form", 9)], "fault:soft"),
}


@pytest.mark.parametrize(("heard", "rivals", "expected"), ROWS.values(), ids=ROWS.keys())
def test_rule(heard: list[tuple[str, float]], rivals: list[tuple[str, float]] | None, expected: str) -> None:
    ruling = rule(readings(*heard), Phrases(), MARGINS, None if rivals is None else readings(*rivals))
    assert (ruling.match.meaning if ruling.match else ruling.why) == expected
    assert (ruling.match is None) == (ruling.why is not None)


def test_only_a_pass_is_held_to_the_firm_margins() -> None:
    """What ships must doubt a pass at least as readily as a fault."""
    shipped = Margins()
    assert shipped.firm <= shipped.plain
    assert shipped.other_firm >= shipped.other_plain
    assert shipped.rival_faulty < 0.0
    assert shipped.rival <= shipped.plain
    assert shipped.other_opinion <= 2.0


OPINIONS = {
    "it writes the same": (Weighed("stays firm", 0.0, 0.0), "pass"),
    "a soundalike a little behind": (Weighed("stays form", 1.0, 1.9), "pass"),
    "a soundalike ahead": (Weighed("stays form", 1.0, 2.1), Why.NEAR),
    "its own words a little likelier": (Weighed("day is firm", 15.9, -9.0), "pass"),
    "it writes the phrase and more": (Weighed("stays firm I think", -1.0, 0.0, True), Why.MORE),
    "its own words far likelier": (Weighed("what a fine day", 16.1, -9.0), Why.NEAR),
}


@pytest.mark.parametrize(("weighed", "expected"), OPINIONS.values(), ids=OPINIONS.keys())
def test_a_second_recogniser_can_only_doubt(weighed: Weighed, expected: str | Why) -> None:
    margins = Margins(other_opinion=2.0, written=16.0)
    for said in ("stays firm", "goes soft", "stays not firm"):
        alone = rule(readings((said, 9)), Phrases(), margins)
        ruling = rule(readings((said, 9)), Phrases(), margins, None, weighed)
        found = ruling.match.meaning if ruling.match else ruling.why
        assert found == expected if said == "stays firm" else replace(ruling, written="") == alone


def test_what_it_is_asked_about_is_all_that_means_something_else() -> None:
    match = Phrases().match(("stays", "firm"))
    assert match is not None
    rivals = readings(("stays form", 9), ("stays very firm", 8), (f"{UNKNOWN} firm", 7))
    heard = readings(("stays firm", 9), ("stays not firm", 8), ("", 7))
    assert doubtful(match, Phrases(), heard, rivals) == ("stays form", "stays not firm")
    assert doubtful(match, Phrases(), readings(*((f"stays {at}", 9) for at in range(20))), None) == tuple(
        f"stays {at}" for at in range(6)
    )


class Pressures(Phrases):
    """A listening of one number: whatever words stand before "bar"."""

    def match(self, words: tuple[str, ...]) -> Match | None:
        if words[-1:] != ("bar",) or len(words) < 2:
            return None
        return Match(words, "reading", Care.NUMBER, {"number": " ".join(words[:-1])})


WEIGHTY = {
    "alone": ([("hose split", 9)], "sure"),
    "a little behind": ([("hose", 9), ("hose split", 8.1)], "sure"),
    "further behind": ([("hose", 9), ("hose split", 7.9)], "unsure"),
    "further than talk may be, but no talk": ([("hose", 9), ("hose split", 5.1)], "unsure"),
    "too far behind": ([("hose", 9), ("hose split", 4.9)], "no phrase"),
    "behind talk": ([("coffee hose split", 9), ("hose split", 8.9)], "unsure"),
    "behind a word of no kind": ([(f"{UNKNOWN} hose split", 9), ("hose split", 6.1)], "unsure"),
    "too far behind talk": ([("coffee hose split", 9), ("hose split", 5.9)], "no phrase"),
    "ahead of talk": ([("hose split", 9), ("coffee hose split", 8.9)], "sure"),
}


@pytest.mark.parametrize("row", WEIGHTY)
def test_a_fault_that_is_not_the_best_reading_is_read_back(row: str) -> None:
    heard, expected = WEIGHTY[row]
    match = rule(readings(*heard), Phrases(), MARGINS).match
    found = "no phrase" if match is None else "unsure" if match.is_unsure else "sure"
    assert (found, match is not None and match.is_taken) == (expected, expected == "sure")


CROWD = ("yes confirmed everybody", 9)
AGREED = {
    "a yes that a crowd talks on after": ("Yes, confirmed.", [CROWD, ("yes confirmed", 4)], True, ("yes", False)),
    "in a loud place": ("Yes, confirmed.", [CROWD, ("yes confirmed", 4)], False, None),
    "too far behind": ("Yes, confirmed.", [CROWD, ("yes confirmed", 2.9)], True, None),
    "not among the readings": ("Yes, confirmed.", [CROWD], True, None),
    "with another word": ("Yes, confirmed it.", [CROWD, ("yes confirmed", 4)], True, None),
    "behind another meaning": ("Yes, confirmed.", [("goes on", 6), ("yes confirmed", 4)], True, None),
    "hardly ahead of another meaning": ("Yes, confirmed.", [CROWD, ("yes confirmed", 4), ("goes on", 2.1)], True, None),
    "clearly ahead of it": ("Yes, confirmed.", [CROWD, ("yes confirmed", 4), ("goes on", 1.9)], True, ("yes", False)),
    "another meaning alone among the readings": ("Yes, confirmed.", [("hose split", 9)], True, None),
    "a pass is read back": ("Stays firm.", [("the stays firm", 9), ("stays firm", 8)], True, ("pass", True)),
    "a fault too": ("Hose split.", [("the hose split", 9), ("hose split", 8)], False, ("fault:split", True)),
    "a command is taken": ("Goes on", [("coffee goes on", 9), ("goes on", 8)], False, ("fault:on", False)),
    "what is known to be wrong is not": ("Stays not firm", [("stays not firm", 9)], True, None),
}


@pytest.mark.parametrize("row", AGREED)
def test_what_both_recognisers_hear_is_found(row: str) -> None:
    """And where it was doubted for more than want of a phrase, it stays doubted."""
    written, heard, is_clear, expected = AGREED[row]
    before = Ruling(None, Why.NO_PHRASE, "", {}, written=written)
    found = with_agreement(before, readings(*heard), Phrases(), MARGINS, is_clear)
    assert (found and found.match and (found.match.meaning, found.match.is_unsure)) == expected
    for why in (Why.NEAR, Why.KNOWN_WRONG, Why.MORE):
        assert with_agreement(replace(before, why=why), readings(*heard), Phrases(), MARGINS, is_clear) is None


NUMBERS = {
    "one number": ([("two hundred bar", 9)], False),
    "another far behind": ([("two hundred bar", 9), ("one hundred bar", 7.4)], False),
    "another close by": ([("two hundred bar", 9), ("one hundred bar", 7.6)], True),
    "the same with an and": ([("two hundred ten bar", 9), ("two hundred and ten bar", 8.9)], False),
}


@pytest.mark.parametrize(("heard", "expected"), NUMBERS.values(), ids=NUMBERS.keys())
def test_another_number_that_reads_nearly_as_well_makes_it_unsure(
    heard: list[tuple[str, float]], expected: bool
) -> None:
    match = rule(readings(*heard), Pressures(), Margins(other_number=1.5)).match
    assert match is not None
    assert (match.text, match.is_unsure) == (heard[0][0], expected)


class Figures(Phrases):
    """A listening in which "four", "six" and two figures are numbers."""

    lone = ("four", "six")

    def match(self, words: tuple[str, ...]) -> Match | None:
        is_number = set(words) <= {"four", "six", "eleven"} and 0 < len(words) < 3
        return Match(words, "number", Care.NUMBER, {"number": " ".join(words)}) if is_number else super().match(words)


def ruled(text: str, *, unsure: bool = False) -> Ruling:
    match = Figures().match(tuple(text.split()))
    assert match is not None
    return Ruling(replace(match, is_unsure=unsure), None, text, {})


NOTHING, SOUND = Ruling(None, Why.NO_PHRASE, "could", {}), Ruling(None, Why.NOISE, "", {})
LONE = {
    "found where there was no phrase": (NOTHING, [("four", 9)], "four"),
    "and no words": (SOUND, [("four", 9)], "four"),
    "clear of what is of no kind": (NOTHING, [("four", 9), ("four [unk]", 6.9)], "four"),
    "not clear of it": (NOTHING, [("four", 9), ("four [unk]", 7.1)], Why.NO_PHRASE),
    "behind it": (SOUND, [(UNKNOWN, 9), ("four", 8)], Why.NOISE),
    "as good as no words": (SOUND, [("six", 9), ("", 9)], "six"),
    "worse than no words": (SOUND, [("", 9), ("six", 8.9)], Why.NOISE),
    "two figures": (NOTHING, [("four six", 9), ("four", 8.9)], Why.NO_PHRASE),
    "behind what is no phrase": (NOTHING, [("six six six", 9), ("six", 8.9)], "six"),
    "nothing at all": (NOTHING, [("", 9)], Why.NO_PHRASE),
    "another in place of an unsure one": (ruled("eleven", unsure=True), [("six", 9)], "six"),
    "nothing in place of an unsure one": (ruled("eleven", unsure=True), [(UNKNOWN, 9), ("six", 8)], "eleven"),
    "a sure one is let be": (ruled("eleven"), [("six", 9)], "eleven"),
    "a fault is let be": (ruled("goes soft"), [("six", 9)], "goes soft"),
    "an unsure answer of another kind too": (ruled("stays firm", unsure=True), [("six", 9)], "stays firm"),
    "two meanings that are near": (Ruling(None, Why.NEAR, "goes on", {}), [("six", 9)], Why.NEAR),
    "a known wrong answer": (Ruling(None, Why.KNOWN_WRONG, "stays not firm", {}), [("six", 9)], Why.KNOWN_WRONG),
}


@pytest.mark.parametrize(("before", "heard", "expected"), LONE.values(), ids=LONE.keys())
def test_a_lone_word_is_found_and_only_ever_read_back(
    before: Ruling, heard: list[tuple[str, float]], expected: str | Why
) -> None:
    after = with_lone(before, readings(*heard), Figures(), Margins(lone_unknown=2.0, lone_none=0.0))
    assert (after.match.text if after.match else after.why) == expected
    assert (after.match is None) == (after.why is not None)
    assert after.match == before.match or (after.match is not None and after.match.is_unsure)
