"""The guard before every page: Host, Origin, length of what is sent, and the headers of every answer.

Rules: an unknown Host is refused, so that another name pointed at this machine reaches nothing; an Origin
that is not the page's own is refused on every request, and a change without an Origin too; nothing longer
than MOST_BYTES is read. What fails here never reaches a route.
"""

from __future__ import annotations

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BYTES = 64 * 1024
TOO_LONG = "More was sent than this page takes."
SAFE = frozenset({"GET", "HEAD"})
POLICY = (
    "default-src 'none'; script-src 'self'; require-trusted-types-for 'script'; trusted-types 'none'; "
    "style-src 'self'; img-src 'self'; media-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
    "cache-control": "no-store",
}


class TooLong(HTTPException):
    """More bytes came than may; the application answers it as it stands."""

    def __init__(self) -> None:
        super().__init__(413, TOO_LONG)


class Guard:
    """Wraps the application; `hosts` are the values of Host that are ours, such as localhost:8490."""

    def __init__(self, app: ASGIApp, hosts: frozenset[str]) -> None:
        self._app, self._hosts = app, hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        refusal = self._refuse(scope)
        if refusal is not None:
            await refusal(scope, receive, send_guarded)
            return
        await self._app(scope, limited(receive), send_guarded)

    def _refuse(self, scope: Scope) -> PlainTextResponse | None:
        headers = Headers(scope=scope)
        if len(headers.getlist("host")) != 1 or headers["host"] not in self._hosts:
            return PlainTextResponse("This page is not served under that name.", 421)
        if scope["method"] not in SAFE | {"POST"}:
            return PlainTextResponse("Only reading and forms are known here.", 405, {"allow": "GET, HEAD, POST"})
        origin = headers.get("origin")
        own = {f"{scope['scheme']}://{headers['host']}"}
        if (origin is not None or scope["method"] not in SAFE) and origin not in own:
            return PlainTextResponse("This was sent from another site.", 403)
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > MOST_BYTES:
            return PlainTextResponse(TOO_LONG, 413)
        return None


def limited(receive: Receive) -> Receive:
    """Receives no more than MOST_BYTES, whatever the sender said of the length."""
    taken = 0

    async def receive_limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > MOST_BYTES:
            raise TooLong
        return message

    return receive_limited
