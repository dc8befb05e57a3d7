"""A day's plan from CSV: every line is reported, each refusal has its line and a mend, and nothing half is kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.day_plan import read_day_plan, report
from assistant.language.files import grammar_file
from assistant.language.sequence import load

CHECK = load(Path(str(grammar_file("checks/rental.toml"))), lambda word: True)
HEAD = "trip,diver,regulator,jacket\n"
KNOWN = frozenset({"anna", "tom", "tim", "joe", "one", "juan", "spare", "ann"})
APART = {("regulator", "12")}


def refusals(text: str | bytes) -> list[tuple[int, str, str]]:
    raw = text.encode() if isinstance(text, str) else text
    plan = read_day_plan(raw, CHECK, KNOWN.__contains__, APART)
    return [(each.line, each.message, each.mend) for each in plan.refusals]


ROWS = (
    (b"", 1, "the file is empty", "column names"),
    (b"trip,diver\nReef,Zo\xeb\n", 2, "not UTF-8 text", "UTF-8"),
    (b"trip,diver\nReef,1\0\n", 2, "not text", "UTF-8"),
    (b"a" * 1_000_001, 1, "the file has 1000001 bytes", "right file"),
    ("trip;diver\nReef;1\n", 1, 'the columns are separated by ";"', "commas"),
    ("trip\tdiver\nReef\t1\n", 1, "the columns are separated by tabs", "commas"),
    ("trip,diver,reg\nReef,1,4\n", 1, 'no column "reg"', "regulator"),
    ("trip,diver,jacket,jacket\nReef,1,4,4\n", 1, 'the column "jacket" is there twice', "out"),
    ("diver,jacket\n1,4\n", 1, 'the column "trip" is missing', "first line"),
    (HEAD, 1, "no diver is planned", "line for each diver"),
    (HEAD + 'Reef,1,4,"5\n', 2, "not CSV: unexpected end of data", "quotation marks"),
    (HEAD + "Reef,1,4\n", 2, "3 fields, and 4 columns", "each column"),
    (HEAD + ",1,4,5\n", 2, "the trip has no name that can be shown", "60 letters"),
    (HEAD + "Reef,100,4,5\n", 2, "no diver can be number 100", "1 to 99"),
    (HEAD + "Reef,,4,5\n", 2, "no diver is named", "1 is free"),
    (HEAD + "Reef,Mary Ann,4,5\n", 2, '"mary ann" is no first name of one word', "1 is free"),
    (HEAD + "Reef,=cmd,4,5\n", 2, '"=cmd" is no first name of one word', "number instead"),
    (HEAD + "Reef,1,4,5\nReef,Xanthippe,6,7\n", 3, 'the recogniser does not know the name "xanthippe"', "2 is free"),
    (HEAD + "Reef,One,4,5\n", 2, '"one" is a number word', "number instead"),
    (HEAD + "Reef,Tom,4,5\nReef,Tim,6,7\n", 3, '"tim" sounds like diver tom', "1 is free"),
    (HEAD + "Reef,Juan,4,5\nReef,1,6,7\n", 2, '"juan" sounds like diver 1', "2 is free"),
    (HEAD + "Reef,1,4,5\nReef,01,6,7\n", 3, "diver 1 is on line 2 already", "2 is free"),
    (HEAD + "Reef,1,A4,5\n", 2, 'regulator "A4" is no number that can be said', "in figures"),
    (HEAD + "Reef,1,1000,5\n", 2, 'regulator "1000" is no number that can be said', "1 to 999"),
    (HEAD + "Reef,1,12,5\n", 2, "regulator 12 is set apart", "Plan another"),
    (HEAD + "Reef,1,4,5\nReef,2,04,7\n", 3, "regulator 4 is on line 2 already", "one diver only"),
    (HEAD + "Reef,1,4,5\nReef,spare,4,\n", 3, "regulator 4 is on line 2 already", "one diver only"),
    (HEAD + "Reef,1,4,5\nReef,spare,,\n", 3, "a spare without a number", "counted"),
    (HEAD + "Reef,1,4,5\nReff,spare,9,\n", 3, "no diver is on the trip Reff", "written"),
    ("trip,diver,litres\nReef,1,12 l\n", 2, 'litres "12 l" is not from 1 to 40', "no unit"),
    ("trip,diver,depth_m\nReef,1,18\nReef,2,20\n", 3, "depth_m was 18 on line 2", "one dive"),
)  # fmt: skip


@pytest.mark.parametrize(("text", "line", "message", "mend"), ROWS, ids=[row[2] for row in ROWS])
def test_refused(text: str | bytes, line: int, message: str, mend: str) -> None:
    found = refusals(text)
    assert [(at, said) for at, said, _ in found] == [(line, message)]
    assert mend in found[0][2]


def test_everything_wrong_is_told_at_once_and_every_line_reported() -> None:
    text = HEAD + "Reef,1,12,5\nReef,2,6,7\n\nReef,Kiki,8,9\n"
    plan = read_day_plan(text.encode(), CHECK, KNOWN.__contains__, APART)
    assert [line for line, _ in report(plan)] == [2, 3, 5]
    assert [text.split(":")[0] for _, text in report(plan)] == ["refused", "Reef, diver 2", "refused"]


def test_the_records_of_a_plan() -> None:
    text = ("\ufefftrip,diver,regulator,jacket,litres,depth_m,minutes\r\nReef,1,04,,12,18,35\r\n"
            "Bay,Anna,4,5,,,\r\nReef,spare,9,11,,,\r\nReef,2,6,7,10.5,18,\r\n")  # fmt: skip
    plan = read_day_plan(text.encode(), CHECK, KNOWN.__contains__)
    assert plan.refusals == ()
    bare = dict.fromkeys((item.id for item in CHECK.items), None)
    assert plan.records(CHECK, "2026-05-04") == [
        ("day_planned", {"date": "2026-05-04", "file_digest": plan.digest, "trips": 2, "divers": 3}),
        ("trip_planned", {"trip": 1, "name": "Reef", "depth_m": 18.0, "minutes": 35.0}),
        ("diver_planned", {"trip": 1, "place": 1, "diver": "1", "items": {**bare, "regulator": "4"}, "water_l": 12.0}),
        ("diver_planned", {"trip": 1, "place": 2, "diver": "2",
                           "items": {**bare, "regulator": "6", "jacket": "7"}, "water_l": 10.5}),
        ("spare_planned", {"trip": 1, "item": "regulator", "number": "9"}),
        ("spare_planned", {"trip": 1, "item": "jacket", "number": "11"}),
        ("trip_planned", {"trip": 2, "name": "Bay", "depth_m": None, "minutes": None}),
        ("diver_planned", {"trip": 2, "place": 1, "diver": "anna",
                           "items": {**bare, "regulator": "4", "jacket": "5"}, "water_l": None}),
    ]  # fmt: skip
