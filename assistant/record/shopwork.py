"""The shop's work, written: repairs, bench checks, return to rental, dates, open points, sign-off of a day.

Every change is a new event in the same log, session `shop`, with who did it; a name lies apart from the
hashed event. What may not be is refused before anything is written: nothing returns to rental without a
passed bench check after its last repair, no day is signed with a point open.

    kind                facts (all with `who`, personal)
    set_apart           item, number (null: unmarked), why
    work_noted          job (event number of the setting apart), item, number, found, done, parts
    bench_checked       job, item, number, outcome (passed, failed), note
    returned_to_rental  job, item, number
    date_noted          item, number, what (service, test, visual, bought), on (YYYY-MM-DD or YYYY-MM)
    point_settled       day, check (session), note
    point_carried       day, check, note
    day_signed          day, checks (count), carried (sessions)
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from datetime import date

from assistant.errors import BadInput
from assistant.record.day_rows import checks_where, read_day
from assistant.record.kit_rows import Job, open_job_of, read_job
from assistant.record.ledger import Ledger
from assistant.record.log import Log
from assistant.record.personal import Personal

SESSION = "shop"
NAME_CHARS, LINE_CHARS, TEXT_CHARS = 60, 200, 2000
WHATS = ("service", "test", "visual", "bought")


class Shopwork:
    """Writes through `log`; `ledger` is of the same store and is brought up to date before each decision."""

    def __init__(self, log: Log, ledger: Ledger) -> None:
        self._log, self._ledger = log, ledger
        ledger.follow()

    def set_apart(self, item: str, number: str, why: str, who: str) -> int:
        """Takes an item off the rail; gives its job. BadInput when it is set apart already."""
        item, number = _line(item, "the kind of item"), _line(number, "the number", LINE_CHARS, required=False)
        if number and (job := open_job_of(self._ledger, item, number)):
            raise BadInput(f"{item} {number} is set apart already.", f"Write what you found into its job, {job.seq}.")
        facts = {"item": item, "number": number or None, "why": _text(why, "why it is set apart")}
        return self._write("set_apart", facts, who)

    def note_work(self, job: int, found: str, done: str, parts: str, who: str) -> int:
        """Writes what was found and done; a bench check is needed after it."""
        facts = {"found": _text(found, "what was found"), "done": _text(done, "what was done"),
                 "parts": _text(parts, "the parts", required=False)}  # fmt: skip
        return self._write("work_noted", self._named(job) | facts, who)

    def note_bench(self, job: int, passed: bool, note: str, who: str) -> int:
        """Writes the result of a bench check."""
        facts = {"outcome": "passed" if passed else "failed", "note": _text(note, "the note", required=False)}
        return self._write("bench_checked", self._named(job) | facts, who)

    def return_to_rental(self, job: int, who: str) -> int:
        """Puts the item back on the rail. BadInput unless its last doing is a passed bench check."""
        facts, state = self._named(job), self._job(job).state
        if state != "passed":
            said = "its last bench check failed" if state == "failed" else "no bench check has passed since"
            raise BadInput(f"{facts['item']} cannot go back: {said}.", "Have it pass a bench check first.")
        return self._write("returned_to_rental", facts, who)

    def note_date(self, item: str, number: str, what: str, on: str, who: str) -> int:
        """Notes a service, a test, an inspection or a purchase of an item."""
        return self.note_dates([(item, number, what, on)], who)

    def note_dates(self, dates: Iterable[tuple[str, str, str, str]], who: str) -> int:
        """Notes many (item, number, what, on) at once, all or none; gives the last event."""
        name = Personal(_line(who, "who did it", NAME_CHARS))
        facts = [{**_dated(*each), "who": name} for each in dates]
        entries = self._log.append_all(SESSION, [("date_noted", each) for each in facts], "")
        self._ledger.follow()
        return entries[-1].seq

    def settle_point(self, check: str, note: str, who: str) -> int:
        """Settles the open point that a check left."""
        facts = {"day": self._day_of(check), "check": check, "note": _text(note, "how it was settled")}
        return self._write("point_settled", facts, who)

    def carry_point(self, check: str, note: str, who: str) -> int:
        """Carries the open point of a check over to the days after."""
        facts = {"day": self._day_of(check), "check": check, "note": _text(note, "why it is carried over")}
        return self._write("point_carried", facts, who)

    def sign_day(self, day: str, who: str) -> int:
        """Closes a day by name. BadInput while one of its points is neither settled nor carried over."""
        found = read_day(self._ledger, _date(day))
        if not found.checks and not found.trips:
            raise BadInput(f"There is nothing to sign on {day}.", "Choose a day with checks.")
        if found.open:
            raise BadInput(f"{len(found.open)} points of {day} are open.", "Settle each, or carry it over, then sign.")
        carried = [each.about_check for each in found.doings if each.kind == "point_carried"]
        return self._write("day_signed", {"day": day, "checks": len(found.checks), "carried": carried}, who)

    def open_points(self, day: str) -> list[str]:
        """The checks of a day whose points are open."""
        return [check.session for check in read_day(self._ledger, day).open]

    def job_of(self, item: str, number: str) -> int:
        """The job that runs for an item; BadInput when it is not set apart."""
        if (found := open_job_of(self._ledger, item, number)) is None:
            raise BadInput(f"{item} {number} is not set apart.", "Set it apart first.")
        return found.seq

    def _write(self, kind: str, facts: Mapping[str, object], who: str) -> int:
        name = Personal(_line(who, "who did it", NAME_CHARS))
        entry = self._log.append_all(SESSION, [(kind, {**facts, "who": name})], "")[0]
        self._ledger.follow()
        return entry.seq

    def _named(self, job: int) -> dict[str, object]:
        found = self._job(job)
        if found.state in ("back", "undone"):
            raise BadInput(f"Job {job} is closed.", "If the item failed again, set it apart again.")
        return {"job": job, "item": found.item, "number": found.number or None}

    def _job(self, job: int) -> Job:
        found = read_job(self._ledger, job)
        if found is None:
            raise BadInput(f"There is no job {job}.", "Choose one of those set apart.")
        return found[0]

    def _day_of(self, check: str) -> str:
        found = checks_where(self._ledger, "c.session = ?", (check,))
        if not found:
            raise BadInput(f"There is no check {check}.", "Choose one of the day's checks.")
        return found[0].day


def _dated(item: str, number: str, what: str, on: str) -> dict[str, object]:
    if what not in WHATS:
        raise BadInput(f"{what!r} is no kind of date.", f"Give one of {', '.join(WHATS)}.")
    named = {"item": _line(item, "the kind of item"), "number": _line(number, "the number")}
    return {**named, "what": what, "on": _date(on)}


def _line(text: str, what: str, most: int = LINE_CHARS, required: bool = True) -> str:
    if "\n" in text or "\r" in text:
        raise BadInput(f"For {what}, several lines were given.", "Give one line.")
    return _text(text, what, required, most)


def _text(text: str, what: str, required: bool = True, most: int = TEXT_CHARS) -> str:
    """The words without spaces around them. BadInput for none, too many, or characters nobody can read."""
    kept = unicodedata.normalize("NFC", text.replace("\r\n", "\n")).strip()
    if required and not kept:
        raise BadInput(f"It is not said {what}.", "Fill it in.")
    if len(kept) > most:
        raise BadInput(f"For {what}, {len(kept)} characters were given.", f"Give {most} at most.")
    if any(unicodedata.category(mark) in ("Cc", "Cs") and mark not in "\n\t" for mark in kept):
        raise BadInput(f"For {what}, a control character was given.", "Give plain text.")
    return kept


def _date(text: str) -> str:
    """A day or a month. BadInput for what is none."""
    kept = text.strip()
    try:
        date.fromisoformat(kept if len(kept) == 10 else f"{kept}-01")
    except ValueError as error:
        raise BadInput(f"{kept!r} is no date.", "Give it as 2026-03-17, or 2026-03 for a month.") from error
    return kept
