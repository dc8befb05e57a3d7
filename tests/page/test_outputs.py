"""What is taken out: tables as CSV and JSON, the day, the whole record, due dates; and words removed by command."""

from __future__ import annotations

import csv
import io
import json
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from threading import Event

import pytest
from click.testing import CliRunner
from icalendar import Calendar

from assistant.commands.record import record
from assistant.record import Ledger, Log, Reader, import_lines
from assistant.record.day_rows import checks_where

DAY = "2026-07-14"
TABLES: dict[str, list[tuple[str, ...]]] = {
    "checks": [("Ann", "ready", "2", "1", "1"), ("7", "hold", "1", "1", "0"), ("Bo", "not finished", "0", "0", "0")],
    "faults": [("jacket", "7", "inflator", "sticks", "inflator sticks"),
               ("jacket", "8", "inflator", "sticks", "inflator sticks")],
    "repairs": [("set_apart", "jacket", "7"), ("set_apart", "jacket", "8")],
    "days": [],
}  # fmt: skip
COLUMNS = {
    "checks": ("diver", "verdict", "answers", "faults", "swaps"),
    "faults": ("item", "number", "step", "code", "said"),
    "repairs": ("kind", "item", "number"),
    "days": ("kind",),
}


@pytest.mark.parametrize("table", list(TABLES))
def test_a_table_as_csv_and_as_json(served, table: str) -> None:
    browser = served.browser()
    answer = browser.get(f"/out/{table}.csv?since={DAY}&until={DAY}")
    assert answer.headers["content-disposition"] == f'attachment; filename="kitcall-{table}-{DAY}-{DAY}.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.text.removeprefix("\ufeff"))))
    assert [tuple(row[name] for name in COLUMNS[table]) for row in rows] == TABLES[table]
    found = json.loads(browser.get(f"/out/{table}.json?since={DAY}&until={DAY}").text)
    assert [tuple(str(row[name]) for name in COLUMNS[table]) for row in found] == TABLES[table]
    assert json.loads(browser.get(f"/out/{table}.json?since=2026-07-15&until=2026-07-16").text) == []


def test_the_day_as_json(served) -> None:
    day = json.loads(served.browser().get(f"/out/day.json?of={DAY}").text)
    assert [check["who"] for check in day["checks"]] == ["Ann", "7", "Bo"]
    assert [check["who"] for check in day["open"]] == ["7", "Bo"]


def test_the_whole_record_comes_back(served, tmp_path) -> None:
    lines = served.browser().get("/out/record.jsonl").text.splitlines()
    with closing(Log(tmp_path / "other.db", device="x", wall=lambda: datetime.now(UTC), monotonic=lambda: 0.0)) as log:
        assert import_lines(log, lines) == 15
        with closing(served.shop.open_log()) as own:
            assert list(log.entries()) == list(own.entries())


def test_due_dates_as_a_calendar(served) -> None:
    browser = served.browser()
    for number, on in (("7", "2025-08-01"), ("20", "2026-07-01")):
        assert browser.post("/due", item="jacket", number=number, what="service", on=on, who="Martha").status == 303
    browser.post("/due", item="cylinder", number="31", what="test", on="2024-02", who="Martha")
    made = Calendar.from_ical(browser.get("/out/due.ics").text)
    found = {str(entry["uid"]): (entry.decoded("dtstart"), entry.decoded("dtend")) for entry in made.walk("VEVENT")}
    one = timedelta(days=1)
    # a year on from each service (the settings' 12 months); five years from the test, good through its month (uk)
    assert found == {
        "service-jacket-7@kitcall": (date(2026, 8, 1), date(2026, 8, 1) + one),
        "service-jacket-20@kitcall": (date(2027, 7, 1), date(2027, 7, 1) + one),
        "test-cylinder-31@kitcall": (date(2029, 2, 28), date(2029, 2, 28) + one),
    }
    page = browser.get("/due").text
    assert page.index("Jacket 7") < page.index("Jacket 20")
    assert ">soon<" in page
    assert "<b>1</b> due or out" in browser.get(f"/day?of={DAY}").text


def test_a_name_and_its_notes_go_by_command(served) -> None:
    store = str(served.store)
    done = CliRunner().invoke(record, ["remove", "7", "--notes", "--store", store])
    assert (done.exit_code, done.output) == (0, "Removed from 1 places, with 1 voice notes. The record holds.\n")
    browser = served.browser()
    assert ">removed<" in browser.get(f"/day?of={DAY}").text
    assert browser.get("/check?id=check-1").text.count("removed") >= 1
    assert "id=check-1" not in browser.get("/find?diver=7").text
    with Reader(served.store) as reader:
        assert reader.verify().ok
        assert list(reader.all_clips()) == []


def test_nobody_of_that_name_is_said(served) -> None:
    assert CliRunner().invoke(record, ["remove", "Nobody", "--store", str(served.store)]).exit_code == 1


def test_the_ledger_holds_no_names(served) -> None:
    browser = served.browser()
    browser.post("/apart", item="jacket", number="3", why="torn", who="Wilhelmina")
    browser.get("/apart")
    for end in (".ledger", ".ledger-wal"):
        place = served.store.with_name(served.store.name + end)
        if place.exists():
            assert b"Wilhelmina" not in place.read_bytes()
            assert b"Ann" not in place.read_bytes()


def test_out_and_in_by_command(served, tmp_path) -> None:
    file, other = tmp_path / "out.jsonl", tmp_path / "other.db"
    assert CliRunner().invoke(record, ["out", str(file), "--store", str(served.store)]).exit_code == 0
    done = CliRunner().invoke(record, ["in", str(file), "--store", str(other)])
    assert (done.exit_code, "15 events were added." in done.output) == (0, True)
    again = CliRunner().invoke(record, ["in", str(file), "--store", str(other)])
    assert "0 events were added." in again.output


def test_a_clock_set_within_a_check_is_marked_and_order_is_the_records(served) -> None:
    with closing(served.shop.open_log()) as log:
        log.append_all("late-1", [("check_started", {"diver": "Cy"})], "")
        served.clock.go(60)
        log.append_all("late-2", [("check_started", {"diver": "Di"})], "")
        served.clock.go(60)
        served.clock.now += timedelta(hours=3)
        log.append_all("late-2", [("verdict_given", {"verdict": "ready"})], "")
    with Ledger(served.store, served.shop.zone) as ledger:
        ledger.follow()
        lines = checks_where(ledger, "c.session LIKE 'late%'", ())
    assert [(line.session, line.clock) for line in lines] == [
        ("late-1", None), ("late-2", "the clock was set forward by 3 h 00 min during this"),
    ]  # fmt: skip
    text = served.browser().get(f"/day?of={DAY}").text
    assert text.index("id=late-1") < text.index("id=late-2")


def test_a_clock_put_back_is_marked(served) -> None:
    served.clock.now -= timedelta(hours=2)
    with closing(served.shop.open_log()) as log:
        log.append_all("early", [("check_started", {"diver": "Cy"})], "")
        served.clock.now -= timedelta(hours=8)
        log.append_all("earlier", [("check_started", {"diver": "Di"})], "")
    assert "the clock went back by 8 h 00 min before this" in served.browser().get(f"/day?of={DAY}").text


def test_an_edit_of_the_record_shows(served) -> None:
    served.browser().get("/record")
    with closing(served.shop.open_log()) as log:
        log.append_all("x", [("check_started", {"diver": "Cy"})], "")
        log._db.execute("DROP TRIGGER event_never_changes")
        log._db.execute("UPDATE event SET facts = '{}' WHERE session = 'x'")
    browser = served.browser()
    assert "does not match its own hash" in browser.get("/record").text
    assert "The record does not hold" in browser.get(f"/day?of={DAY}").text


def test_the_whole_record_is_verified_beside_the_page(served) -> None:
    browser = served.browser()
    assert browser.post("/record/verify", token=browser.token("/record")).status == 303
    for _ in range(600):
        if served.shop.verify.result is None:
            Event().wait(0.1)
    assert "15 events, each as it was written" in browser.get("/record").text
