"""The record for the shop's machine: a small server on the box that gives verified copies to who has the key.

It only reads. Everything goes through TLS with a certificate of the box's own; `secret` is what the other side must
have: a random key and the certificate's SHA-256, so that neither side talks to a stranger. Two requests exist:
GET /latest makes a copy where the record has grown, and names it; GET /NAME gives it, from any byte on (Range).
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import re
import secrets
import socketserver
import ssl
import subprocess
from collections.abc import Callable
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler
from pathlib import Path
from typing import Any

from assistant.errors import KitcallError, ShareError
from assistant.record import Backup, back_up

PORT = 8443
KEPT = 2  # copies on the box; a fetch that began on the last but one can still end
RANGE = re.compile(r"bytes=(\d+)-$")
PIECE_BYTES = 1 << 16
PATIENCE_S = 30.0  # for one read or write of a socket


class Copies:
    """The copies that are given away; a new one is made when the record has changed."""

    def __init__(self, store: Path, folder: Path, wall: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self._store, self._folder, self._wall = store, folder, wall
        self._last: Backup | None = None

    def latest(self) -> Backup:
        """The newest copy. Raises what back_up raises."""
        made = back_up(self._store, self._folder, self._wall)
        if self._last and self._last.sha256 == made.sha256 and self._last.path.exists():
            discard(made.path)
            return self._last
        self._last = made
        for old in sorted(self._folder.glob("*.db"), key=lambda path: path.stat().st_mtime)[:-KEPT]:
            discard(old)
        return made

    def path(self, name: str) -> Path | None:
        """The copy of that name; None when there is none such."""
        return next((path for path in self._folder.glob("*.db") if path.name == name), None)


def discard(copy: Path) -> None:
    """Remove a copy of ours from the box; the record is elsewhere."""
    for end in ("", ".head", ".sha256"):
        copy.with_name(copy.name + end).unlink(missing_ok=True)


def secret(folder: Path) -> str:
    """What the shop's machine needs: KEY.FINGERPRINT; made, with a certificate, when there is none yet.

    Raises ShareError when the certificate cannot be made.
    """
    key, certificate = folder / "key", folder / "certificate.pem"
    if not key.exists() or not certificate.exists():
        folder.mkdir(parents=True, exist_ok=True)
        _make_certificate(certificate, folder / "private.pem")
        with open(os.open(key, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
            file.write(secrets.token_urlsafe(24))
    der = ssl.PEM_cert_to_DER_cert(certificate.read_text())
    return f"{key.read_text().strip()}.{hashlib.sha256(der).hexdigest()}"


def _make_certificate(certificate: Path, private: Path) -> None:
    command = ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"]
    command += ["-days", "36500", "-subj", "/CN=kitcall", "-keyout", str(private), "-out", str(certificate)]
    try:
        subprocess.run(command, check=True, capture_output=True, umask=0o077)
    except (OSError, subprocess.CalledProcessError) as problem:
        raise ShareError(f"No certificate can be made: {problem}", "sudo apt-get install openssl") from problem


class Serving(socketserver.ThreadingTCPServer):
    """One thread a caller. Not http.server's own class: that asks a name server for its name, and waits at sea."""

    allow_reuse_address = daemon_threads = True

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A caller went away in the middle; it will come again."""


def server(copies: Copies, folder: Path, address: str, port: int) -> Serving:
    """A server that is ready for serve_forever(). Raises ShareError when it cannot listen there."""
    key = secret(folder).split(".")[0]
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(folder / "certificate.pem", folder / "private.pem")

    class Bound(Giving):
        pass

    Bound.copies, Bound.key = copies, key
    try:
        made = Serving((address, port), Bound)
    except OSError as problem:
        raise ShareError(f"Nothing can listen at {address}:{port}: {problem}", "Name another --port.") from problem
    # the handshake on the request's own thread, so that a silent caller holds up nobody
    made.socket = context.wrap_socket(made.socket, server_side=True, do_handshake_on_connect=False)
    return made


class Giving(BaseHTTPRequestHandler):
    """Answers the two requests; whoever lacks the key learns nothing but that."""

    copies: Copies
    key: str
    timeout = PATIENCE_S

    def do_GET(self) -> None:
        given = self.headers.get("Authorization", "").removeprefix("Bearer ")
        if not hmac.compare_digest(given.encode(), self.key.encode()):
            self._answer(401, {"problem": "the key is not the one of this box"})
        elif self.path == "/latest":
            self._latest()
        elif path := self.copies.path(self.path.removeprefix("/")):
            self._give(path)
        else:
            self._answer(404, {"problem": "there is no such copy; ask for /latest"})

    def _latest(self) -> None:
        try:
            made = self.copies.latest()
        except KitcallError as problem:
            self._answer(503, {"problem": str(problem), "mend": problem.mend})
            return
        about = {"name": made.path.name, "bytes": made.path.stat().st_size, "sha256": made.sha256}
        head = made.path.with_name(made.path.name + ".head").read_text(encoding="ascii")
        self._answer(200, {**about, "events": made.events, "head": head})

    def _give(self, path: Path) -> None:
        whole_bytes = path.stat().st_size
        found = RANGE.match(self.headers.get("Range", ""))
        first = int(found[1]) if found else 0
        if first > whole_bytes:
            self._answer(416, {"problem": f"the copy has {whole_bytes} bytes"})
            return
        self.send_response(206 if found else 200)
        self.send_header("Content-Length", str(whole_bytes - first))
        if found:
            self.send_header("Content-Range", f"bytes {first}-{max(first, whole_bytes - 1)}/{whole_bytes}")
        self.end_headers()
        with path.open("rb") as file:
            file.seek(first)
            while piece := file.read(PIECE_BYTES):
                self.wfile.write(piece)

    def _answer(self, status: int, about: dict[str, Any]) -> None:
        body = json.dumps(about).encode()
        self.send_response(status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *values: Any) -> None:
        """Nothing: the service's log is small, and the record is what counts."""
