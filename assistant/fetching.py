"""The shop's machine fetches the record from a box: from where the last try broke off, and checked before it counts.

A copy that is complete and holds gets its name; until then its name ends in .part, and the next fetch goes on there.
"""

from __future__ import annotations

import hashlib
import hmac
import http.client
import json
import os
import re
import ssl
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

from assistant.errors import ShareError
from assistant.record import Reader

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*\.db")
PIECE_BYTES = 1 << 16
PATIENCE_S = 30.0
MEND = "Is the box on, and on the same network? Then fetch again: it goes on where it stopped."


def fetch(
    host: str, port: int, secret: str, into: Path, progress: Callable[[int, int], None] = lambda have, whole: None
) -> Path:
    """Fetch the newest copy into the folder `into`; gives its path. progress gets (bytes there, bytes in all).

    secret: KEY.FINGERPRINT as `kitcall share` shows it. Raises ShareError: not reached, not the box that the
    secret is for, key refused, connection broken (fetch again), or the copy does not hold.
    Checked by tests/assistant/test_share.py.
    """
    key, _, fingerprint = secret.strip().partition(".")
    if not key or len(fingerprint) != 64:
        raise ShareError("The secret is incomplete.", "Copy the whole line that `kitcall share --secret` prints.")
    into.mkdir(parents=True, exist_ok=True)
    try:
        about = json.loads(_ask(host, port, key, fingerprint, "/latest").read())
        if not NAME.fullmatch(about["name"]) or not isinstance(about["bytes"], int):
            raise ShareError("The box names a copy in a way that kitcall does not.", "Update kitcall on both sides.")
        target: Path = into / about["name"]
        if (there := _fetched_before(into, about["sha256"])) is not None:
            return there
        _fetch_rest(lambda at: _ask(host, port, key, fingerprint, f"/{target.name}", at), target, about, progress)
    except (OSError, http.client.HTTPException, json.JSONDecodeError, KeyError, TypeError) as problem:
        raise ShareError(f"The copy could not be fetched from {host}: {problem}", MEND) from problem
    return target


def _fetched_before(into: Path, sha256: str) -> Path | None:
    named = [Path(str(sums).removesuffix(".sha256")) for sums in into.glob("*.db.sha256")]
    return next((path for path in named if path.exists() and _sha256(path) == sha256), None)


def _fetch_rest(
    ask: Callable[[int], http.client.HTTPResponse], target: Path, about: dict[str, Any],
    progress: Callable[[int, int], None],
) -> None:  # fmt: skip
    # named after the content, so that a box started anew between two tries costs nothing
    part, whole_bytes = target.with_name(f"{about['sha256'][:16]}.part"), int(about["bytes"])
    with part.open("ab") as file:
        if file.tell() > whole_bytes:
            file.truncate(0)
        have = file.seek(0, os.SEEK_END)
        with closing(ask(have)) as answer:
            while piece := answer.read(PIECE_BYTES):
                have += file.write(piece)
                progress(have, whole_bytes)
        file.flush()
        os.fsync(file.fileno())
    if have < whole_bytes:
        raise ShareError(f"The connection broke after {have} of {whole_bytes} bytes.", MEND)
    if _sha256(part) != about["sha256"]:
        part.unlink()  # what was fetched is of no use; the record is on the box
        raise ShareError("The copy arrived damaged.", MEND)
    _keep(part, target, about)


def _keep(part: Path, target: Path, about: dict[str, Any]) -> None:
    target.with_name(target.name + ".head").write_text(about["head"], encoding="ascii")
    target.with_name(target.name + ".sha256").write_text(f"{about['sha256']}  {target.name}\n", encoding="ascii")
    os.replace(part, target)
    with Reader(target) as reader:
        damages = reader.verify().damages
    if damages:
        raise ShareError(f"The copy {target} does not hold: {damages[0].what}", "Run on the box: kitcall log verify")


def _ask(host: str, port: int, key: str, fingerprint: str, path: str, first: int = 0) -> http.client.HTTPResponse:
    """One request, its key sent only after the other side has shown the certificate that we know."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE  # known by its sum instead, just below
    connection = http.client.HTTPSConnection(host, port, timeout=PATIENCE_S, context=context)
    connection.connect()
    shown = connection.sock.getpeercert(binary_form=True) if isinstance(connection.sock, ssl.SSLSocket) else None
    if not hmac.compare_digest(hashlib.sha256(shown or b"").hexdigest(), fingerprint):
        connection.close()
        raise ShareError(f"{host} is not the box of this secret.", "Ask that box for its own: kitcall share --secret")
    headers = {"Authorization": f"Bearer {key}", "Connection": "close"}
    connection.request("GET", path, headers={**headers, "Range": f"bytes={first}-"} if first else headers)
    answer = connection.getresponse()
    if answer.status not in (200, 206):
        told = json.loads(answer.read())
        connection.close()
        raise ShareError(f"The box refuses: {told['problem']}.", told.get("mend", "Compare the secrets."))
    return answer


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
