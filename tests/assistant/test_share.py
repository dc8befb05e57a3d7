"""A shop's machine fetches the record from a box: by key, to be resumed, never a broken copy. Real TLS on loopback."""

from __future__ import annotations

import http.client
import json
import shutil
import socket
import ssl
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from assistant import fetching, share
from assistant.errors import ShareError
from assistant.fetching import fetch
from assistant.record import Log, Reader

pytestmark = pytest.mark.skipif(not shutil.which("openssl"), reason="needs openssl (.ci/setup installs it)")


def written(path: Path, events: int) -> Path:
    with Log(path, device="box 1", wall=lambda: datetime.now(UTC), monotonic=time.monotonic) as log:
        for number in range(events):
            log.append_all("s", [("answered", {"n": number, "text": "x" * 4000})], "d")
    return path


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return written(tmp_path / "box/record.db", 60)


@contextmanager
def running(store: Path) -> Iterator[tuple[int, str]]:
    """The port and the secret of a server."""
    folder = store.parent / "share"
    served = share.server(share.Copies(store, folder / "copies"), folder, "127.0.0.1", 0)
    thread = threading.Thread(target=served.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield served.server_address[1], share.secret(folder)
    finally:
        served.shutdown()
        thread.join()
        served.server_close()


def events(path: Path) -> list[str]:
    with Reader(path) as reader:
        assert reader.verify().ok
        return [entry.hash for entry in reader.entries()]


def test_fetched_copy_is_the_record(store: Path, tmp_path: Path) -> None:
    with running(store) as (port, secret):
        copy = fetch("127.0.0.1", port, secret, tmp_path / "shop")
        assert fetch("127.0.0.1", port, secret, tmp_path / "shop") == copy
        grown = written(store, 3)
        newer = fetch("127.0.0.1", port, secret, tmp_path / "shop")
    assert (events(newer), events(copy)) == (events(grown), events(grown)[:60])
    sums = subprocess.run(["sha256sum", "--check", newer.name + ".sha256"], cwd=newer.parent, capture_output=True)
    assert sums.returncode == 0
    suffixes = sorted(path.suffix for path in (tmp_path / "shop").iterdir())
    assert suffixes == [".db", ".db", ".head", ".head", ".sha256", ".sha256"]


def test_fetch_goes_on_where_it_broke_off(store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Cut three times, the server started anew in between; what was there is not sent again."""
    asked: list[int] = []
    whole = fetching._ask

    def ask(host: str, port: int, key: str, fingerprint: str, path: str, first: int = 0) -> http.client.HTTPResponse:
        answer = whole(host, port, key, fingerprint, path, first)
        if path != "/latest":
            asked.append(first)
            if len(asked) <= 3:
                monkeypatch.setattr(answer, "read", cut_after(answer.read))
        return answer

    def cut_after(read: Callable[[int], bytes]) -> Callable[[int], bytes]:
        left = [1]

        def some(count: int) -> bytes:
            if not left[0]:
                raise ConnectionResetError("the boat turned")
            left[0] -= 1
            return read(count)

        return some

    monkeypatch.setattr(fetching, "_ask", ask)
    for _ in range(3):
        with running(store) as (port, secret), pytest.raises(ShareError, match="the boat turned") as broken:
            fetch("127.0.0.1", port, secret, tmp_path / "shop")
        assert "goes on where it stopped" in broken.value.mend
    with running(store) as (port, secret):
        copy = fetch("127.0.0.1", port, secret, tmp_path / "shop")
    assert events(copy) == events(store)
    assert asked == [0, 65536, 131072, 196608]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda secret: ("y" if secret[0] == "x" else "x") + secret[1:], "the key is not the one of this box"),
        (lambda secret: secret[:-1] + ("0" if secret[-1] != "0" else "1"), "is not the box of this secret"),
        (lambda secret: secret.split(".")[0], "incomplete"),
        (lambda secret: "." + secret.split(".")[1], "incomplete"),
    ],
    ids=["other key", "other box", "key alone", "fingerprint alone"],
)
def test_strangers_get_nothing(
    store: Path, tmp_path: Path, change: Callable[[str], str], message: str
) -> None:
    with running(store) as (port, secret), pytest.raises(ShareError, match=message) as refused:
        fetch("127.0.0.1", port, change(secret), tmp_path / "shop")
    assert refused.value.mend
    assert list((tmp_path / "shop").glob("*.db*")) == []


@pytest.mark.parametrize(
    "path",
    ["/", "/../record.db", "/..%2frecord.db", "/key", "/private.pem", "/copies", "/latest/", "//etc/passwd"],
)
def test_nothing_else_is_served(store: Path, path: str) -> None:
    with running(store) as (port, secret):
        key, _, fingerprint = secret.partition(".")
        with pytest.raises(ShareError, match="no such copy"):
            fetching._ask("127.0.0.1", port, key, fingerprint, path)


def test_a_silent_caller_holds_up_nobody(store: Path, tmp_path: Path) -> None:
    with running(store) as (port, secret), socket.create_connection(("127.0.0.1", port)):
        assert events(fetch("127.0.0.1", port, secret, tmp_path / "shop")) == events(store)


def test_key_goes_to_no_stranger(store: Path, tmp_path: Path) -> None:
    """The other side has another certificate: it must not even see the key."""
    with running(store) as (_, secret):
        pass
    heard: list[bytes] = []
    other = tmp_path / "other"
    share.secret(other)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(other / "certificate.pem", other / "private.pem")
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def eavesdrop() -> None:
            with context.wrap_socket(listening.accept()[0], server_side=True) as caller:
                heard.append(caller.recv(1000))

        thread = threading.Thread(target=eavesdrop)
        thread.start()
        with pytest.raises(ShareError, match="is not the box"):
            fetch("127.0.0.1", listening.getsockname()[1], secret, tmp_path / "shop")
        thread.join()
    assert heard == [b""]


def test_a_copy_changed_on_the_way_is_refused(
    store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    latest = share.Giving._answer

    def lie(self: share.Giving, status: int, about: dict[str, object]) -> None:
        latest(self, status, {**about, "sha256": "0" * 64})

    monkeypatch.setattr(share.Giving, "_answer", lie)
    with running(store) as (port, secret), pytest.raises(ShareError, match="arrived damaged"):
        fetch("127.0.0.1", port, secret, tmp_path / "shop")
    assert list((tmp_path / "shop").iterdir()) == []


def test_no_box_there(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
    with pytest.raises(ShareError, match="could not be fetched"):
        fetch("127.0.0.1", port, "key." + "0" * 64, tmp_path)
    assert json.dumps([path.name for path in tmp_path.iterdir()]) == "[]"
