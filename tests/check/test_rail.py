"""What is set apart, from records of several sessions; one row for each way on and off the rail."""

from __future__ import annotations

import pytest

from assistant.check.rail import Rail
from assistant.check.turns import Record

Told = tuple[str, Record]


def apart(session: str, item: str, number: str | None) -> Told:
    return session, Record("set_apart", {"item": item, "number": number, "step": "hoses", "code": "cut"})


def back(session: str, item: str, what: str = "answered") -> Told:
    return session, Record("withdrawn", {"what": what, "step": "hoses", "item": item})


RETURNED = ("shop", Record("returned_to_rental", {"item": "jacket", "number": "7", "who": "Lise"}))
SEVEN = apart("a", "jacket", "7")


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ([SEVEN], {("jacket", "7")}),
        ([apart("a", "jacket", None)], set()),
        ([SEVEN, back("a", "jacket")], set()),
        ([SEVEN, back("a", "")], {("jacket", "7")}),
        ([SEVEN, back("a", "jacket", "replaced")], {("jacket", "7")}),
        ([SEVEN, back("b", "jacket")], {("jacket", "7")}),
        ([SEVEN, RETURNED], set()),
        ([SEVEN, RETURNED, apart("b", "jacket", "7")], {("jacket", "7")}),
        ([SEVEN, apart("a", "jacket", "9"), back("a", "jacket")], {("jacket", "7")}),
        ([apart("a", "mask", "7"), RETURNED], {("mask", "7")}),
    ],
    ids=["apart", "unmarked", "taken back", "an answer taken back", "a replacement taken back", "taken back elsewhere",
         "returned", "again", "only the last", "another item"],
)  # fmt: skip
def test_rail(told: list[Told], expected: set[tuple[str, str]]) -> None:
    assert Rail.of(told).apart == expected
