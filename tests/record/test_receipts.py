"""Head receipts: they see a cut-off end, and they never cost an answer."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.record import Damage, Log, Reader
from assistant.record.receipts import LINE_BYTES, Receipt, place, read

DIGEST = "d" * 64


def test_one_line_per_opening_padded_to_a_quarter_sector(open_log: Callable[..., Log], store: Path) -> None:
    heads = []
    for _ in range(2):
        log = open_log()
        for _ in range(3):
            heads.append(log.append_all("a", [("asked", {})], DIGEST)[0].hash)
        log.close()
    assert read(store) == ([Receipt(3, heads[2]), Receipt(6, heads[5])], 0)
    assert place(store).stat().st_size == 2 * LINE_BYTES
    assert place(store).read_text().split() == [
        "kitcall-head-1", "000000000000003", heads[2], "kitcall-head-1", "000000000000006", heads[5],
    ]  # fmt: skip


def test_an_older_copy_of_the_store_is_seen(open_log: Callable[..., Log], store: Path, tmp_path: Path) -> None:
    log = open_log()
    log.append_all("a", [("asked", {})], DIGEST)
    log.close()
    shutil.copy(store, tmp_path / "old.db")
    log = open_log()
    log.append_all("a", [("answered", {}), ("answered", {})], DIGEST)
    log.close()
    shutil.copy(tmp_path / "old.db", store)
    with Reader(store) as reader:
        cut = "the end was cut off: 3 events were recorded, 2 are gone"
        assert reader.verify().damages == (Damage(2, cut),)


UNREADABLE, NONE = "1 of the receipts cannot be read", "there are no receipts: a cut-off end would not be seen"
TORN = [
    ("cut short", lambda data: data[:-40], (UNREADABLE, NONE)),
    ("zeros", lambda data: bytes(len(data)), (UNREADABLE, NONE)),
    ("gone", lambda data: b"", (NONE,)),
]


@pytest.mark.parametrize(("tear", "notes"), [row[1:] for row in TORN], ids=[row[0] for row in TORN])
def test_a_torn_receipt_is_a_note_and_no_damage(
    open_log: Callable[..., Log], store: Path, tear: Callable[[bytes], bytes], notes: tuple[str, ...]
) -> None:
    log = open_log()
    log.append_all("a", [("asked", {})], DIGEST)
    log.close()
    place(store).write_bytes(tear(place(store).read_bytes()))
    with Reader(store) as reader:
        report = reader.verify()
    assert (report.ok, report.notes) == (True, notes)


def test_a_receipt_that_cannot_be_opened_costs_no_answer(open_log: Callable[..., Log], store: Path) -> None:
    store.parent.mkdir()
    place(store).mkdir()  # a folder where the file should be
    log = open_log()
    assert log.append_all("a", [("answered", {})], DIGEST)[0].seq == 1
    assert log.receipt_trouble
    log.close()


def test_a_receipt_that_cannot_be_written_costs_no_answer(open_log: Callable[..., Log]) -> None:
    log = open_log()
    os.close(log._receipts._fd)
    log._receipts._fd = os.open("/dev/full", os.O_RDWR)
    assert log.append_all("a", [("answered", {})], DIGEST)[0].seq == 1
    assert "No space" in log.receipt_trouble or "seek" in log.receipt_trouble


def test_no_receipt_for_what_was_not_committed(open_log: Callable[..., Log], store: Path) -> None:
    log = open_log()
    log.append_all("a", [("asked", {})], DIGEST)
    log._db.execute("PRAGMA max_page_count = 1")
    with pytest.raises(Exception, match="No space"):
        log.append_all("a", [("noted", {"text": "x" * 100_000})], DIGEST)
    assert [receipt.count for receipt in read(store)[0]] == [1]
