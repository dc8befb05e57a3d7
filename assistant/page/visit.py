"""One visit to a page: the request, the session, and drawing a template. Wraps every route of the page.

A route is a plain function of a Visit; it runs beside the event loop. Where a pass phrase is set, nobody gets
past the door without it. A form counts only with its session's token; what a form may hold is checked here.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any
from urllib.parse import parse_qsl

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from assistant.errors import BadInput, KitcallError, StoreBusy
from assistant.page import words
from assistant.page.sessions import COOKIE, Session, Sessions
from assistant.page.shop import Shop

FORM = "application/x-www-form-urlencoded"
MOST_FIELDS = 30


@dataclass(slots=True)
class Visit:
    """`given` are the fields of a form that was sent; `problem` and its mend stand at the top of the page."""

    request: Request
    shop: Shop
    sessions: Sessions
    session: Session
    given: Mapping[str, str] = field(default_factory=dict)
    problem: KitcallError | None = None

    def draw(self, name: str, **values: Any) -> Response:
        """A template as a page; 422 where it has to say that something was not done, 409 where the record is busy."""
        status = 200 if self.problem is None else 409 if isinstance(self.problem, StoreBusy) else 422
        text = templates().get_template(name).render(
            visit=self, names=self.shop.names, session=self.session, given=self.given, path=self.request.url.path,
            problem=self.problem, on_network=self.shop.on_network, **values,
        )  # fmt: skip
        return HTMLResponse(text, status)

    def query(self, name: str) -> str:
        """A value of the address, at most 200 characters of it."""
        return self.request.query_params.get(name, "").strip()[:200]


Route = Callable[[Visit], Response]


@cache
def templates() -> Environment:
    """The page's templates: everything is text, unless the template itself says otherwise."""
    made = Environment(loader=PackageLoader("assistant.page"), autoescape=True, undefined=StrictUndefined,
                       trim_blocks=True, lstrip_blocks=True)  # fmt: skip
    made.filters |= words.FILTERS
    return made


def read(route: Route, shop: Shop, sessions: Sessions, door: bool = False) -> Callable[[Request], Awaitable[Response]]:
    """A route for reading. `door`: it is the door itself, which stands open."""

    async def endpoint(request: Request) -> Response:
        return await run_in_threadpool(_answer, route, request, shop, sessions, door, None)

    return endpoint


def change(
    route: Route, shop: Shop, sessions: Sessions, door: bool = False
) -> Callable[[Request], Awaitable[Response]]:
    """A route for a form."""

    async def endpoint(request: Request) -> Response:
        if request.headers.get("content-type", "").split(";")[0].strip().lower() != FORM:
            return PlainTextResponse("Only plain forms are taken here, no files.", 415)
        try:
            given = _fields(await request.body())
        except ValueError:
            return PlainTextResponse("The form cannot be read.", 400)
        return await run_in_threadpool(_answer, route, request, shop, sessions, door, given)

    return endpoint


def _fields(body: bytes) -> dict[str, str]:
    pairs = parse_qsl(body.decode("utf-8"), keep_blank_values=True, strict_parsing=True, errors="strict",
                      max_num_fields=MOST_FIELDS) if body else []  # fmt: skip
    if len({name for name, _ in pairs}) != len(pairs):
        raise ValueError("a field came twice")
    return dict(pairs)


def _answer(
    route: Route, request: Request, shop: Shop, sessions: Sessions, door: bool, given: dict[str, str] | None
) -> Response:
    session = sessions.find(request.cookies.get(COOKIE, ""))
    fresh = session is None
    if session is None:
        session = sessions.begin(entered=shop.passphrase is None)
    if given is not None and (fresh or not sessions.fits(session, given.pop("token", ""))):
        return PlainTextResponse(
            "This form is too old or not from this page. Nothing was changed: go back, reload.", 403
        )
    if not (session.entered or door):
        if given is not None:
            return PlainTextResponse("Enter the pass phrase first. Nothing was changed.", 403)
        return _with_cookie(RedirectResponse("/enter", 303), session, fresh)
    visit = Visit(request, shop, sessions, session, given or {})
    return _with_cookie(_routed(route, visit), session, fresh)


def _routed(route: Route, visit: Visit) -> Response:
    try:
        return route(visit)
    except BadInput as problem:
        visit.problem = problem
        return visit.draw("refused.html")
    except KitcallError as problem:
        visit.problem = problem
        answer = visit.draw("refused.html")
        answer.status_code = 503
        return answer


def _with_cookie(answer: Response, session: Session, fresh: bool) -> Response:
    if fresh:
        set_cookie(answer, session)
    return answer


def set_cookie(answer: Response, session: Session) -> None:
    """Gives the browser the session's name; it keeps it until it is closed, and sends it to this page only."""
    answer.set_cookie(COOKIE, session.name, httponly=True, samesite="strict", path="/")
