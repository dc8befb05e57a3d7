"""The shop's page served for real: uvicorn on a port of this machine, a real store, a clock that the test holds."""

from __future__ import annotations

import http.client
import itertools
import re
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

import pytest
import uvicorn
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, sync_playwright

from assistant.page import Names, PassPhrase, Shop, build
from assistant.page.verifying import Verifying
from assistant.record import Clip, Log, Personal
from assistant.sums.settings import defaults

ZONE = ZoneInfo("Europe/Athens")
DIGEST = "d" * 64
PHRASE = "seven wet otters"
CHROMIUM = Path("/usr/bin/chromium")
# without these Chromium goes out to the network at every start
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip


@dataclass
class Clock:
    """The wall and the steady clock of a test, both moved by hand."""

    now: datetime = datetime(2026, 7, 14, 16, 0, tzinfo=UTC)
    steady: float = 1000.0

    def wall(self) -> datetime:
        return self.now

    def steady_s(self) -> float:
        return self.steady

    def go(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)
        self.steady += seconds


@dataclass
class Answer:
    """What came back over the wire."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode("utf-8")


@dataclass
class Browser:
    """Plain HTTP with a cookie jar of one cookie; every header can be forged."""

    port: int
    cookie: str = ""
    headers: dict[str, str] = field(default_factory=dict)

    def send(
        self, method: str, path: str, body: bytes | str | None = None, headers: dict[str, str | None] | None = None
    ) -> Answer:
        """One request. A header given as None is left out."""
        host = f"localhost:{self.port}"
        sent: dict[str, str | None] = {"Host": host, "Cookie": self.cookie or None, **self.headers}
        if method == "POST":
            sent |= {"Origin": f"http://{host}", "Content-Type": "application/x-www-form-urlencoded"}
        sent |= headers or {}
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)) as wire:
            wire.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in sent.items():
                if value is not None:
                    wire.putheader(name, value)
            raw = body.encode() if isinstance(body, str) else body
            if raw is not None and "Content-Length" not in sent and "Transfer-Encoding" not in sent:
                wire.putheader("Content-Length", str(len(raw)))
            with suppress(BrokenPipeError, ConnectionResetError):
                wire.endheaders(raw)
            got = wire.getresponse()
            answer = Answer(got.status, {name.lower(): value for name, value in got.getheaders()}, got.read())
        if found := re.match(r"(kitcall_shop=[0-9a-f]+)", answer.headers.get("set-cookie", "")):
            self.cookie = found[1]
        return answer

    def get(self, path: str, **headers: str | None) -> Answer:
        return self.send("GET", path, headers=headers)

    def token(self, path: str = "/apart") -> str:
        found = re.search(r'name="token" value="([0-9a-f]+)"', self.get(path).text)
        assert found is not None
        return found[1]

    def post(self, path: str, headers: dict[str, str | None] | None = None, **fields: str) -> Answer:
        """A form with the session's own token, unless another is given."""
        fields = {"token": fields.pop("token", None) or self.token(), **fields}
        return self.send("POST", path, urlencode(fields), headers)


@dataclass
class Served:
    """A page that is being served."""

    port: int
    shop: Shop
    clock: Clock
    store: Path

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    def browser(self) -> Browser:
        return Browser(self.port)

    def job(self) -> int:
        """The first job of the record."""
        return next(seq for seq in range(1, 30) if self.browser().get(f"/job?of={seq}").status == 200)

    def entries(self, session: str = "shop") -> list[tuple[str, dict[str, object]]]:
        """What the record holds of that session."""
        with closing(self.shop.open_log()) as log:
            return [(entry.kind, dict(entry.facts)) for entry in log.entries(session)]


@pytest.fixture(scope="session")
def names() -> Names:
    return Names({"jacket": "Jacket", "regulator": "Regulator set"}, {"inflator": "Inflator"},
                 {("inflator", "sticks"): "inflator sticks"})  # fmt: skip


def open_log(path: Path, clock: Clock) -> Log:
    numbers = itertools.count(1)
    seed = time.monotonic_ns()
    return Log(path, device="box", wall=clock.wall, monotonic=clock.steady_s,
               random_bytes=lambda count: (seed + next(numbers)).to_bytes(count, "big"))  # fmt: skip


def fill(log: Log, clock: Clock) -> None:
    """Two mornings: Ann's jacket is swapped, diver 7 ends on hold with a note, a third is never finished."""
    clip = Clip(b"RIFF" + bytes(200), 16000, 0.1)
    for number, (who, ends) in enumerate([("Ann", "ready"), ("7", "hold"), ("Bo", "")]):
        session = f"check-{number}"

        def write(kind: str, clips: tuple[Clip, ...] = (), session: str = session, **facts: object) -> None:
            log.append_all(session, [(kind, facts)], DIGEST, clips)
            clock.go(20)

        write("check_started", check="rental", diver=who, items={"jacket": str(7 + number), "regulator": "12"})
        write("asked", what="step", step="inflator", item="jacket", because="", said=["Press the inflator."])
        if number < 2:
            write("answered", step="inflator", outcome="fault", code="sticks", heard="inflator sticks", by="voice")
            write("set_apart", item="jacket", number=str(7 + number), step="inflator", code="sticks")
        if number == 0:
            write("replaced", item="jacket", old="7", new="20", heard="swapped number two zero")
            write("answered", step="inflator", outcome="passed", heard="inflator works and shuts off", by="voice")
        if number == 1:
            write("noted", (clip,), step="inflator", item="jacket", clip=clip.digest)
        if ends:
            reasons = (
                [] if ends == "ready" else [{"kind": "fault", "step": "inflator", "code": "sticks", "item": "jacket"}]
            )
            write("verdict_given", verdict=ends, reasons=reasons, said=[ends.capitalize()])


@pytest.fixture
def serve() -> Iterator[Callable[..., Served]]:
    """Serves a store until the test ends: a server that is idle still takes its turn ten times a second."""
    ends: list[tuple[uvicorn.Server, threading.Thread, Verifying]] = []

    def serving(path: Path, clock: Clock, names: Names, phrase: PassPhrase | None = None, network: str = "") -> Served:
        numbers = itertools.count(1)
        verifying = Verifying(path, clock.wall)
        shop = Shop(
            path, ZONE, lambda: open_log(path, clock), clock.wall, clock.steady_s, lambda: f"{next(numbers):064x}",
            defaults(), frozenset(), verifying, names, "uk", "steel", phrase, bool(network),
        )  # fmt: skip
        server = uvicorn.Server(
            uvicorn.Config(
                Late(shop),
                host="127.0.0.1",
                port=0,
                log_level="error",
                lifespan="off",
                ws="none",
                loop="asyncio",
                http="h11",
            )
        )
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        while not server.started:
            assert thread.is_alive(), "the server ended before it began"
            thread.join(0.01)
        port = server.servers[0].sockets[0].getsockname()[1]
        shop.hosts = frozenset({f"localhost:{port}", *([f"{network}:{port}"] if network else [])})

        ends.append((server, thread, verifying))
        return Served(port, shop, clock, path)

    yield serving
    for server, _, _ in ends:
        server.should_exit = True
    for _, thread, verifying in ends:
        thread.join(10)
        verifying.close()


class Late:
    """The page, built at the first request, when its port is known."""

    def __init__(self, shop: Shop) -> None:
        self._shop, self._app = shop, None

    async def __call__(self, scope, receive, send):  # type: ignore[no-untyped-def]
        if self._app is None:
            self._app = build(self._shop)
        await self._app(scope, receive, send)


@pytest.fixture
def served(serve: Callable[..., Served], names: Names, tmp_path: Path) -> Served:
    """A page with the two mornings, open to whoever sits at this machine."""
    clock = Clock(now=datetime(2026, 7, 14, 6, 0, tzinfo=UTC))
    path = tmp_path / "record.db"
    with closing(open_log(path, clock)) as log:
        fill(log, clock)
    clock.now = datetime(2026, 7, 14, 16, 0, tzinfo=UTC)
    return serve(path, clock, names)


@pytest.fixture
def locked(serve: Callable[..., Served], names: Names, tmp_path: Path) -> Served:
    """The same behind a pass phrase, under a name of the network."""
    clock = Clock()
    path = tmp_path / "record.db"
    with closing(open_log(path, clock)) as log:
        log.append_all("c", [("check_started", {"diver": Personal("Ann"), "items": {"jacket": "7"}})], DIGEST)
    return serve(path, clock, names, PassPhrase.keep(tmp_path / "phrase", PHRASE), "shop.example")


def failed(request: Any) -> bool:
    """Whether a request came to nothing; one that the next page cut short did not."""
    return bool(request.failure != "net::ERR_ABORTED")


@pytest.fixture(scope="module")
def chromium() -> Iterator[Chromium]:
    if not CHROMIUM.exists():
        pytest.skip("no /usr/bin/chromium (.ci/setup test installs it)")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def open_page(chromium: Chromium, served) -> Iterator[Callable[..., Page]]:
    """Opens pages of the served store; anything the console complains of fails the test."""
    complaints: list[str] = []
    contexts = []

    def opening(path: str = "/", width: int = 1200, **options: Any) -> Page:
        context = chromium.new_context(viewport={"width": width, "height": 900}, base_url=served.url, **options)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(90_000)  # a loaded machine is slow, not wrong
        page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
        page.on("requestfailed", lambda request: complaints.append(request.url) if failed(request) else None)
        page.goto(path)
        return page

    yield opening
    for context in contexts:
        context.close()
    expected = ("422", "409", "/note?")  # refusals have their own tests; a note is not fetched before it is played
    assert [each for each in complaints if not any(part in each for part in expected)] == []
