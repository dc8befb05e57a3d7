"""The page's own script in a real browser: it narrows long lists, keeps what was not sent, and shows what went wrong.

That everything works without it, test_evening.py shows with script switched off.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing

from playwright.sync_api import Page

from assistant.record import Personal

DAY = "2026-07-14"


def test_a_long_list_narrows_while_one_types(open_page: Callable[..., Page], served) -> None:
    with closing(served.shop.open_log()) as log:
        for number in range(30, 50):
            log.append_all(f"more-{number}", [("check_started", {"diver": Personal("Zoë"), "items": {
                "jacket": str(number), "regulator": str(number)}})], "")  # fmt: skip
    page = open_page("/items")
    page.get_by_label("Show only lines with").fill("regulator 4")
    rows = [row.split()[2] for row in page.locator("tbody tr:visible").all_inner_texts()]
    assert rows == [str(number) for number in range(40, 50)]
    assert "10 of 45 shown" in page.get_by_role("status").inner_text()
    assert page.get_by_role("heading", level=2).all_inner_texts() == ["Regulator set 21 numbered"]
    page.get_by_label("Show only lines with").fill("jacket 2")
    assert [row.split()[1] for row in page.locator("tbody tr:visible").all_inner_texts()] == ["20"]  # no date, no count
    page.get_by_label("Show only lines with").fill("")
    assert page.locator("tbody tr:visible").count() == 45
    page.goto(f"/day?of={DAY}")
    page.get_by_label("Show only lines with").fill("zoe")
    assert page.locator("#checks ~ .scroll tbody tr:visible").count() == 20


def test_what_was_not_sent_is_there_after_a_reload_and_gone_once_sent(open_page: Callable[..., Page], served) -> None:
    page = open_page("/apart")
    page.get_by_label("Why").fill("Torn pocket.")
    page.locator("#apart-who").fill("Martha")
    page.reload()
    assert page.get_by_label("Why").input_value() == "Torn pocket."
    page.get_by_role("button", name="Set apart").click()
    assert [kind for kind, _ in served.entries()] == ["set_apart"]
    assert page.get_by_label("Why").input_value() == ""
    page.reload()
    assert page.get_by_label("Why").input_value() == ""
    assert page.evaluate("Object.keys(sessionStorage)") == []


def test_the_focus_goes_to_what_went_wrong(open_page: Callable[..., Page], served) -> None:
    page = open_page(f"/job?of={served.job()}")
    page.get_by_label("What was found").fill("Sand.")
    page.get_by_label("What was done", exact=True).fill("   ")
    page.locator("#who-work").fill("Martha")
    page.get_by_role("button", name="Write it down").first.click()
    page.wait_for_function("document.activeElement.className == 'problem'")
