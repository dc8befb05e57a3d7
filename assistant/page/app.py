"""The page as one ASGI application: every address with what it does. Nothing here draws or decides."""

from __future__ import annotations

from importlib.resources import files

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from assistant.page import forms, outputs, pages, plots
from assistant.page import visit as visits
from assistant.page.guard import Guard
from assistant.page.sessions import Sessions
from assistant.page.shop import Shop

READ = {
    "/": pages.home,
    "/day": pages.day,
    "/sheet": pages.sheet,
    "/check": pages.check,
    "/note": pages.note,
    "/items": pages.items,
    "/item": pages.item,
    "/apart": pages.apart,
    "/job": pages.job,
    "/due": pages.all_due,
    "/faults": pages.faults,
    "/find": pages.find,
    "/record": pages.record,
    "/picture/{name}": plots.picture,
    "/out/day.json": outputs.day_json,
    "/out/record.jsonl": outputs.record_lines,
    "/out/due.ics": outputs.calendar,
    "/out/{table}.csv": outputs.as_csv,
    "/out/{table}.json": outputs.as_json,
}
CHANGE = {
    "/apart": forms.set_apart,
    "/job/work": forms.work,
    "/job/bench": forms.bench,
    "/job/back": forms.back_to_rental,
    "/due": forms.note_date,
    "/day/point": forms.settle,
    "/day/sign": forms.sign,
    "/record/verify": forms.verify,
    "/leave": forms.leave,
}
ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 16"><rect width="16" height="16" fill="#0b3c5d"/>'
    '<path d="M3 8.5l3.2 3.2L13 4.6" stroke="#fff" stroke-width="2.4" fill="none"/></svg>'
)
NO_PAGE = (
    '<!doctype html><html lang="en"><title>No such page</title><link rel="stylesheet" href="/style.css"><main>'
    '<h1>There is no such page</h1><p><a href="/">To the newest day</a></p></main></html>'
)
STYLE = files("assistant.page").joinpath("style.css")
SCRIPT = files("assistant.page").joinpath("shop.js")


def build(shop: Shop) -> ASGIApp:
    """The whole page behind its guard."""
    with shop.reading():
        pass  # the ledger is there before two visits could make it at once
    sessions = Sessions(shop.steady_s, shop.random_hex)
    routes = [
        Route("/enter", visits.read(forms.door, shop, sessions, door=True), methods=["GET"]),
        Route("/enter", visits.change(forms.enter, shop, sessions, door=True), methods=["POST"]),
        Route("/style.css", style, methods=["GET"]),
        Route("/shop.js", script, methods=["GET"]),
        Route("/icon.svg", icon, methods=["GET"]),
        *(Route(path, visits.read(route, shop, sessions), methods=["GET"]) for path, route in READ.items()),
        *(Route(path, visits.change(route, shop, sessions), methods=["POST"]) for path, route in CHANGE.items()),
    ]
    return Guard(Starlette(routes=routes, exception_handlers={404: missing}), shop.hosts)


async def style(request: Request) -> Response:
    """The one style sheet."""
    return Response(STYLE.read_bytes(), media_type="text/css", headers={"cache-control": "max-age=3600"})


async def script(request: Request) -> Response:
    """The one script; the page works without it."""
    return Response(SCRIPT.read_bytes(), media_type="text/javascript", headers={"cache-control": "max-age=3600"})


async def icon(request: Request) -> Response:
    """The page's mark in the browser's tab."""
    return Response(ICON, media_type="image/svg+xml", headers={"cache-control": "max-age=3600"})


async def missing(request: Request, error: Exception) -> Response:
    """No such page."""
    return HTMLResponse(NO_PAGE, 404)
