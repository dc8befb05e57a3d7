"""Spoken numbers to values and back: "one ninety five" is 195, 195 is "one nine five bar".

Which word strings are numbers is data (grammars/en/numbers.toml); here they get their value, because
no library at hand reads figures said one by one or in pairs ("one nine five", "twenty nine fifty") as one
number. What a mishearing could have meant instead is given with the value; asking about it is the session's work.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import product

from assistant.errors import BadInput
from assistant.language.matching import Matcher
from assistant.language.nodes import Rule, Words
from assistant.language.phrases import spoken_words
from assistant.language.rules import Kind, number_nodes, numbers_file

_CENTURY_TURN = 50  # two figures below it are 20.., the others 19..


@dataclass(frozen=True, slots=True)
class Spoken:
    """A number as understood. For month_year the value is year * 100 + month, such as 202406."""

    kind: str
    unit: str
    value: float
    ambiguous: tuple[float, ...]  # other values that sound nearly the same, to be asked about
    text: str


def read(text: str, kind: str, low: float | None = None, high: float | None = None, language: str = "en") -> Spoken:
    """The value of spoken words.

    text: the words of the number alone, without its unit; kind: of numbers.toml; low, high: what is plausible
    here, in the kind's unit, inclusive; the kind's own bounds when None. Returns the value in the kind's unit
    and the values that a mishearing of thirteen/thirty ... nineteen/ninety could have meant within the bounds.
    Raises BadInput, which says what was understood and what is expected; the guide then says it again.
    Tables and a round trip over every value: tests/language/test_numbers.py.
    """
    bounds = _kind(kind, language)
    words = spoken_words(text)
    value = _value(words, kind, language)
    if value is None:
        raise BadInput(f'"{text}" is no {_name(kind)}', f"Say a number such as {_example(kind, language)}.")
    least, most = bounds.low if low is None else low, bounds.high if high is None else high
    if not least <= value <= most:
        raise BadInput(
            f"I understood {_plain(value)} {bounds.unit}, and expected {_plain(least)} to {_plain(most)}",
            "Read it again, figure by figure.",
        )
    others = _others(words, kind, language)
    return Spoken(kind, bounds.unit, value, tuple(v for v in others if least <= v <= most and v != value), text)


def read_back(value: float, unit: str, decimals: int | None = None, language: str = "en") -> str:
    """The value said figure by figure, with its unit: read_back(195, "bar") is "one nine five bar".

    value: in `unit`, rounded to `decimals` figures after the point, or, when None, to one unless that is a nought;
    unit: a key of [unit] in numbers.toml, or one of [alone], which is said without figures.
    Raises BadInput for another unit, or a month that is none.
    """
    units, alone = numbers_file(language).unit, numbers_file(language).alone
    if unit in alone:
        return alone[unit]
    if unit not in units:
        raise BadInput(f'no unit "{unit}"', f"Use one of: {', '.join(units)}.")
    if unit == "month":
        return _read_back_month(int(value), language)
    shown = _plain(abs(value)) if decimals is None else f"{abs(value):.{decimals}f}"
    said = " ".join(_figure(letter, language) for letter in shown)
    negative = value < 0 and float(shown) != 0
    name = numbers_file(language).unit_one.get(unit, units[unit]) if shown == "1" else units[unit]
    return " ".join(part for part in ("minus" if negative else "", said, name) if part)


def _read_back_month(value: int, language: str) -> str:
    names = {number: name for name, number in numbers_file(language).month.items()}
    if value % 100 not in names:
        raise BadInput(f"{value} is no year and month", "Give year times 100 plus month, such as 202406.")
    figures = " ".join(_figure(letter, language) for letter in str(value // 100))
    return f"{names[value % 100]} {figures}"


def _figure(letter: str, language: str) -> str:
    if letter == ".":
        return "point"
    return next(word for word, worth in numbers_file(language).words.items()
                if worth == int(letter) and word not in ("a", "oh"))


def _value(words: Words, kind: str, language: str) -> float | None:
    if _matcher(kind, language).match(words) is None:
        return None
    if kind in numbers_file(language).value:
        return numbers_file(language).value[kind]
    if kind == "month_year":
        return _month_year(words, language)
    whole, _, decimals = " ".join(words).partition(" point ")
    value = float(_fold(tuple(whole.removeprefix("minus ").split()), language))
    if decimals:
        value = round(value + _fold(tuple(decimals.split()), language) / 10, 1)
    return -value if whole.startswith("minus ") else value


def _month_year(words: Words, language: str) -> float:
    cut = next(cut for cut in (1, 2) if _is_month(words[:cut], language) and _is("year", words[cut:], language))
    year = _fold(words[cut:], language)
    if year < 100:
        year += 2000 if year < _CENTURY_TURN else 1900
    month = numbers_file(language).month.get(words[0]) or _fold(words[:cut], language)
    return year * 100 + month


def _is_month(words: Words, language: str) -> bool:
    return _is("month_name", words, language) or _is("month_number", words, language)


def _is(rule: str, words: Words, language: str) -> bool:
    return _matcher(rule, language).match(words) is not None


def _fold(words: Words, language: str) -> int:
    """What whole-number words are worth, figures and pairs side by side; only for words that a rule allows."""
    worth = numbers_file(language).words
    total, current, room = 0, 0, 0  # a number smaller than `room` joins: "twenty five", but not "twenty oh five"
    for word in words:
        if word == "thousand":
            total, current, room = total + current * 1000, 0, 0
        elif word == "hundred":
            current, room = current * 100, 100
        elif word != "and":
            number = worth[word]
            joins = 0 < number < room
            current = current + number if joins else current * (100 if number >= 10 else 10) + number
            room = 10 if number >= 20 else 0
    return total + current


def _others(words: Words, kind: str, language: str) -> list[float]:
    """Values of the same words with teens and tens exchanged, where those are numbers too."""
    twins = {}
    for one, other in numbers_file(language).alike:
        twins[one], twins[other] = other, one
    choices = [(word, twins[word]) if word in twins else (word,) for word in words]
    heard = (_value(other, kind, language) for other in product(*choices) if other != words)
    return sorted({value for value in heard if value is not None})


@cache
def _matcher(rule: str, language: str) -> Matcher:
    return Matcher([Rule(rule)], number_nodes(language))


def _kind(kind: str, language: str) -> Kind:
    kinds = numbers_file(language).kind
    if kind not in kinds:
        raise BadInput(f'no kind of number "{kind}"', f"Use one of: {', '.join(kinds)}.")
    return kinds[kind]


def _name(kind: str) -> str:
    return {"month_year": "month and year", "number": "number"}.get(kind, kind.split("_")[0])


def _example(kind: str, language: str) -> str:
    bounds = _kind(kind, language)
    middle = 202406.0 if kind == "month_year" else bounds.low + round((bounds.high - bounds.low) * 0.6)
    return read_back(middle, bounds.unit, 0, language)


def _plain(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
