"""Attacks through real HTTP: each must come to nothing, and the record must be as it was."""

from __future__ import annotations

import csv
import io
import threading
from contextlib import closing
from urllib.parse import urlencode

import pytest

from assistant.page.guard import MOST_BYTES
from assistant.page.sessions import IDLE_S, LIFE_S, MOST_WRONG, WAIT_S

PHRASE = "seven wet otters"
APART = {"item": "jacket", "number": "3", "why": "torn pocket", "who": "Martha"}

FORGED = [
    ("another host", {"Host": "evil.example"}, 421),
    ("a name that ends like ours", {"Host": "evil.localhost:{port}"}, 421),
    ("our name on another port", {"Host": "localhost:1"}, 421),
    ("no host", {"Host": None}, 400),
    ("an address nobody named", {"Host": "127.0.0.1:{port}"}, 421),
    ("another site's origin", {"Origin": "http://evil.example"}, 403),
    ("an origin without a name", {"Origin": "null"}, 403),
    ("our name by another scheme", {"Origin": "https://localhost:{port}"}, 403),
]


@pytest.mark.parametrize("method", ["GET", "POST"])
@pytest.mark.parametrize(("forged", "status"), [row[1:] for row in FORGED], ids=[row[0] for row in FORGED])
def test_forged_heads_reach_nothing(served, method: str, forged: dict[str, str | None], status: int) -> None:
    browser = served.browser()
    token = browser.token()
    headers = {name: value and value.format(port=served.port) for name, value in forged.items()}
    body = urlencode({"token": token, **APART}) if method == "POST" else None
    answer = browser.send(method, "/apart", body, headers)
    assert answer.status == status
    assert "Jacket" not in answer.text
    assert served.entries() == []


def test_a_change_without_an_origin_is_refused(served) -> None:
    assert served.browser().post("/apart", {"Origin": None}, **APART).status == 403
    assert served.entries() == []


TOKENS = [("none", ""), ("a guess", "0" * 64), ("odd letters", "\udc80ü"), ("cut short", "1" * 8)]


@pytest.mark.parametrize("token", [row[1] for row in TOKENS], ids=[row[0] for row in TOKENS])
def test_a_form_needs_its_sessions_token(served, token: str) -> None:
    browser = served.browser()
    browser.get("/")
    body = urlencode({"token": token, **APART}, errors="surrogatepass")
    assert browser.send("POST", "/apart", body).status in (400, 403)
    assert served.entries() == []


def test_a_token_of_another_session_is_worth_nothing(served) -> None:
    mine, other = served.browser(), served.browser()
    mine.get("/")
    assert mine.post("/apart", token=other.token(), **APART).status == 403
    assert served.entries() == []


def test_the_right_token_does_the_work(served) -> None:
    assert served.browser().post("/apart", **APART).status == 303
    assert [kind for kind, _ in served.entries()] == ["set_apart"]


TYPES = ["multipart/form-data; boundary=x", "application/json", "text/plain", ""]


@pytest.mark.parametrize("kind", TYPES)
def test_no_files_and_no_foreign_forms(served, kind: str) -> None:
    answer = served.browser().post("/apart", {"Content-Type": kind}, **APART)
    assert answer.status == 415
    assert served.entries() == []


def test_too_much_is_refused_by_its_length(served) -> None:
    assert served.browser().post("/apart", **{**APART, "why": "x" * MOST_BYTES}).status == 413
    assert served.entries() == []


def test_too_much_in_pieces_is_refused_as_it_comes(served) -> None:
    browser = served.browser()
    token = browser.token()
    piece = b"4000\r\n" + b"x" * 0x4000 + b"\r\n"
    start = f"1000\r\ntoken={token}&why=".encode().ljust(0x1000 + 6, b"x") + b"\r\n"
    body = start + piece * 40 + b"0\r\n\r\n"
    assert browser.send("POST", "/apart", body, {"Transfer-Encoding": "chunked"}).status == 413
    assert served.entries() == []


BODIES = [
    ("no form at all", "\x00\x01\x02"), ("broken text", "token=%ff%fe"), ("a field twice", "token=a&token=b"),
    ("more fields than any form", "&".join(f"f{n}=1" for n in range(100))), ("empty", ""),
]  # fmt: skip


@pytest.mark.parametrize("body", [row[1] for row in BODIES], ids=[row[0] for row in BODIES])
def test_broken_forms_are_refused(served, body: str) -> None:
    browser = served.browser()
    browser.get("/")
    assert browser.send("POST", "/apart", body).status in (400, 403)
    assert served.entries() == []


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "TRACE", "PATCH"])
def test_other_methods_are_unknown(served, method: str) -> None:
    assert served.browser().send(method, "/apart").status == 405


PATHS = [
    "/style.css/../../pyproject.toml", "/../../../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd",
    "/note?clip=../record.db",
    "/note?clip=/etc/passwd", "/out/..%2f..%2fetc%2fpasswd.csv", "/picture/..%2fstyle.css", "/out/sqlite_schema.csv",
    "/templates/base.html", "/static/style.css", "//evil.example/", "/item?kind=jacket&number=../../x",
]  # fmt: skip


@pytest.mark.parametrize("path", PATHS)
def test_no_path_comes_from_outside(served, path: str) -> None:
    answer = served.browser().get(path)
    assert answer.status in (404, 422)
    assert "root:" not in answer.text
    assert "[project]" not in answer.text


QUOTES = ["' OR 1=1 --", "x'; DROP TABLE checks; --", '" OR ""="', "%", "\\", "a\x00b", "ünï"]


@pytest.mark.parametrize("words", QUOTES)
@pytest.mark.parametrize("field", ["diver", "number", "item", "fault", "since", "until"])
def test_search_words_are_only_words(served, field: str, words: str) -> None:
    answer = served.browser().get("/find?" + urlencode({field: words}))
    assert answer.status == (422 if field in ("since", "until") else 200)
    assert "id=check-" not in answer.text
    assert served.browser().get("/day?of=2026-07-14").status == 200


def test_every_answer_forbids_foreign_script_and_framing(served) -> None:
    browser = served.browser()
    for path in ("/", "/day?of=2026-07-14", "/apart", "/nothing", "/style.css", "/out/checks.csv", "/enter"):
        headers = browser.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert "require-trusted-types-for 'script'; trusted-types 'none';" in policy  # no text becomes an element
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["x-content-type-options"] == "nosniff"
    picture = browser.get("/picture/kinds.svg").headers["content-security-policy"]
    assert picture == "default-src 'none'; style-src 'unsafe-inline'"


def test_the_cookie_is_out_of_reach(served) -> None:
    cookie = served.browser().get("/").headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


HOSTILE = ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{ 7*7 }}", "</textarea><b>", "&lt;ok&gt;"]


@pytest.mark.parametrize("words", HOSTILE)
def test_names_and_notes_are_shown_as_text(served, words: str) -> None:
    browser = served.browser()
    assert browser.post("/apart", item="jacket", number="3", why=words, who=words).status == 303
    job = browser.get("/job?of=" + str(len_of(served))).text
    for raw in ("<script>", "<img src=x", "</textarea><b>", ">49<"):
        assert raw not in job
    assert (
        browser.post("/job/work", job=str(len_of(served)), found=words, done=words, parts="", who=words).status == 303
    )
    for path in ("/apart", f"/job?of={len_of(served) - 1}", "/item?kind=jacket&number=3", "/day?of=2026-07-14"):
        text = browser.get(path).text
        for raw in ("<script>", "<img src=x", "</textarea><b>", ">49<"):
            assert raw not in text


def len_of(served) -> int:
    with closing(served.shop.open_log()) as log:
        return log.last_seq()


FORMULAS = ["=1+1", "+1", "-1+1", "@SUM(A1)", "\t=1", "=cmd|' /C calc'!A0", "\uff1d1"]


@pytest.mark.parametrize("words", FORMULAS)
def test_spreadsheet_formulas_are_defused(served, words: str) -> None:
    browser = served.browser()
    browser.post("/apart", item="jacket", number="3", why="x" + words, who="Martha")
    with closing(served.shop.open_log()) as log:
        log.append_all("shop", [("work_noted", {"job": log.last_seq(), "item": "jacket", "number": words,
                                                "found": words, "done": words, "parts": words})], "")  # fmt: skip
        log.append_all("c9", [("check_started", {"diver": words, "items": {"jacket": words}})], "")
    for table in ("checks", "faults", "repairs", "days"):
        rows = list(csv.reader(io.StringIO(browser.get(f"/out/{table}.csv").text.removeprefix("\ufeff"))))
        assert all(not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\uff1d")) for row in rows for cell in row)
    repairs = browser.get("/out/repairs.csv").text
    assert "'" + words.split("\t")[-1][:3] in repairs or "'\t" in repairs


def test_nobody_gets_past_the_door(locked) -> None:
    browser = locked.browser()
    for path in (
        "/",
        "/day",
        "/apart",
        "/out/record.jsonl",
        "/out/checks.csv",
        "/note?clip=" + "0" * 64,
        "/picture/kinds.svg",
    ):
        answer = browser.get(path)
        assert (answer.status, answer.headers.get("location")) == (303, "/enter")
        assert b"Ann" not in answer.body
    assert browser.post("/apart", token=browser.token("/enter"), **APART).status == 403
    assert locked.entries() == []


def enter(browser, phrase: str = PHRASE):
    return browser.post("/enter", token=browser.token("/enter"), phrase=phrase)


def test_the_pass_phrase_opens_and_the_session_gets_a_new_name(locked) -> None:
    browser = locked.browser()
    browser.get("/enter")
    before = browser.cookie
    assert enter(browser).status == 303
    assert browser.cookie != before
    assert "Jacket" in browser.get("/items").text
    stolen = locked.browser()
    stolen.cookie = before
    assert stolen.get("/items").status == 303


def test_only_the_hash_is_kept(locked) -> None:
    kept = (locked.store.parent / "phrase").read_text()
    assert kept.startswith("$argon2id$")
    assert PHRASE not in kept
    assert (locked.store.parent / "phrase").stat().st_mode & 0o077 == 0


ENDS: list[tuple[str, float, int]] = [
    ("idle too long", IDLE_S + 1, 1),
    ("too long in all", IDLE_S - 60, int(LIFE_S / (IDLE_S - 60)) + 2),
]


@pytest.mark.parametrize(("pause_s", "times"), [row[1:] for row in ENDS], ids=[row[0] for row in ENDS])
def test_sessions_end(locked, pause_s: float, times: int) -> None:
    browser = locked.browser()
    enter(browser)
    statuses = []
    for _ in range(times):
        locked.clock.go(pause_s)
        statuses.append(browser.get("/items").status)
    assert statuses[-1] == 303
    assert all(status == 200 for status in statuses[:-2])


def test_leaving_ends_the_session(locked) -> None:
    browser = locked.browser()
    enter(browser)
    cookie = browser.cookie
    assert browser.post("/leave").status == 303
    browser.cookie = cookie
    assert browser.get("/items").status == 303


def test_guessing_is_slowed(locked) -> None:
    browser = locked.browser()
    assert [enter(browser, f"wrong phrase {n}").status for n in range(MOST_WRONG)] == [422] * MOST_WRONG
    assert enter(browser).status == 422
    locked.clock.go(WAIT_S + 1)
    assert enter(browser).status == 303


def test_the_network_sees_a_warning(locked) -> None:
    answer = locked.browser().send("GET", "/enter", headers={"Host": f"shop.example:{locked.port}"})
    assert answer.status == 200
    assert "unencrypted" in answer.text


def test_many_at_once_see_one_truth(served) -> None:
    statuses: list[int] = []

    def work(number: int) -> None:
        browser = served.browser()
        statuses.append(browser.post("/apart", **{**APART, "number": str(number % 3)}).status)

    threads = [threading.Thread(target=work, args=(n,)) for n in range(9)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    numbers = [str(facts["number"]) for _, facts in served.entries()]
    assert sorted(numbers) == sorted(set(numbers))
    assert set(statuses) <= {303, 409, 422}
