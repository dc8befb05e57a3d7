"""The shop's rules: what may follow what, what is refused, and that each change is an event with who did it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from assistant.errors import BadInput
from assistant.record import Ledger, Log, Shopwork
from assistant.record.day_rows import read_day
from assistant.record.kit_rows import open_jobs, read_dated, read_job, read_life

ZONE = ZoneInfo("Europe/Athens")
DAY = "2026-05-04"
DIGEST = "d" * 64


@pytest.fixture
def deck(open_log: Callable[..., Log]) -> Log:
    """A day with a READY check of Ann and a HOLD of Bo, whose jacket 8 is set apart."""
    log = open_log()
    log.append_all("good", [("check_started", {"diver": "Ann", "items": {"jacket": "7"}}),
                            ("verdict_given", {"verdict": "ready"})], DIGEST)  # fmt: skip
    log.append_all("bad", [("check_started", {"diver": "Bo", "items": {"jacket": "8"}}),
                           ("asked", {"what": "step", "step": "dump", "item": "jacket", "because": ""}),
                           ("answered", {"step": "dump", "outcome": "fault", "code": "shut"}),
                           ("set_apart", {"item": "jacket", "number": "8", "step": "dump", "code": "shut"}),
                           ("verdict_given", {"verdict": "hold", "reasons": []})], DIGEST)  # fmt: skip
    return log


@pytest.fixture
def ledger(deck: Log, store: Path) -> Iterator[Ledger]:
    with Ledger(store, ZONE) as ledger:
        yield ledger


@pytest.fixture
def shop(deck: Log, ledger: Ledger) -> Shopwork:
    return Shopwork(deck, ledger)


REPAIRS: list[tuple[str, str, str, bool]] = [
    ("nothing done", "", "apart", False),
    ("only worked on", "work", "worked", False),
    ("bench failed", "work fail", "failed", False),
    ("bench passed", "work pass", "passed", True),
    ("passed, then worked on again", "work pass work", "worked", False),
    ("failed, mended, passed", "work fail work pass", "passed", True),
    ("passed, then set apart anew", "work pass apart", "apart", False),
]


@pytest.mark.parametrize(("acts", "state", "returns"), [row[1:] for row in REPAIRS], ids=[row[0] for row in REPAIRS])
def test_only_a_passed_bench_check_leads_back(
    shop: Shopwork, ledger: Ledger, acts: str, state: str, returns: bool
) -> None:
    job = open_jobs(ledger)[0].seq
    for act in acts.split():
        if act == "work":
            shop.note_work(job, "cord frayed", "new cord", "cord 3 mm", "Martha")
        elif act == "apart":
            facts = {"item": "jacket", "number": "8", "step": "dump", "code": "shut"}
            shop._log.append_all("more", [("check_started", {}), ("set_apart", facts)], DIGEST)
            ledger.follow()
        else:
            shop.note_bench(job, act == "pass", "", "Joseph")
    assert [each.state for each in open_jobs(ledger)] == [state]
    if returns:
        shop.return_to_rental(job, "Helen")
        assert open_jobs(ledger) == []
    else:
        with pytest.raises(BadInput, match="cannot go back"):
            shop.return_to_rental(job, "Helen")
        assert [each.seq for each in open_jobs(ledger)] == [job]


def test_each_doing_is_an_event_that_names_who(shop: Shopwork, ledger: Ledger) -> None:
    job = open_jobs(ledger)[0].seq
    shop.note_work(job, "cord frayed", "new cord", "", "Martha")
    shop.note_bench(job, True, "holds", "Joseph")
    shop.return_to_rental(job, "Helen")
    found = read_job(ledger, job)
    assert found is not None
    assert [(each.kind, each.who) for each in found[1]] == [
        ("set_apart", ""), ("work_noted", "Martha"), ("bench_checked", "Joseph"), ("returned_to_rental", "Helen"),
    ]  # fmt: skip
    for entry in shop._log.entries("shop"):
        assert set(json.loads(entry.link.facts)["who"]) == {"personal"}
    assert shop._log.verify().ok


def test_a_day_is_signed_when_no_point_is_open(shop: Shopwork, ledger: Ledger) -> None:
    with pytest.raises(BadInput, match="1 points"):
        shop.sign_day(DAY, "Martha")
    shop.settle_point("bad", "Stayed ashore.", "Martha")
    shop.sign_day(DAY, "Martha")
    day = read_day(ledger, DAY)
    assert (day.signed.who if day.signed else "", day.open, day.later) == ("Martha", [], [])


def test_what_comes_after_the_signature_shows_as_later(shop: Shopwork, ledger: Ledger) -> None:
    shop.carry_point("bad", "Part ordered.", "Martha")
    shop.sign_day(DAY, "Martha")
    shop._log.append_all("late", [("check_started", {"diver": "Cy"})], DIGEST)
    shop._log.append_all("good", [("noted", {"step": "dump"})], DIGEST)
    ledger.follow()
    day = read_day(ledger, DAY)
    assert [check.session for check in day.checks if check.seq in day.later] == ["good", "late"]


def test_a_carried_point_stands_on_later_days_until_settled(shop: Shopwork, ledger: Ledger) -> None:
    shop.carry_point("bad", "Part ordered.", "Martha")
    assert [point.session for point in read_day(ledger, "2026-05-05").carried] == ["bad"]
    assert [point.session for point in read_day(ledger, "2026-06-01").carried] == ["bad"]
    shop.settle_point("bad", "Part came.", "Helen")
    assert read_day(ledger, "2026-06-01").carried == []


def test_a_later_ready_check_of_the_same_diver_closes_the_point(shop: Shopwork, ledger: Ledger) -> None:
    again = [("check_started", {"diver": "Bo"}), ("verdict_given", {"verdict": "ready"})]
    shop._log.append_all("again", again, DIGEST)
    ledger.follow()
    assert read_day(ledger, DAY).open == []


def test_a_nameless_ready_check_closes_nobodys_point(shop: Shopwork, ledger: Ledger) -> None:
    shop._log.append_all("x", [("check_started", {}), ("verdict_given", {"verdict": "hold"})], DIGEST)
    shop._log.append_all("y", [("check_started", {}), ("verdict_given", {"verdict": "ready"})], DIGEST)
    ledger.follow()
    assert [point.session for point in read_day(ledger, DAY).open] == ["bad", "x"]


def test_dates_count_ready_checks_since(shop: Shopwork, ledger: Ledger) -> None:
    shop.note_date("jacket", "7", "service", "2026-05-01", "Martha")
    shop.note_date("jacket", "7", "bought", "2024-03", "Martha")
    assert [(each.what, each.on, each.uses) for each in read_dated(ledger)] == [
        ("bought", "2024-03", 1), ("service", "2026-05-01", 1),
    ]  # fmt: skip
    shop.note_date("jacket", "7", "service", DAY, "Martha")
    assert [each.uses for each in read_dated(ledger)] == [1, 0]
    life = read_life(ledger, "jacket", "7")
    assert life is not None
    assert [each.kind for each in life.doings] == ["date_noted"] * 3


REFUSED: list[tuple[str, Callable[[Shopwork], object], str]] = [
    ("nobody", lambda shop: shop.settle_point("bad", "x", " "), "who did it"),
    ("no such job", lambda shop: shop.note_bench(999, True, "", "Martha"), "no job 999"),
    ("no such check", lambda shop: shop.carry_point("nothing", "x", "Martha"), "no check nothing"),
    ("no note", lambda shop: shop.settle_point("bad", "", "Martha"), "how it was settled"),
    ("set apart twice", lambda shop: shop.set_apart("jacket", "8", "again", "Martha"), "set apart already"),
    ("no reason", lambda shop: shop.set_apart("jacket", "9", "", "Martha"), "why it is set apart"),
    ("no day", lambda shop: shop.sign_day("2026-02-30", "Martha"), "is no date"),
    ("an empty day", lambda shop: shop.sign_day("2026-05-20", "Martha"), "nothing to sign"),
    ("a wrong kind of date", lambda shop: shop.note_date("jacket", "7", "party", DAY, "Martha"), "no kind of date"),
    ("a control character", lambda shop: shop.set_apart("jacket", "9", "x\x07", "Martha"), "control character"),
    ("half a pair", lambda shop: shop.set_apart("jacket", "9", "x\ud800", "Martha"), "control character"),
    ("a name of two lines", lambda shop: shop.set_apart("jacket", "9", "x", "Mar\ntha"), "several lines"),
    ("a name too long", lambda shop: shop.set_apart("jacket", "9", "x", "M" * 61), "61 characters"),
]  # fmt: skip


@pytest.mark.parametrize(("work", "said"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_what_is_refused_changes_nothing(shop: Shopwork, work: Callable[[Shopwork], object], said: str) -> None:
    before = shop._log.last_seq()
    with pytest.raises(BadInput, match=said) as caught:
        work(shop)
    assert caught.value.mend
    assert shop._log.last_seq() == before


def test_a_closed_job_takes_no_more(shop: Shopwork, ledger: Ledger) -> None:
    job = open_jobs(ledger)[0].seq
    shop.note_bench(job, True, "", "Martha")
    shop.return_to_rental(job, "Martha")
    with pytest.raises(BadInput, match="closed"):
        shop.note_work(job, "x", "y", "", "Martha")
