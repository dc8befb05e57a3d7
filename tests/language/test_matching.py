"""The matcher against writing everything out: same strings, same beginnings, same word pairs."""

from __future__ import annotations

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import PhraseError
from assistant.language.matching import Matcher
from assistant.language.nodes import Choice, Node, Repeat, Rule, Sequence, Token, Words
from assistant.language.phrases import expand, parse

RULES = {"hose": parse("[the] hose | line"), "digit": parse("one | two | three"), "pair": parse("$digit [and] $digit")}


@pytest.mark.parametrize(
    ("phrase", "said", "matches", "goes_on"),
    [
        ("cut in $hose", "cut in the hose", True, False),
        ("cut in $hose", "cut in", False, True),
        ("cut in $hose", "cut in the", False, True),
        ("cut in $hose", "cut in the line", False, False),
        ("cut in $hose", "cut in the hose now", False, False),
        ("$digit<1->", "one two three one", True, True),
        ("$digit<2-3>", "one", False, True),
        ("$digit<2-3>", "one two", True, True),
        ("$digit<2-3>", "one two three", True, False),
        ("keeps going [on]", "keeps going", True, True),
        ("keeps going [on]", "", False, True),
        ("(a<0->)<1-> b", "a a a b", True, False),
        ("(a b)<0-> a c", "a b a b a c", True, False),
        ("(a b)<0-> a c", "a b a b a", False, True),
    ],
)
def test_match_and_goes_on(phrase: str, said: str, matches: bool, goes_on: bool) -> None:
    matcher, words = Matcher([parse(phrase)], RULES), tuple(said.split())
    assert (matcher.match(words) is not None, bool(matcher.ahead(words))) == (matches, goes_on)


@pytest.mark.parametrize(
    ("phrase", "said", "slots"),
    [
        ("cut in $hose", "cut in the hose", {"hose": "the hose"}),
        ("$digit bar", "two bar", {"digit": "two"}),
        ("$digit $digit", "two one", {"digit": "two one"}),
        ("number $pair", "number one and three", {"pair": "one and three", "digit": "one three"}),
        ("[$digit] [$hose]", "line", {"hose": "line"}),
        ("$digit<1-> $digit", "one two three", {"digit": "one two three"}),
        ("no rule", "no rule", {}),
    ],
)
def test_slots(phrase: str, said: str, slots: dict[str, str]) -> None:
    assert Matcher([parse(phrase)], RULES).slots(0, tuple(said.split())) == slots


def test_first_phrase_wins_and_clash_is_found() -> None:
    matcher = Matcher([parse("it [still] leaks"), parse("valve leaks"), parse("(it | valve) leaks")], {})
    assert matcher.match(("it", "leaks")) == 0
    assert matcher.match(("valve", "leaks")) == 1
    assert sorted(matcher.clashes()) == [(("it", "leaks"), (0, 2)), (("valve", "leaks"), (1, 2))]


def test_clash_inside_endless_phrases_is_found() -> None:
    matcher = Matcher([parse("(a a)<1->"), parse("(a a a)<1->")], {})
    assert list(matcher.clashes()) == [(("a",) * 6, (0, 1))]


@pytest.mark.parametrize(("phrase", "silent"), [("[a] [b]", True), ("[a] b", False), ("( )", True), ("a<0->", True)])
def test_may_be_silence(phrase: str, silent: bool) -> None:
    matcher = Matcher([parse(phrase)], {})
    assert bool(matcher.may_be_silence) is silent
    assert matcher.match(()) is None


@pytest.mark.parametrize(
    ("rules", "message"),
    [({"a": "$a x | y"}, "uses itself"), ({"a": "x $b", "b": "[$a]"}, "uses itself"), ({"a": "$c"}, r"no rule \$c")],
    ids=["left recursion", "by way of another", "unknown"],
)
def test_rules_refused(rules: dict[str, str], message: str) -> None:
    with pytest.raises(PhraseError, match=message):
        Matcher([parse("go")], {name: parse(text) for name, text in rules.items()})


def test_too_large_is_refused() -> None:
    with pytest.raises(PhraseError, match="too large"):
        Matcher([parse("((a<999>)<999>)<999>")], {})


LEAVES: st.SearchStrategy[Node] = st.sampled_from([Token("a"), Token("b"), Token("c"), Rule("r"), Sequence(())])
NODES: st.SearchStrategy[Node] = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, min_size=1, max_size=3).map(lambda parts: Sequence(tuple(parts))),
        st.lists(inner, min_size=1, max_size=3).map(lambda parts: Choice(tuple(parts))),
        st.tuples(inner, st.integers(0, 2), st.integers(0, 1)).map(lambda r: Repeat(r[0], r[1], max(1, r[1] + r[2]))),
    ),
    max_leaves=6,
)
RULE = {"r": parse("a [b] | c c")}
PROBES: list[Words] = [(), *((a,) for a in "abc"), *((a, b) for a in "abc" for b in "abc")]


@settings(max_examples=100, deadline=None)
@given(NODES)
def test_agrees_with_writing_everything_out(node: Node) -> None:
    try:
        strings = set(expand(node, RULE, 100)) - {()}
    except PhraseError:
        return
    matcher = Matcher([node], RULE)
    for words in {*strings, *(s[:-1] for s in strings), *((*s, "a") for s in strings), *PROBES}:
        assert (matcher.match(words) is not None) is (words in strings)
        assert bool(matcher.ahead(words)) is any(len(s) > len(words) and s[: len(words)] == words for s in strings)
        assert matcher.follows(words) == {s[len(words)] for s in strings if s[: len(words)] == words and s != words}


def pairs(strings: set[Words] | list[Words]) -> set[tuple[str, str]]:
    return {pair for s in strings if s for pair in zip(("<", *s), (*s, ">"), strict=True)}


@settings(max_examples=100, deadline=None)
@given(NODES)
def test_cover_holds_every_word_pair_and_only_whole_phrases(node: Node) -> None:
    try:
        strings = set(expand(node, RULE, 100))
    except PhraseError:
        return
    matcher = Matcher([node], RULE)
    cover = matcher.cover(60)
    assert set(cover) <= strings
    assert pairs(cover) == pairs(strings)
    assert cover == Matcher([node], RULE).cover(60)
    assert cover == matcher.cover(60)  # its arcs are gone by now
    assert all(matcher.match(words) == 0 for words in cover)


def test_a_place_is_kept_once_however_many_ways_lead_there() -> None:
    """Kept for each way, those of the breaths' listening took 25 MB."""
    matcher = Matcher([parse("(a | b | c) (a | b | c) ([x] y | z)<0-3> (a | b | c)")], RULES)
    matcher.cover()
    places = [place for stand in matcher._stands.values() for place in stand.nexts.values()]
    assert len({id(place) for place in places}) == len(set(places)) < len(places) / 2


def test_a_million_orders_cost_no_more() -> None:
    """2 ** 40 strings; 50 microseconds of a budget of 200 for a step's two questions, on any machine we know."""
    matcher = Matcher([parse(" ".join(f"[w{n}]" for n in range(40)) + " end")], {})
    words = (*(f"w{n}" for n in range(40)), "end")
    assert matcher.match(words) == 0
    start = time.perf_counter()
    for _ in range(100):
        matcher.match(words)
    assert (time.perf_counter() - start) / 100 < 200e-6


def test_no_phrase_at_all_matches_nothing() -> None:
    nothing = Matcher([], {})
    assert (nothing.match(("hose",)), nothing.ahead(()), nothing.follows(()), nothing.cover()) == (
        None, frozenset(), frozenset(), [],
    )  # fmt: skip
