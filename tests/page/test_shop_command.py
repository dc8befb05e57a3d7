"""`kitcall shop` as it is started: where it listens, what it refuses, how the pass phrase is kept."""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from assistant.commands import shop as command
from assistant.record import Log

LISTENING, LOCAL = "0A", "0100007F"  # /proc/net/tcp: the state LISTEN, and 127.0.0.1


@pytest.fixture
def record(tmp_path: Path) -> Path:
    path = tmp_path / "record.db"
    with closing(Log(path, device="box", wall=lambda: datetime.now(UTC), monotonic=time.monotonic)) as log:
        log.append_all("a", [("check_started", {"diver": "Ann", "items": {"jacket": "7"}})], "")
    return path


@pytest.fixture
def port() -> int:
    with closing(socket.socket()) as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@pytest.fixture
def running(record: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    words = [sys.executable, "-m", "assistant", "shop", "--store", str(record), "--port", str(port), "--zone", "UTC"]
    with subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=dict(os.environ)) as program:
        yield program
        program.terminate()


def fetch(port: int, path: str) -> tuple[int, str]:
    """What the program answers, as soon as it answers at all."""
    for _ in range(600):
        with (
            suppress(ConnectionRefusedError),
            closing(http.client.HTTPConnection("127.0.0.1", port, timeout=30)) as wire,
        ):
            wire.request("GET", path, headers={"Host": f"localhost:{port}"})
            got = wire.getresponse()
            return got.status, got.read().decode()
        time.sleep(0.1)
    raise AssertionError("the program never answered")


def test_it_serves_this_machine_alone(running: subprocess.Popen[bytes], port: int) -> None:
    status, text = fetch(port, "/items")
    assert (status, "Jacket" in text) == (200, True)
    rows = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
    rows += [line.split() for line in Path("/proc/net/tcp6").read_text().splitlines()[1:]]
    listening = [row[1].split(":")[0] for row in rows if row[3] == LISTENING and int(row[1].split(":")[1], 16) == port]
    assert listening == [LOCAL]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(command, "data_folder", lambda: tmp_path / "data")
    return tmp_path / "data"


def test_no_network_without_a_pass_phrase(folder: Path, record: Path) -> None:
    done = CliRunner().invoke(command.shop, ["--store", str(record), "--network", "shop.example", "--zone", "UTC"])
    assert done.exit_code == 2
    assert "without a pass phrase" in done.output
    assert "kitcall shop --pass-phrase" in done.output


def test_the_pass_phrase_is_kept_as_a_hash_for_its_owner_alone(folder: Path) -> None:
    done = CliRunner().invoke(command.shop, ["--pass-phrase"], input="seven wet otters\nseven wet otters\n")
    assert done.exit_code == 0
    kept = folder / "shop.phrase"
    assert kept.read_text().startswith("$argon2id$")
    assert kept.stat().st_mode & 0o077 == 0


def test_a_short_pass_phrase_is_refused(folder: Path) -> None:
    done = CliRunner().invoke(command.shop, ["--pass-phrase"], input="otters\notters\n")
    assert (done.exit_code, "6 characters" in done.output) == (2, True)
    assert not (folder / "shop.phrase").exists()


REFUSED = [
    ("no such zone", ["--zone", "Atlantis"], "no time zone"),
    ("no record", ["--zone", "UTC"], "There is no record"),
]


@pytest.mark.parametrize(("words", "said"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_it_says_what_is_missing(folder: Path, tmp_path: Path, words: list[str], said: str) -> None:
    done = CliRunner().invoke(command.shop, ["--store", str(tmp_path / "none.db"), *words])
    assert (done.exit_code, said in done.output) == (2, True)


def test_only_names_that_were_given_are_answered() -> None:
    assert command.hosts_of(8490, None) == {"localhost:8490", "127.0.0.1:8490"}
    assert command.hosts_of(8490, "Shop.Example") == {"localhost:8490", "127.0.0.1:8490", "shop.example:8490"}
