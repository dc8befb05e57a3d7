"""Numbers: tables of spoken forms, and a round trip over every value of every kind in every way it is said.

The ways are written here a second time, from the value outwards, so that grammar and code are held against
something that is neither. Forms are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from assistant.errors import BadInput
from assistant.language.matching import Matcher
from assistant.language.nodes import Rule
from assistant.language.numbers import read, read_back
from assistant.language.rules import number_nodes, numbers_file

ONES = [
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
]  # fmt: skip
TENS = ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
MONTHS = [
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
]  # fmt: skip

# kind, words, value, what a mishearing could mean
SPOKEN = [
    ("pressure", "two hundred", 200, ()),
    ("pressure", "one ninety", 190, (119,)),
    ("pressure", "one nine five", 195, ()),
    ("pressure", "one ninety five", 195, ()),
    ("pressure", "one hundred and ninety five", 195, ()),
    ("pressure", "one hundred ninety five", 195, ()),
    ("pressure", "a hundred", 100, ()),
    ("pressure", "two ten", 210, ()),
    ("pressure", "two oh five", 205, ()),
    ("pressure", "two zero five", 205, ()),
    ("pressure", "one fifty", 150, (115,)),
    ("pressure", "fifty", 50, (15,)),
    ("pressure", "fifteen", 15, (50,)),
    ("pressure", "three thirteen", 313, (330,)),
    ("pressure", "zero", 0, ()),
    ("pressure", "five", 5, ()),
    ("pressure_psi", "twenty nine hundred", 2900, ()),
    ("pressure_psi", "twenty nine fifty", 2950, (2915,)),
    ("pressure_psi", "two nine five zero", 2950, ()),
    ("pressure_psi", "three thousand", 3000, ()),
    ("pressure_psi", "two thousand nine hundred and fifty", 2950, (2915,)),
    ("pressure_psi", "twenty oh five", 2005, ()),
    ("pressure_psi", "five hundred", 500, ()),
    ("number", "one four", 14, ()),
    ("number", "fourteen", 14, (40,)),
    ("number", "oh seven", 7, ()),
    ("number", "zero zero seven", 7, ()),
    ("number", "seven", 7, ()),
    ("number", "a hundred", 100, (800,)),
    ("number", "heaven", 7, ()),
    ("number", "sick", 6, ()),
    ("number", "eight hundred and three", 803, (103,)),
    ("percent", "thirty one point eight", 31.8, ()),
    ("percent", "three two", 32, ()),
    ("percent", "twenty point nine", 20.9, ()),
    ("percent", "one hundred", 100, ()),
    ("percent", "thirty point five", 30.5, (13.5,)),
    ("oxygen", "thirty one point eight", 31.8, ()),
    ("oxygen", "three one point eight", 31.8, ()),
    ("oxygen", "two point one", 2.1, ()),
    ("oxygen", "two hundred and ten", 210, ()),
    ("oxygen", "minus thirty two", -32, ()),
    ("air", "air", 20.9, ()),
    ("pressure_odd", "three thousand", 3000, ()),
    ("pressure_odd", "twenty nine hundred", 2900, ()),
    ("pressure_odd", "minus two hundred", -200, ()),
    ("depth_m", "eighteen", 18, (80,)),
    ("depth_m", "twelve point five", 12.5, ()),
    ("depth_ft", "one hundred and thirty", 130, (113,)),
    ("minutes", "forty five", 45, ()),
    ("temperature_degc", "minus two", -2, ()),
    ("temperature_degc", "minus zero point five", -0.5, ()),
    ("temperature_degc", "two eight", 28, ()),
    ("month_year", "june twenty twenty four", 202406, ()),
    ("month_year", "six twenty four", 202406, ()),
    ("month_year", "oh six two four", 202406, ()),
    ("month_year", "one two twenty four", 202412, ()),
    ("month_year", "twelve nineteen ninety eight", 199812, ()),
    ("month_year", "may two thousand and four", 200405, ()),
    ("month_year", "may two thousand", 200005, ()),
    ("month_year", "ten twenty twenty", 202010, ()),
    ("month_year", "one one nine nine eight", 199801, ()),
    ("month_year", "six ninety eight", 199806, ()),
    ("month_year", "june nineteen", 201906, (199006,)),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "words", "value", "others"), SPOKEN, ids=[f"{r[0]}: {r[1]}" for r in SPOKEN])
def test_spoken_forms(kind: str, words: str, value: float, others: tuple[float, ...]) -> None:
    spoken = read(words, kind)
    assert (spoken.value, spoken.ambiguous) == (value, others)
    assert spoken.unit == numbers_file().kind[kind].unit


REFUSED = [
    ("pressure", "three ninety", "I understood 390 bar, and expected 0 to 330"),
    ("pressure", "twenty nine hundred", "I understood 2900 bar, and expected 0 to 330"),
    ("pressure", "minus one eight zero", "I understood -180 bar, and expected 0 to 330"),
    ("pressure", "twenty nine five", '"twenty nine five" is no pressure'),
    ("pressure", "two hundred bar", '"two hundred bar" is no pressure'),
    ("pressure", "", '"" is no pressure'),
    ("pressure", "one nine", '"one nine" is no pressure'),  # perhaps cut short
    ("pressure_psi", "two nine five", '"two nine five" is no pressure'),  # the same
    ("pressure_psi", "twenty nine five", '"twenty nine five" is no pressure'),
    ("pressure_psi", "nine thousand", "I understood 9000 psi, and expected 0 to 5000"),
    ("percent", "two hundred", '"two hundred" is no percent'),
    ("percent", "one hundred point five", "I understood 100.5 percent, and expected 0 to 100"),
    ("percent", "twenty one point", '"twenty one point" is no percent'),
    ("temperature_degc", "minus forty", "I understood -40 degc, and expected -20 to 70"),
    ("month_year", "thirteen twenty four", '"thirteen twenty four" is no month and year'),
    ("month_year", "june four", '"june four" is no month and year'),
    ("month_year", "june nineteen twenty", "I understood 192006 month, and expected 195001 to 204912"),
    ("month_year", "june", '"june" is no month and year'),
    ("weight", "two", 'no kind of number "weight"'),
]


@pytest.mark.parametrize(("kind", "words", "message"), REFUSED, ids=[f"{row[0]}: {row[1]}" for row in REFUSED])
def test_refused(kind: str, words: str, message: str) -> None:
    with pytest.raises(BadInput) as caught:
        read(words, kind)
    assert str(caught.value) == message
    assert caught.value.mend


def test_bounds_of_a_step_decide_what_is_plausible_and_what_is_ambiguous() -> None:
    assert read("one ninety", "pressure", 150, 330).ambiguous == ()
    with pytest.raises(BadInput, match="I understood 190 bar, and expected 200 to 330"):
        read("one ninety", "pressure", 200, 330)


READ_BACK = [
    (195, "bar", 0, "one nine five bar"),
    (0, "bar", 0, "zero bar"),
    (1, "min", None, "one minute"),
    (11, "min", None, "one one minutes"),
    (2900, "psi", 0, "two nine zero zero p s i"),
    (31.8, "percent", 1, "three one point eight percent"),
    (31.8, "percent", None, "three one point eight percent"),
    (32.0, "percent", None, "three two percent"),
    (-0.04, "degc", None, "zero degrees"),
    (-2, "degc", 0, "minus two degrees"),
    (-0.04, "degc", 1, "zero point zero degrees"),
    (18, "m", 0, "one eight metres"),
    (14, "number", 0, "one four"),
    (202406, "month", 0, "june two zero two four"),
]


@pytest.mark.parametrize(("value", "unit", "decimals", "said"), READ_BACK, ids=[row[3] for row in READ_BACK])
def test_read_back(value: float, unit: str, decimals: int | None, said: str) -> None:
    assert read_back(value, unit, decimals) == said


@pytest.mark.parametrize(("value", "unit"), [(1, "stone"), (202413, "month"), (202400, "month")])
def test_read_back_refuses(value: float, unit: str) -> None:
    with pytest.raises(BadInput):
        read_back(value, unit)


def below_hundred(n: int) -> str:
    return ONES[n] if n < 20 else TENS[n // 10] + (f" {ONES[n % 10]}" if n % 10 else "")


def figures(n: int, width: int = 1, nought: str = "zero") -> str:
    return " ".join(ONES[int(letter)] for letter in f"{n:0{width}d}").replace("zero", nought)


def ways_below_1000(n: int) -> Iterator[str]:
    if n < 100:
        yield below_hundred(n)
        return
    hundreds, rest = divmod(n, 100)
    yield figures(n)
    yield figures(n, 3, "oh")
    heads = [f"{ONES[hundreds]} hundred"] + (["a hundred"] if hundreds == 1 else [])
    for head in heads:
        yield from (f"{head} {below_hundred(rest)}", f"{head} and {below_hundred(rest)}") if rest else (head,)
    if rest >= 10:
        yield f"{ONES[hundreds]} {below_hundred(rest)}"


def ways_below_10000(n: int) -> Iterator[str]:
    if n < 1000:
        yield from (way for way in ways_below_1000(n) if n < 100 or way not in (figures(n), figures(n, 3, "oh")))
        return
    yield figures(n)
    thousands, rest = divmod(n, 1000)
    if rest == 0:
        yield f"{ONES[thousands]} thousand"
    elif rest < 100:
        yield f"{ONES[thousands]} thousand and {below_hundred(rest)}"
    else:
        yield from (f"{ONES[thousands]} thousand {way}" for way in ways_below_1000(rest) if "hundred" in way)
    pair, rest = divmod(n, 100)
    if rest == 0:
        yield f"{below_hundred(pair)} hundred"
    else:
        yield f"{below_hundred(pair)} hundred and {below_hundred(rest)}"
        yield f"{below_hundred(pair)} {below_hundred(rest)}" if rest >= 10 else f"{below_hundred(pair)} oh {ONES[rest]}"


def tenths(whole: Iterator[str], tenth: int) -> Iterator[str]:
    for way in whole:
        yield f"{way} point {ONES[tenth]}"
        if tenth == 0:
            yield way


def ways_of_year(year: int) -> Iterator[str]:
    century, rest = divmod(year, 100)
    head = {19: "nineteen", 20: "twenty"}[century]
    if rest:
        yield f"{head} {below_hundred(rest)}" if rest >= 10 else f"{head} oh {ONES[rest]}"
    yield figures(year)
    yield figures(year, 4, "oh")
    if century == 20:
        yield f"two thousand and {below_hundred(rest)}" if rest else "two thousand"
    if (century, rest >= 50) in ((19, True), (20, False)):
        yield figures(rest, 2)
        yield figures(rest, 2, "oh")
        if rest >= 10:
            yield below_hundred(rest)


def ways_of_month(month: int) -> Iterator[str]:
    yield MONTHS[month - 1]
    yield ONES[month]
    yield figures(month, 2)
    yield figures(month, 2, "oh")


def every_way(kind: str) -> Iterator[tuple[float, str]]:
    if kind == "month_year":
        for year in range(1950, 2050):
            for month in range(1, 13):
                for say in ways_of_year(year):
                    yield from ((year * 100 + month, f"{way} {say}") for way in ways_of_month(month))
        return
    if kind == "air":
        yield 20.9, "air"
        return
    if kind == "pressure_odd":
        yield from ((-n, f"minus {way}") for n in range(1000) for way in ways_below_1000(n) if n)
        yield from ((n, way) for n in range(1000, 10000) for way in ways_below_10000(n) if "nd" in way)  # no figures
        return
    bounds = numbers_file().kind[kind]
    low, high = int(bounds.low), int(bounds.high)
    for n in range(max(low, 0), high + 1):
        if kind in ("percent", "oxygen", "depth_m", "temperature_degc"):
            for tenth in range(10 if n < high else 1):
                for way in tenths(short_ways(n, kind), tenth):
                    yield n + tenth / 10, way
                    if kind == "temperature_degc" and n + tenth / 10 <= -low:
                        yield -(n + tenth / 10), f"minus {way}"
        elif kind == "number":
            yield from ((n, way) for way in (*ways_below_1000(n), figures(n, 3), figures(n, 2)))
        else:
            yield from ((n, way) for way in ways_below_10000(n))


def short_ways(n: int, kind: str) -> Iterator[str]:
    if n >= 100 or kind == "depth_m":
        yield from (way for way in ways_below_1000(n) if kind == "depth_m" or "hundred" in way)
        return
    yield below_hundred(n)
    if n >= 10:
        yield figures(n)


@pytest.mark.parametrize("kind", list(numbers_file().kind))
def test_round_trip_over_every_value_in_every_way(kind: str) -> None:
    wrong = [(words, value) for value, words in every_way(kind) if read(words, kind).value != pytest.approx(value)]
    assert wrong == []


# Values read back figure by figure that are not taken in that form, because they may be a longer number cut short.
NOT_BY_FIGURES = {"pressure": range(10, 100), "pressure_psi": range(10, 1000), "percent": range(100, 101)}


def unit_after(value: int, unit: str) -> str:
    file = numbers_file()
    return file.unit_one.get(unit, file.unit[unit]) if abs(value) == 1 else file.unit[unit]


@pytest.mark.parametrize("kind", sorted(set(numbers_file().kind) - {"month_year", "air", "pressure_odd"}))
def test_what_is_read_back_is_understood_as_the_same(kind: str) -> None:
    bounds = numbers_file().kind[kind]
    for value in range(int(bounds.low), int(bounds.high) + 1):
        words = read_back(value, bounds.unit).removesuffix(unit_after(value, bounds.unit)).strip()
        if value in NOT_BY_FIGURES.get(kind, ()):
            with pytest.raises(BadInput, match="is no "):
                read(words, kind)
        else:
            assert read(words, kind).value == value


@pytest.mark.parametrize("kind", list(numbers_file().kind))
def test_every_string_the_grammar_allows_has_a_value_or_is_out_of_bounds(kind: str) -> None:
    strings = Matcher([Rule(kind)], number_nodes()).cover()
    assert len(strings) > (0 if kind == "air" else 100)
    assert [words for words in strings if _outcome(" ".join(words), kind) == "no number"] == []


def _outcome(words: str, kind: str) -> str:
    try:
        return f"{read(words, kind).value}"
    except BadInput as refused:
        return "no number" if " is no " in str(refused) else "out of bounds"


def test_rules_are_the_same_for_every_file() -> None:
    assert set(numbers_file().kind) <= set(number_nodes())
