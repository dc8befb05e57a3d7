"""A reason as the voice should say it: units and dates in words, the numbers as they are.

Only a unit right after a number is turned, so no other word is touched.
"""

from __future__ import annotations

import re
from datetime import date

WORDS = {
    "l/min": "litres a minute",
    "bar/min": "bar a minute",
    "m/min": "metres a minute",
    "degC": "degrees",
    "min": "minutes",
    "mm2": "square millimetres",
    "l": "litres",
    "m": "metres",
    "K": "degrees",
    "%": "percent",
}
ONE = {"litres": "litre", "minutes": "minute", "metres": "metre", "degrees": "degree"}
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
UNIT = re.compile(r"(?<![\d.])(\d+(?:\.\d+)?) (" + "|".join(sorted(WORDS, key=len, reverse=True)) + r")(?![\w/])")
DAY = re.compile(r"\b(\d{4})-(\d\d)(?:-(\d\d))?\b")


def say(reason: str) -> str:
    """The sentence with its units and dates in words; a date that is none stays as it is."""
    return DAY.sub(in_words, UNIT.sub(with_unit, reason))


def with_unit(found: re.Match[str]) -> str:
    number, words = found[1], WORDS[found[2]]
    first, _, rest = words.partition(" ")
    if float(number) == 1:
        first = ONE.get(first, first)
    return " ".join(part for part in (number, first, rest) if part)


def in_words(found: re.Match[str]) -> str:
    year, month, day = found[1], int(found[2]), found[3]
    try:
        date(int(year), month, int(day or 1))
    except ValueError:
        return found[0]
    return f"{int(day)} {MONTHS[month - 1]} {year}" if day else f"{MONTHS[month - 1]} {year}"
