"""The pages for reading: the day, a check in full, items and their lives, what is set apart, due, faults, search."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

from starlette.responses import RedirectResponse, Response

from assistant.errors import BadInput
from assistant.page import due, telling, words
from assistant.page.visit import Visit
from assistant.record import Ledger, Reader
from assistant.record.day_rows import checks_where, doings_where, newest_day, read_day, unsigned_days
from assistant.record.kit_rows import (
    LIFE_ROWS,
    Sought,
    closed_jobs,
    count_open_jobs,
    fault_kinds,
    find_checks,
    item_kinds,
    open_jobs,
    read_dated,
    read_items,
    read_job,
    read_life,
)
from assistant.record.season_rows import faults_by_age, faults_by_kind, read_months, steps_asked_again

HEX = re.compile(r"[0-9a-f]{64}")
SEASON_MONTHS = 12


def home(visit: Visit) -> Response:
    """The newest day that has something in it."""
    with visit.shop.reading() as ledger:
        newest = newest_day(ledger) or visit.shop.today.isoformat()
    return RedirectResponse(words.link("/day", of=min(newest, visit.shop.today.isoformat())), 303)


def day(visit: Visit, name: str = "day.html") -> Response:
    """One day: what is to do first, trips, checks, faults, voice notes, sign-off."""
    of = asked_day(visit)
    with visit.shop.reading() as ledger:
        pressing = due.pressing(due_lines(visit, ledger))
        return visit.draw(
            name, day=read_day(ledger, of), apart=count_open_jobs(ledger), due=len(pressing), behind=ledger.behind(),
            damage=ledger.note("damage"), unsigned=unsigned_days(ledger, of),
            today=visit.shop.today.isoformat(), paper=visit.query("paper"),
        )  # fmt: skip


def sheet(visit: Visit) -> Response:
    """The day for paper."""
    return day(visit, "sheet.html")


def asked_day(visit: Visit) -> str:
    """The day that the address or the form names; BadInput for what is no day."""
    return _day(visit.given.get("day") or visit.query("of") or visit.shop.today.isoformat())


def _day(said: str) -> str:
    try:
        return date.fromisoformat(said).isoformat()
    except ValueError as error:
        raise BadInput(f"{said!r} is no day.", "Give it as 2026-03-17.") from error


def due_lines(visit: Visit, ledger: Ledger) -> list[due.DueLine]:
    """All that falls due, judged today."""
    shop = visit.shop
    return due.judge_all(read_dated(ledger), shop.today, shop.settings, shop.region, shop.material)


def check(visit: Visit) -> Response:
    """A check in full: each question with what was said, heard and decided, with the notes that were left."""
    session = visit.query("id")
    with visit.shop.reading() as ledger:
        found = checks_where(ledger, "c.session = ?", (session,))
        if not found:
            raise BadInput(f"The record has no check {session!r}.", "Choose one from its day, or search.")
        doings = doings_where(ledger, "about_check = ?", (session,))
        with Reader(visit.shop.store) as reader:
            turns = telling.tell(reader.entries(session), ledger.local, visit.shop.names)
        return visit.draw("check.html", check=found[0], turns=turns, doings=doings)


def note(visit: Visit) -> Response:
    """The sound of a voice note."""
    digest = visit.query("clip")
    with Reader(visit.shop.store) as reader:
        clip = reader.clip(digest) if HEX.fullmatch(digest) else None
    if clip is None:
        raise BadInput("This voice note is not there (any more).", "It may have been removed.")
    return Response(clip.wav, media_type="audio/wav", headers={"content-disposition": "inline"})


def items(visit: Visit) -> Response:
    """All numbered items, by kind."""
    with visit.shop.reading() as ledger:
        return visit.draw("items.html", items=read_items(ledger, visit.query("kind")), kind=visit.query("kind"))


def item(visit: Visit) -> Response:
    """One item's whole life."""
    kind, number = (visit.given.get(name) or visit.query(name) for name in ("kind", "number"))
    with visit.shop.reading() as ledger:
        life = read_life(ledger, kind, number, whole(visit.query("before")))
        if life is None:
            raise BadInput(f"The record never saw {kind} {number}.", "Choose one of the items, or search.")
        lines = [line for line in due_lines(visit, ledger) if (line.item, line.number) == (kind, number)]
        return visit.draw("item.html", life=life, due=lines, rows=LIFE_ROWS, today=visit.shop.today.isoformat())


def whole(text: str) -> int:
    """A whole number of the address; 0 for anything else."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 16 else 0


def apart(visit: Visit) -> Response:
    """What is set apart, by what has to happen next, and what went back last."""
    with visit.shop.reading() as ledger:
        jobs = open_jobs(ledger)
        return visit.draw("apart.html", jobs=jobs, back=closed_jobs(ledger), kinds=kinds(visit, ledger))


def kinds(visit: Visit, ledger: Ledger) -> list[str]:
    """Kinds of items: those with a name, and those that the record saw."""
    return sorted({*visit.shop.names.items, *filter(None, item_kinds(ledger))})


def job(visit: Visit) -> Response:
    """One job: what is wrong, what was done, what may happen next."""
    number = whole(visit.given.get("job") or visit.query("of"))
    with visit.shop.reading() as ledger:
        found = read_job(ledger, number)
        if found is None:
            raise BadInput("There is no such job.", "Choose one of those set apart.")
        return visit.draw("job.html", job=found[0], doings=found[1])


def all_due(visit: Visit) -> Response:
    """All that falls due, what is out first."""
    with visit.shop.reading() as ledger:
        lines = due_lines(visit, ledger)
        return visit.draw("due.html", lines=lines, kinds=kinds(visit, ledger), today=visit.shop.today.isoformat())


def faults(visit: Visit) -> Response:
    """Faults by kind over months, by item and age; swaps; minutes per check; steps asked again."""
    kind = visit.query("kind")
    with visit.shop.reading() as ledger:
        months = read_months(ledger, SEASON_MONTHS)
        return visit.draw(
            "faults.html", months=months, by_kind=faults_by_kind(ledger, [line.month for line in months], kind)[:40],
            by_age=faults_by_age(ledger), steps=steps_asked_again(ledger), kind=kind, kinds=kinds(visit, ledger),
        )  # fmt: skip


def find(visit: Visit) -> Response:
    """Search by item, number, diver, day and fault."""
    sought = Sought(**{name: visit.query(name) for name in ("item", "number", "diver", "fault", "since", "until")})
    for said in (sought.since, sought.until):
        _ = said and _day(said)
    asked = replace(sought, item="") != Sought()  # nearly every check has one of each kind: its number must be given
    with visit.shop.reading() as ledger:
        found = find_checks(ledger, sought, whole(visit.query("before"))) if asked else []
        return visit.draw(
            "find.html", sought=sought, found=found, asked=asked, more=len(found) == LIFE_ROWS,
            kinds=kinds(visit, ledger), faults=fault_kinds(ledger)[:200],
        )  # fmt: skip


def record(visit: Visit) -> Response:
    """Whether the record holds, and what can be taken out of it."""
    with visit.shop.reading() as ledger:
        return visit.draw(
            "record.html", seq=ledger.seq, head=ledger.note("hash"), damage=ledger.note("damage"),
            behind=ledger.behind(), running=visit.shop.verify.running, result=visit.shop.verify.result,
            today=visit.shop.today.isoformat(),
        )  # fmt: skip
