"""The published form: out and in again without loss; anything that is not the record's own is refused whole."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.errors import BadInput
from assistant.record import Clip, Log, Personal, Reader, export_lines, import_lines

DIGEST = "d" * 64
CLIP = Clip(b"RIFF" + bytes(range(256)), 16000, 0.5)


@pytest.fixture
def full(open_log: Callable[..., Log]) -> Log:
    """A record with a name, a voice note, numbers, marks and letters of several scripts."""
    log = open_log()
    log.append_all("a", [("check_started", {"diver": "Ζωή", "items": {"jacket": "7", "mask": None}}),
                         ("answered", {"step": "pressure", "value": 197.5, "unit": "bar", "heard": 'a "b"\u2028\\'}),
                         ("noted", {"clip": CLIP.digest, "step": "pressure"})], DIGEST, [CLIP])  # fmt: skip
    log.append_all("shop", [("set_apart", {"item": "jacket", "number": "7", "who": Personal("Martha")})], "")
    return log


def contents(reader: Reader) -> list[object]:
    return [list(reader.entries()), list(reader.all_words()), list(reader.all_clips())]


def test_out_and_in_is_the_same_record(full: Log, open_log: Callable[..., Log], tmp_path: Path) -> None:
    lines = list(export_lines(full))
    other = open_log(tmp_path / "other.db")
    assert import_lines(other, lines) == 4
    assert contents(other) == contents(full)
    assert list(export_lines(other)) == lines
    assert other.verify().ok


def test_a_removed_name_stays_removed_and_the_chain_holds(
    full: Log, open_log: Callable[..., Log], tmp_path: Path
) -> None:
    assert full.clips_of("Ζωή") == [CLIP.digest]
    assert (full.remove_words("Ζωή"), full.remove_clip(CLIP.digest)) == (1, 1)
    lines = list(export_lines(full))
    assert not any("Ζωή" in line for line in lines)
    other = open_log(tmp_path / "other.db")
    import_lines(other, lines)
    assert other.verify().ok
    assert contents(other) == contents(full)


def test_a_later_export_adds_what_is_new(full: Log, open_log: Callable[..., Log], tmp_path: Path) -> None:
    other = open_log(tmp_path / "other.db")
    import_lines(other, export_lines(full))
    full.append_all("b", [("check_started", {"diver": "Bo"})], DIGEST)
    lines = list(export_lines(full))
    assert [import_lines(other, lines), import_lines(other, lines)] == [1, 0]
    assert contents(other) == contents(full)


def edited(lines: list[str], at: int, **changes: object) -> list[str]:
    line = json.loads(lines[at])
    return [*lines[:at], json.dumps(line | changes), *lines[at + 1 :]]


BROKEN: list[tuple[str, Callable[[list[str]], list[str]], str]] = [
    ("nothing", lambda lines: [], "cut off"),
    ("no export", lambda lines: ["item,number"], "no JSON"),
    ("a list", lambda lines: ["[]"], "no JSON object"),
    ("another form", lambda lines: edited(lines, 0, format="other"), "no export of a kitcall record"),
    ("a newer version", lambda lines: edited(lines, 0, version=2), "has version 2"),
    ("no head", lambda lines: lines[1:], "Line 1 of the file"),
    ("cut off", lambda lines: lines[:-1], "cut off"),
    ("an event is missing", lambda lines: [*lines[:2], *lines[3:]], "does not follow from event 1"),
    ("the last event is missing", lambda lines: [*lines[:4], *lines[5:]], "lines are missing"),
    ("an event was changed", lambda lines: edited(lines, 2, facts={"step": "x"}), "was changed"),
    ("a time was changed", lambda lines: edited(lines, 2, wall_utc="2020-01-01T00:00:00+00:00"), "was changed"),
    ("events swapped", lambda lines: [*lines[:2], lines[3], lines[2], *lines[4:]], "does not follow"),
    ("no number", lambda lines: edited(lines, 2, seq="2"), "Line 3"),
    ("no facts", lambda lines: edited(lines, 2, facts=None), "was changed"),
    ("words were changed", lambda lines: edited(lines, 5, text="Bo"), "Line 6"),
    ("a clip was changed", lambda lines: edited(lines, 7, wav="UklGRg=="), "Line 8"),
    ("a clip is no base64", lambda lines: edited(lines, 7, wav="§"), "Line 8"),
    ("a line more", lambda lines: [*lines, lines[1]], "where none may"),
    ("an unknown line", lambda lines: edited(lines, 1, line="news"), "not known"),
]


@pytest.mark.parametrize(("damage", "said"), [row[1:] for row in BROKEN], ids=[row[0] for row in BROKEN])
def test_a_broken_file_adds_nothing(
    full: Log, open_log: Callable[..., Log], tmp_path: Path, damage: Callable[[list[str]], list[str]], said: str
) -> None:
    other = open_log(tmp_path / "other.db")
    with pytest.raises(BadInput, match=said) as caught:
        import_lines(other, damage(list(export_lines(full))))
    assert caught.value.mend
    assert contents(other) == [[], [], []]


def test_another_record_is_not_mixed_in(full: Log, open_log: Callable[..., Log], tmp_path: Path) -> None:
    other = open_log(tmp_path / "other.db")
    other.append_all("mine", [("check_started", {"diver": "Cy"})], DIGEST)
    before = contents(other)
    with pytest.raises(BadInput, match="is not the one in"):
        import_lines(other, export_lines(full))
    assert contents(other) == before


def test_a_line_reads_without_the_software(full: Log) -> None:
    answer = json.loads(list(export_lines(full))[2])
    assert (answer["kind"], answer["wall_utc"][:10], answer["facts"]["step"], answer["facts"]["value"]) == (
        "answered", "2026-05-04", "pressure", 197.5,
    )  # fmt: skip
