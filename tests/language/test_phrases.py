"""The phrase notation against the W3C's own examples, and its refusals.

SRGS 1.0 is the Recommendation of 16 March 2004. `abnf-precedence` and `alternative-empty-paren` are grammars of
the W3C's implementation report for it (their in/out metadata is what must be accepted or rejected); rows marked
"from memory" restate an example of the section named, written down without the text at hand.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import PhraseError
from assistant.language.matching import Matcher
from assistant.language.nodes import Choice, Node, Repeat, Rule, Sequence, Token
from assistant.language.phrases import expand, parse, parse_document, spoken_words, words_of

# W3C implementation report for SRGS 1.0, test abnf-precedence, which cites section 2.8.
PRECEDENCE = """#ABNF 1.0 UTF-8;
language en-US; mode voice; root $main;
meta "description" is "ABNF Precedence";
$main = $repeat | $repeat2 | $sequence | $alt | $par | $brackets;
$repeat = a<3> "da da"<1> $da<2> (a do<1>)<2>; $da = da;
$repeat2 = foo <2>bar;
$sequence = repeat this<2>;
$alt = New York | Amsterdam;
$par = New (Mexico | Hampshire);
$brackets = [small | large] pizza;
"""
PRECEDENCE_ROWS = [
    ("a a a da da da da a do a do", True),  # in.1
    ("foo foo bar", True),  # in.2
    ("foo bar bar", False),  # in.3
    ("repeat this this", True),  # in.4
    ("repeat this repeat this", False),  # in.5
    ("New York", True),  # in.6
    ("New Amsterdam", False),  # in.7
    ("New Hampshire", True),  # in.8
    ("small pizza", True),  # in.9
    ("pizza", True),  # the same rule without its option
    ("New", False),
]


@pytest.mark.parametrize(("said", "accepted"), PRECEDENCE_ROWS, ids=[row[0] for row in PRECEDENCE_ROWS])
def test_precedence_grammar_of_the_w3c(said: str, accepted: bool) -> None:
    document = parse_document(PRECEDENCE)
    matcher = Matcher([document.rules[document.root]], document.rules)
    assert (matcher.match(spoken_words(said)) is not None) is accepted


# W3C implementation report for SRGS 1.0, test alternative-empty-paren.
EMPTY_PAREN = """#ABNF 1.0 UTF-8;
language en-US;
mode voice;
root $main;
/** hello world variant. @example hello world @example hello */
public $main = hello $optional_world;
/** equivalent of an optional word */
$optional_world = world | ();
"""


def test_empty_parentheses_grammar_of_the_w3c() -> None:
    document = parse_document(EMPTY_PAREN)
    assert expand(document.rules["main"], document.rules) == [("hello", "world"), ("hello",)]
    assert document.public == {"main"}


# Sections of SRGS 1.0; all from memory.
SECTION_ROWS = [
    ("2.1 tokens, white space in quotes", '"New  York"', ["new york"]),
    ("2.3 sequence", "this is a test", ["this is a test"]),
    ("2.3 nested sequences", "this (is a) test", ["this is a test"]),
    ("2.4 alternatives", "Michael | Yuriko | Mary | Duke", ["michael", "yuriko", "mary", "duke"]),
    ("2.4 empty group means nothing is said", "please ( )", ["please"]),
    ("2.5 option", "[very] big", ["big", "very big"]),
    ("2.5 <0-1> is the option", "very<0-1> big", ["big", "very big"]),
    ("2.5 exact", "very<2> big", ["very very big"]),
    ("2.5 range", "very<1-3> big", ["very big", "very very big", "very very very big"]),
    ("2.5 repeat of a group", "(go | stop)<2>", ["go go", "go stop", "stop go", "stop stop"]),
    ("2.6 tags say nothing", "open {OPEN} | close {!{ out = 'c}'; }!}", ["open", "close"]),
    ("2.8 repeat before sequence", "a b<2>", ["a b b"]),
    ("2.8 sequence before alternatives", "a b | c d", ["a b", "c d"]),
    ("an option after a word is a token of its own", "breath[s]", ["breath", "breath s"]),
    ("comments", "go // away\n /* far */ home", ["go home"]),
]


@pytest.mark.parametrize(("text", "strings"), [row[1:] for row in SECTION_ROWS], ids=[row[0] for row in SECTION_ROWS])
def test_sections(text: str, strings: list[str]) -> None:
    assert [" ".join(words) for words in expand(parse(text), {})] == strings


NODE_ROWS: list[tuple[str, Node]] = [
    ("one two | three", Choice((Sequence((Token("one"), Token("two"))), Token("three")))),
    ("[one]", Repeat(Token("one"), 0, 1)),
    ("$digit<1->", Repeat(Rule("digit"), 1, None)),
    ("(one two)<2-4>", Repeat(Sequence((Token("one"), Token("two"))), 2, 4)),
    ("isn't", Token("isn't")),
]


@pytest.mark.parametrize(("text", "node"), NODE_ROWS, ids=[row[0] for row in NODE_ROWS])
def test_parse(text: str, node: Node) -> None:
    assert parse(text) == node


REFUSALS = [
    ("weight", "/2/ small | large", "line 1, column 1: /2/ is a weight", "Take it out"),
    ("probability", "very<0-1 /0.6/>", "line 1, column 5: <0-1 /0.6/> is a repeat probability", "<0-1>"),
    ("null", "a | $NULL", "line 1, column 5: $NULL", "[ ]"),
    ("void", "$VOID", "line 1, column 1: $VOID", "out"),
    ("garbage", "a $GARBAGE", "line 1, column 3: $GARBAGE", "List the words"),
    ("other file", "$<http://x.test/y#z>", "line 1, column 1: $<http://x.test/y#z> is a rule of another file", "$name"),
    ("language", "oui!fr", "line 1, column 4: !fr is a language attachment", "one language"),
    ("star", "very* big", "line 1, column 5: '*'", "<0->"),
    ("plus", "very+ big", "line 1, column 5: '+'", "<1->"),
    ("comma", "dry, still", "line 1, column 4: ','", "punctuation"),
    ("rule name with a hyphen", "$o-ring", "line 1, column 1: '$'", "letters, digits and _"),
    ("group left open", "the (valve | seal", "line 1, column 18: expected ')' but found the end", "Close the group"),
    ("option left open", "the [valve", "line 1, column 11: expected ']' but found the end", "Close the option"),
    ("group closed twice", "valve )", "line 1, column 7: unexpected ')'", "Take it out"),
    ("quotation mark left open", 'the "o ring', "line 1, column 5: '\"'", "Close the quotation mark"),
    ("empty quotation", '""', "line 1, column 1: nothing between", "Write a word"),
    ("tag left open", "a {b", "line 1, column 3: '{'", "Close the tag"),
    ("empty", "", "line 1, column 1: nothing stands before the end", "Write a word"),
    ("empty alternative", "a | | b", "line 1, column 5: nothing stands before '|'", "[ ]"),
    ("empty option", "[] a", "line 1, column 2: nothing stands before ']'", "[ ]"),
    ("repeat backwards", "a<3-2>", "line 1, column 2: <3-2> never happens", "smaller number first"),
    ("repeat never", "a<0>", "line 1, column 2: <0> never happens", "at least 1"),
    ("repeat of nothing", "<2> a", "line 1, column 1: unexpected '2'", "Put a word"),
    ("second line", "open\n and *", "line 2, column 6: '*'", "<0->"),
]


@pytest.mark.parametrize(("text", "message", "mend"), [r[1:] for r in REFUSALS], ids=[r[0] for r in REFUSALS])
def test_refusals(text: str, message: str, mend: str) -> None:
    with pytest.raises(PhraseError) as caught:
        parse(text, "centre.toml:7")
    assert str(caught.value).startswith(f"centre.toml:7: {message}")
    assert mend in caught.value.mend


DOCUMENT_REFUSALS = [
    ("no header", "$a = b;", "line 1, column 1: no ABNF header"),
    ("keypad grammar", "#ABNF 1.0; mode dtmf;", "line 1, column 17: mode dtmf is not heard"),
    ("unknown declaration", "#ABNF 1.0; lexicon <x>;", "line 1, column 12: 'lexicon' is no declaration"),
    ("no semicolon", "#ABNF 1.0; $a = b", "line 1, column 18: expected ';' but found the end"),
    ("twice", "#ABNF 1.0; $a = b; $a = c;", "line 1, column 20: $a is defined twice"),
    ("unknown rule", "#ABNF 1.0; $a = $b;", "no rule $b"),
    ("circle", "#ABNF 1.0; $a = x $b; $b = [$a] y;", "a rule uses itself: $a -> $b -> $a"),
    ("left recursion", "#ABNF 1.0; $a = $a x | y;", "a rule uses itself: $a -> $a"),
    ("root without rule", "#ABNF 1.0; root $z; $a = b;", "the root rule $z is not defined"),
]


@pytest.mark.parametrize(("text", "message"), [r[1:] for r in DOCUMENT_REFUSALS], ids=[r[0] for r in DOCUMENT_REFUSALS])
def test_document_refusals(text: str, message: str) -> None:
    with pytest.raises(PhraseError) as caught:
        parse_document(text)
    assert str(caught.value).startswith(message)
    assert caught.value.mend


@pytest.mark.parametrize(
    ("text", "limit", "message"),
    [
        ("(a | b)<3>", 7, "more than 7 word strings"),
        ("a<1->", 100, "has no end"),
        ("(a|b|c|d|e|f|g|h|i|j)<9>", 10_000, "more than 10000 word strings"),
    ],
    ids=["one too many", "without end", "a thousand million"],
)
def test_expand_is_bounded(text: str, limit: int, message: str) -> None:
    with pytest.raises(PhraseError, match=message):
        expand(parse(text), {}, limit)


def test_expand_gives_exactly_the_limit() -> None:
    assert len(expand(parse("(a | b)<3>"), {}, 8)) == 8


def test_words_of_looks_into_rules() -> None:
    assert words_of(parse("a [$r] (b | c)<2->"), {"r": parse("d e")}) == {"a", "b", "c", "d", "e"}


@given(st.text(alphabet="ab |()[]<>12-$\"{}/!*;=", max_size=20))
def test_any_text_is_read_or_refused_with_its_place(text: str) -> None:
    refused: PhraseError | None = None
    try:
        parse(text)
    except PhraseError as problem:
        refused = problem
    assert refused is None or (str(refused).startswith("line ") and refused.mend)
