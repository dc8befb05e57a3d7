"""An evening's work in a real browser: by mouse, by keyboard alone, on a narrow screen, on paper; axe on every page.

Chromium is Debian's; the pages are those of the real server over a real store, once with script switched off.
"""

from __future__ import annotations

import io
import json
import unicodedata
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

from assistant.record import Personal

DAY = "2026-07-14"
PAGES = ["/", f"/sheet?of={DAY}", "/check?id=check-0", "/check?id=check-1", "/items", "/item?kind=jacket&number=7",
         "/apart", "/job?of={job}", "/due", "/faults", "/find?item=jacket&number=8",
         "/record", "/day?of=2026-07-15"]  # fmt: skip
LOOKED_AT_NARROW = ("/", "/apart")
POINTS_A4, POINTS_LETTER = (595, 842), (612, 792)
FOREIGN = "script:not([src='/shop.js']), b[onmouseover]"
FUZZED, FORMS = 120, 12  # names through the store; of these, notes through a form
HOSTILE = ["<script>document.title='gone'</script>", "\"'><b onmouseover=alert(1)>x</b>", "\u202egnirts\u202c",
           "{{7*7}}", "Zoë 🤿 \u0301\u0301", "a" * 60, "&amp;&lt;"]  # fmt: skip


def test_an_evening_by_mouse(open_page: Callable[..., Page], served) -> None:
    page = open_page(java_script_enabled=False)
    tiles = page.locator(".first b").all_inner_texts()
    assert tiles == ["2", "0", "2", "0"]
    for note, button in (("Stayed ashore.", "Settled"), ("Comes tomorrow.", "Carry over")):
        page.locator(".point summary").first.click()
        page.get_by_label("What was done, or why it waits").first.fill(note)
        page.locator(".point").first.get_by_label("Your name").fill("Martha")
        page.locator(".point").first.get_by_role("button", name=button).click()
    assert page.locator(".first b").all_inner_texts()[0] == "0"
    page.get_by_role("link", name="Set apart", exact=True).click()
    page.locator(".cards a").first.click()
    page.get_by_label("What was found").fill("Valve sticks with sand.")
    page.get_by_label("What was done", exact=True).fill("Taken apart, cleaned.")
    page.get_by_label("Parts").fill("Seat 12")
    page.get_by_role("button", name="Write it down").first.click()
    page.get_by_label("passed", exact=True).check()
    page.get_by_role("button", name="Write it down").last.click()
    page.get_by_role("button", name="Put it back on the rail").click()
    assert "back in rental" in page.locator("h1").inner_text()
    page.get_by_role("link", name="The day", exact=True).click()
    page.get_by_role("button", name=f"Sign off {DAY}").click()
    assert "Signed off by Martha" in page.locator("main").inner_text()
    assert [kind for kind, _ in served.entries()] == [
        "point_settled", "point_carried", "work_noted", "bench_checked", "returned_to_rental", "day_signed",
    ]  # fmt: skip
    assert {facts["who"] for _, facts in served.entries()} == {"Martha"}


def reach(page: Page, wanted: str, most: int = 120) -> None:
    """Presses Tab until what has the focus is called that."""
    name = ""
    for _ in range(most):
        page.keyboard.press("Tab")
        name = page.evaluate(
            """() => { const e = document.activeElement; if (!e) return '';
            return (e.getAttribute('aria-label') || (e.labels && e.labels[0] && e.labels[0].innerText)
                || e.innerText || e.id || '').trim(); }"""
        )
        if name.startswith(wanted):
            return
    raise AssertionError(f"{wanted} was not reached by Tab; last was {name}")


def test_an_evening_by_keyboard_alone(open_page: Callable[..., Page], served) -> None:
    page = open_page()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    for _ in range(2):
        reach(page, "Settle or carry over")
        page.keyboard.press("Enter")
        reach(page, "What was done, or why")
        page.keyboard.type("Stayed ashore.")
        reach(page, "Your name")
        page.keyboard.press("Control+A")
        page.keyboard.type("Joseph")
        reach(page, "Settled")
        with page.expect_navigation():
            page.keyboard.press("Enter")
    reach(page, "Set apart")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    reach(page, "Jacket 7")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    reach(page, "passed")
    page.keyboard.press("Space")
    reach(page, "Write it down")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    reach(page, "Put it back on the rail")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    reach(page, "The day")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    reach(page, "Sign off")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert [kind for kind, _ in served.entries()] == [
        "point_settled", "point_settled", "bench_checked", "returned_to_rental", "day_signed",
    ]  # fmt: skip


def test_what_is_refused_keeps_what_was_written(open_page: Callable[..., Page], served) -> None:
    page = open_page(f"/job?of={served.job()}")
    page.get_by_label("What was found").fill("Sand in the valve.")
    page.get_by_label("What was done", exact=True).fill("   ")
    page.locator("#who-work").fill("Martha")
    page.get_by_role("button", name="Write it down").first.click()
    assert "Not done." in page.get_by_role("alert").inner_text()
    assert page.get_by_label("What was found").input_value() == "Sand in the valve."
    assert served.entries() == []


def test_a_busy_record_keeps_what_was_written(open_page: Callable[..., Page], served) -> None:
    page = open_page("/apart")
    page.get_by_label("Why").fill("Torn pocket.")
    page.locator("#apart-who").fill("Martha")
    log = served.shop.open_log()
    try:
        page.get_by_role("button", name="Set apart").click()
        assert "is writing to" in page.get_by_role("alert").inner_text()
        assert page.get_by_label("Why").input_value() == "Torn pocket."
    finally:
        log.close()
    page.get_by_role("button", name="Set apart").click()
    assert [kind for kind, _ in served.entries()] == ["set_apart"]


@pytest.mark.parametrize("width", [360, 1200])
def test_every_page_fits_and_axe_finds_nothing_serious(open_page: Callable[..., Page], served, width: int) -> None:
    import axe_playwright_python

    script = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    page, found, job = open_page(width=width, bypass_csp=True), {}, served.job()
    for path in PAGES:
        page.goto(path.format(job=job))
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
        if width < 1200 and path not in LOOKED_AT_NARROW:
            continue
        page.evaluate(script)
        result = page.evaluate("axe.run({resultTypes: ['violations']})")
        assert result["passes"], "axe did not look"
        found[path] = [(each["id"], each["impact"], each["nodes"][0]["html"][:120]) for each in result["violations"]
                       if each["impact"] in ("serious", "critical", "moderate")]  # fmt: skip
    assert found == {path: [] for path in (PAGES if width == 1200 else LOOKED_AT_NARROW)}


def test_axe_would_have_found_something(open_page: Callable[..., Page]) -> None:
    import axe_playwright_python

    script = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    page = open_page(bypass_csp=True)
    page.evaluate("document.querySelector('main').innerHTML += '<input><img src=\"/icon.svg\">'")
    page.evaluate(script)
    assert {"label", "image-alt"} <= {each["id"] for each in page.evaluate("axe.run()")["violations"]}


def plain_text(read: PdfReader) -> str:
    """The words of the first page; ligatures as the letters they stand for."""
    return " ".join(unicodedata.normalize("NFKC", read.pages[0].extract_text()).split())


@pytest.mark.parametrize(("paper", "size"), [("", POINTS_A4), ("letter", POINTS_LETTER)], ids=["A4", "Letter"])
def test_the_day_sheet_on_paper(open_page: Callable[..., Page], paper: str, size: tuple[int, int]) -> None:
    page = open_page(f"/sheet?of={DAY}&paper={paper}")
    read = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    assert len(read.pages) == 1
    box = read.pages[0].mediabox
    assert (abs(float(box.width) - size[0]) < 2, abs(float(box.height) - size[1]) < 2) == (True, True)
    text = plain_text(read)
    for words in ("Day sheet, Tuesday 14 July 2026", "3 checks, 1 READY, 2 faults, 2 open points", "Ann", "READY",
                  "HOLD", "Inflator sticks", "certifies nothing", "Name, time, signature"):  # fmt: skip
        assert words in text
    assert "Set apart Items" not in text


def test_the_day_itself_prints_without_forms(open_page: Callable[..., Page]) -> None:
    text = plain_text(PdfReader(io.BytesIO(open_page().pdf())))
    assert "Tuesday 14 July 2026" in text
    assert "What was done, or why it waits" not in text
    assert "Your name" not in text


def test_a_voice_note_is_there_to_play(open_page: Callable[..., Page], served) -> None:
    page = open_page("/check?id=check-1")
    source = page.locator("audio").get_attribute("src")
    assert source is not None
    answer = served.browser().get(source)
    assert (answer.headers["content-type"], answer.body[:4]) == ("audio/wav", b"RIFF")


def test_a_check_tells_what_was_said_heard_and_decided(open_page: Callable[..., Page]) -> None:
    told = open_page("/check?id=check-0").locator(".told").inner_text()
    for words in ("Inflator", "kitcall said", "Press the inflator.", "heard", "“inflator sticks”", "decided",
                  "FAULT: Inflator sticks", "Jacket 7 set apart", "Jacket 7 replaced by 20"):  # fmt: skip
        assert words in told


MARKS = [*"<>&\"'`{}[]()=;:/\\%#!-", "<script>", "</td>", "<!--", "]]>", "{{7*7}}", "{%", "javascript:", "onload=",
         "<img src=x onerror=alert(1)>", "&#60;", "\u202e", "\u0301", "\u2028", "\ufeff", "\U0001f93f", "é", "名", "ل",
         "\xa0", " "]  # fmt: skip


def jumbled(random: Random) -> str:
    """Marks that a browser could take for its own, in any order, between letters that find them again."""
    return "x" + "".join(random.choice(MARKS) for _ in range(random.randint(1, 9))) + "x"


def test_random_names_and_notes_stay_words(open_page: Callable[..., Page], served) -> None:
    """Through the store as divers' names and spoken words, through forms as notes: no element, no script, no dialog."""
    random = Random(6)
    words = [jumbled(random) for _ in range(FUZZED)]
    with closing(served.shop.open_log()) as log:
        for number, each in enumerate(words):
            fault = {"step": "inflator", "outcome": "fault", "code": "sticks", "heard": each, "by": "voice"}
            log.append_all(f"fuzz-{number}", [
                ("check_started", {"diver": Personal(each), "items": {"jacket": "7"}}), ("answered", fault),
                ("set_apart", {"item": "jacket", "number": None, "why": each}),
            ], "")  # fmt: skip
    page, dialogs, browser = open_page(f"/day?of={DAY}"), list[str](), served.browser()
    page.on("dialog", lambda dialog: dialogs.append(dialog.message))
    for each in words[:FORMS]:
        assert browser.post("/apart", item="mask", number="", why=each, who=each).status == 303
    for path in (f"/day?of={DAY}", "/apart", f"/sheet?of={DAY}", "/check?id=fuzz-0"):
        page.goto(path)
        assert page.locator(f"{FOREIGN}, img:not([src^='/picture']), [onload], [onerror]").count() == 0
        assert "49" not in page.title()
    page.goto(f"/day?of={DAY}")
    shown = page.locator("#checks ~ .scroll tbody th").evaluate_all("rows => rows.map(row => row.textContent)")
    assert shown[-FUZZED:] == words
    assert dialogs == []


@pytest.mark.parametrize("words", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_words_stay_words_in_a_real_browser(open_page: Callable[..., Page], served, words: str) -> None:
    browser = served.browser()
    assert browser.post("/apart", item="jacket", number="3", why=words, who=words).status == 303
    page = open_page("/apart")
    dialogs: list[str] = []
    page.on("dialog", lambda dialog: dialogs.append(dialog.message))
    assert words.strip() in page.locator(".cards").inner_text() or "\u202e" in words
    page.goto("/item?kind=jacket&number=3")
    assert "gone" not in page.title()
    assert page.locator(FOREIGN).count() == 0
    assert dialogs == []
    assert served.entries()[-1][1]["why"] == words
    assert json.loads(json.dumps(words)) == words
