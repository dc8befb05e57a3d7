"""A day's plan from a CSV file: trips, divers, their kit and the spares; taken whole or not at all.

UTF-8 with commas, a first line of column names, then one line for each diver; `spare` in place of a diver lists
what the boat carries besides. Columns:

    trip      name of the trip, as on the board                       (needed)
    diver     1 to 99, or a first name that the recogniser knows       (needed)
    <item>    one column for each item id of the sequence: the number on it, 1 to 999; empty: unmarked
    litres    water capacity of the diver's cylinder                   (for the group's gas)
    depth_m, minutes   the dive planned for the trip: deepest point, time until the ascent

Every line is judged, and each refusal says what to do. Nothing here writes.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from assistant.check.steps import Check
from assistant.language.names import refuse_name

SPARE = "spare"
HIGHEST_DIVER, HIGHEST_NUMBER = 99, 999
MOST_BYTES = 1_000_000
SIZES: Mapping[str, tuple[float, float]] = {"litres": (1.0, 40.0), "depth_m": (1.0, 60.0), "minutes": (1.0, 600.0)}


@dataclass(frozen=True, slots=True)
class Refusal:
    """What is wrong with a line (1 is the first of the file), and what to do."""

    line: int
    message: str
    mend: str


@dataclass(frozen=True, slots=True)
class Row:
    """One line as understood. `numbers` are those given, by item."""

    line: int
    trip: str
    diver: str
    numbers: Mapping[str, str]
    sizes: Mapping[str, float]

    def __str__(self) -> str:
        kit = ", ".join(f"{item} {number}" for item, number in self.numbers.items()) or "unmarked kit"
        return f"{self.trip}, {self.diver if self.diver == SPARE else f'diver {self.diver}'}: {kit}"


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A file as read: `rows` in its order, and the refusals; it may be kept only when there are none."""

    digest: str
    rows: tuple[Row, ...]
    refusals: tuple[Refusal, ...]

    def records(self, check: Check, date: str) -> list[tuple[str, dict[str, Any]]]:
        """What goes into the log, as assistant/record/days.py describes it."""
        divers = [row for row in self.rows if row.diver != SPARE]
        trips = list(dict.fromkeys(row.trip for row in self.rows))
        head = {"date": date, "file_digest": self.digest, "trips": len(trips), "divers": len(divers)}
        records: list[tuple[str, dict[str, Any]]] = [("day_planned", head)]
        for at, trip in enumerate(trips, start=1):
            rows = [row for row in self.rows if row.trip == trip]
            dive = {name: size for row in reversed(rows) for name, size in row.sizes.items() if name != "litres"}
            records.append(("trip_planned", {"trip": at, "name": trip, "depth_m": None, "minutes": None, **dive}))
            for place, row in enumerate((row for row in rows if row.diver != SPARE), start=1):
                items = {item.id: row.numbers.get(item.id) for item in check.items}
                facts = {"trip": at, "place": place, "diver": row.diver, "items": items}
                records.append(("diver_planned", {**facts, "water_l": row.sizes.get("litres")}))
            spares = ((item, number) for row in rows if row.diver == SPARE for item, number in row.numbers.items())
            records += [("spare_planned", {"trip": at, "item": item, "number": number}) for item, number in spares]
        return records


def read_day_plan(
    raw: bytes, check: Check, knows: Callable[[str], bool], apart: Collection[tuple[str, str]] = ()
) -> DayPlan:
    """The plan in these bytes, every line judged.

    check: the sequence whose items the columns name; knows: whether the recogniser's model has a word (lower
    case); apart: items by number that are set apart, and may not be planned. Raises nothing for a bad file: what
    is wrong is in `refusals`, so that all of it is seen at once (tests/assistant/test_day_plan.py, a row for each).
    """
    digest = hashlib.sha256(raw).hexdigest()
    text = _text(raw)
    if isinstance(text, Refusal):
        return DayPlan(digest, (), (text,))
    reading = _Reading(check, knows, frozenset(apart))
    reading.read(text)
    return DayPlan(digest, tuple(reading.rows), tuple(sorted(reading.refusals, key=lambda each: each.line)))


def _text(raw: bytes) -> str | Refusal:
    if len(raw) > MOST_BYTES:
        return Refusal(1, f"the file has {len(raw)} bytes", "A day's plan is short: give the right file.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw[: problem.start].count(b"\n") + 1
        return Refusal(line, "not UTF-8 text", "Save the table again as CSV, UTF-8.")
    if not text.strip():
        return Refusal(1, "the file is empty", "Give a line of column names, then a line for each diver.")
    if "\0" in text:
        return Refusal(text[: text.index("\0")].count("\n") + 1, "not text", "Save the table as CSV, UTF-8.")
    head = text.splitlines()[0]
    other = next((mark for mark in (";", "\t", "|") if mark in head and "," not in head), "")
    if other:
        name = {"\t": "tabs"}.get(other, f'"{other}"')
        return Refusal(1, f"the columns are separated by {name}", "Save the table with commas between the columns.")
    return text


@dataclass
class _Reading:
    """One file being read, line by line."""

    check: Check
    knows: Callable[[str], bool]
    apart: frozenset[tuple[str, str]]
    rows: list[Row] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)
    seen: dict[tuple[str, str, str], int] = field(default_factory=dict)  # trip, item, number: line
    dives: dict[tuple[str, str], tuple[float, int]] = field(default_factory=dict)

    def read(self, text: str) -> None:
        lines = csv.reader(io.StringIO(text), strict=True)
        try:
            columns = self._columns([name.strip().lower() for name in next(lines)])
            for fields in lines:
                if columns and any(each.strip() for each in fields):
                    self._take(lines.line_num, columns, [each.strip() for each in fields])
        except csv.Error as problem:
            self._refuse(lines.line_num, f"not CSV: {problem}", "Put quotation marks in pairs, or leave them out.")
            return
        self.rows = [row for row in self.rows if self._may_be_called(row)]
        if columns and not self.refusals:
            self._refuse_lonely_spares()
        if columns and not self.rows and not self.refusals:
            self._refuse(1, "no diver is planned", "Give a line for each diver below the column names.")

    def _refuse(self, line: int, message: str, mend: str) -> None:
        self.refusals.append(Refusal(line, message, mend))

    def _columns(self, names: list[str]) -> list[str]:
        known = ["trip", "diver", *(item.id for item in self.check.items), *SIZES]
        for at, name in enumerate(names):
            if name not in known:
                self._refuse(1, f'no column "{name}"', f"Use: {', '.join(known)}.")
            elif name in names[:at]:
                self._refuse(1, f'the column "{name}" is there twice', "Take one of them out.")
        for name in ("trip", "diver"):
            if name not in names:
                self._refuse(1, f'the column "{name}" is missing', "The first line names the columns.")
        return [] if self.refusals else names

    def _take(self, line: int, columns: list[str], fields: list[str]) -> None:
        before = len(self.refusals)
        if len(fields) != len(columns):
            self._refuse(line, f"{len(fields)} fields, and {len(columns)} columns", "Give each column its field.")
            return
        cells = dict(zip(columns, fields, strict=True))
        trip, diver = cells["trip"], self._diver(line, cells["trip"], cells["diver"])
        self._judge_trip(line, trip)
        numbers = {item.id: number for item in self.check.items if (number := self._number(line, trip, item.id, cells))}
        sizes = {name: size for name in SIZES if (size := self._size(line, trip, name, cells)) is not None}
        if diver == SPARE and not numbers:
            self._refuse(line, "a spare without a number", "Give its number, or it cannot be counted.")
        if len(self.refusals) == before:
            self.rows.append(Row(line, trip, diver, numbers, sizes))

    def _judge_trip(self, line: int, trip: str) -> None:
        if not trip or len(trip) > 60 or not trip.isprintable():
            self._refuse(line, "the trip has no name that can be shown", "Name the trip in up to 60 letters.")

    def _diver(self, line: int, trip: str, said: str) -> str:
        if said.lower() == SPARE:
            return SPARE
        if said.isascii() and said.isdecimal():
            said = str(int(said))
            if not 1 <= int(said) <= HIGHEST_DIVER:
                self._refuse(line, f"no diver can be number {said}", f"Take one from 1 to {HIGHEST_DIVER}.")
        else:
            said = said.lower()
        first = self.seen.setdefault((trip, "diver", said), line)
        if first != line:
            mend = f"Give one of them another number: {self._free(trip)} is free."
            self._refuse(line, f"diver {said} is on line {first} already", mend)
        return said

    def _may_be_called(self, row: Row) -> bool:
        """Whether the name can be said and heard beside all others of the trip."""
        if row.diver == SPARE or row.diver.isdecimal():
            return True
        of_trip = [each for each in self.rows if each.trip == row.trip and each.diver not in (SPARE, row.diver)]
        others = [each.diver for each in of_trip if each.line < row.line or each.diver.isdecimal()]
        why = refuse_name(row.diver, others, self.check, self.knows)
        if why:
            self._refuse(row.line, why, f"Give this diver a number instead: {self._free(row.trip)} is free.")
        return not why

    def _free(self, trip: str) -> int:
        taken = {diver for name, kind, diver in self.seen if (name, kind) == (trip, "diver")}
        return next(number for number in range(1, len(taken) + 2) if str(number) not in taken)

    def _number(self, line: int, trip: str, item: str, cells: Mapping[str, str]) -> str:
        said = cells.get(item, "")
        if not said:
            return ""
        if not (said.isascii() and said.isdecimal() and 1 <= int(said) <= HIGHEST_NUMBER):
            mend = f"Give the number on it in figures, 1 to {HIGHEST_NUMBER}; leave it empty when it has none."
            self._refuse(line, f'{item} "{said}" is no number that can be said', mend)
            return ""
        number = str(int(said))
        if (item, number) in self.apart:
            self._refuse(line, f"{item} {number} is set apart", "Plan another; the shop returns it after its repair.")
        first = self.seen.setdefault((trip, item, number), line)
        if first != line:
            self._refuse(line, f"{item} {number} is on line {first} already", "One item can be on one diver only.")
        return number

    def _size(self, line: int, trip: str, name: str, cells: Mapping[str, str]) -> float | None:
        said = cells.get(name, "")
        if not said:
            return None
        low, high = SIZES[name]
        try:
            size = float(said)
        except ValueError:
            size = -1.0
        if not low <= size <= high:
            self._refuse(line, f'{name} "{said}" is not from {low:g} to {high:g}', "Write it with a point, no unit.")
            return None
        first, at = self.dives.setdefault((trip, name), (size, line))
        if name != "litres" and first != size:
            self._refuse(line, f"{name} was {first:g} on line {at}", "One trip has one dive: make them the same.")
        return size

    def _refuse_lonely_spares(self) -> None:
        for row in self.rows:
            if not any(other.trip == row.trip and other.diver != SPARE for other in self.rows):
                self._refuse(row.line, f"no diver is on the trip {row.trip}", "Check how the trip is written.")


def report(plan: DayPlan) -> Iterator[tuple[int, str]]:
    """Every line with what became of it, in the order of the file."""
    lines = [(row.line, str(row)) for row in plan.rows]
    lines += [(each.line, f"refused: {each.message}. {each.mend}") for each in plan.refusals]
    yield from sorted(lines, key=lambda line: line[0])
