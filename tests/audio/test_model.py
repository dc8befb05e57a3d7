"""The model: which place is taken, what is refused, and that a half unpacked one never shows."""

from __future__ import annotations

import hashlib
import os
import shutil
import zipfile
from pathlib import Path

import pytest

from assistant.errors import ModelError
from audio import known, model, sources, unpacking


def small_files() -> dict[str, bytes]:
    """A tiny stand-in for the model's files, so that tests need not copy 70 MB."""
    return {name: f"content of {name}".encode() for name in known.FILES}


@pytest.fixture(autouse=True)
def tiny_world(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The known sizes and sums are those of the tiny files; home and data folders are empty ones."""
    sums = {name: (len(data), hashlib.sha256(data).hexdigest()) for name, data in small_files().items()}
    monkeypatch.setattr(known, "FILES", sums)
    monkeypatch.setattr(sources, "ALL", ())
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("KITCALL_DATA", str(tmp_path / "data"))
    monkeypatch.delenv("KITCALL_MODEL", raising=False)
    monkeypatch.delenv("VOSK_MODEL_PATH", raising=False)


def write_model(folder: Path, **changes: bytes | None) -> Path:
    for name, data in {**small_files(), **changes}.items():
        if data is not None:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(data)
    return folder


def write_archive(path: Path, root: str = "assets/model-en-us/", **changes: bytes | None) -> Path:
    with zipfile.ZipFile(path, "w") as packed:
        for name, data in {**small_files(), **changes}.items():
            if data is not None:
                packed.writestr(zipfile.ZipInfo(root + name), data)  # no date: the same bytes every time
        packed.writestr(zipfile.ZipInfo("../outside"), b"must never be written")
    return path


def test_order_of_places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A path the user gives, KITCALL_MODEL, kitcall's data folder, vosk's own folders, in this order."""
    vosk_home = write_model(tmp_path / "home/.cache/vosk" / sources.VOSK_NAME)
    assert model.find() == vosk_home
    vosk_named = write_model(tmp_path / "vosk" / sources.VOSK_NAME)
    monkeypatch.setenv("VOSK_MODEL_PATH", str(tmp_path / "vosk"))
    assert model.find() == vosk_named
    own = write_model(tmp_path / "data/model")
    assert model.find() == own
    by_variable = write_model(tmp_path / "variable")
    monkeypatch.setenv("KITCALL_MODEL", str(by_variable))
    assert model.find() == by_variable
    given = write_model(tmp_path / "given")
    assert model.find(given) == given


@pytest.mark.parametrize("inner", ["", sources.VOSK_NAME, "model-en-us", "assets/model-en-us"])
def test_given_folder_may_hold_it_inside(tmp_path: Path, inner: str) -> None:
    write_model(tmp_path / "given" / inner)
    assert model.find(tmp_path / "given") == tmp_path / "given" / inner


@pytest.mark.parametrize(
    ("changes", "problem"),
    [
        ({"am/final.mdl": None}, "am/final.mdl is missing"),
        ({"am/final.mdl": b"short"}, "am/final.mdl has 5 bytes instead of 23"),
        ({"am/final.mdl": b"CONTENT of am/final.mdl"}, "am/final.mdl has changed"),
        ({"conf/model.conf": b""}, "conf/model.conf has changed"),
    ],
    ids=["missing", "shorter", "same size, other bytes", "empty settings"],
)
def test_bad_given_path_is_refused_and_never_replaced(
    tmp_path: Path, changes: dict[str, bytes | None], problem: str
) -> None:
    write_model(tmp_path / "data/model")
    bad = write_model(tmp_path / "bad", **changes)
    for look in (model.find, model.fetch):
        with pytest.raises(ModelError, match=problem) as refused:
            look(bad)
        assert "KITCALL_MODEL" in refused.value.mend


def test_nothing_anywhere_says_how_to_get_it(tmp_path: Path) -> None:
    with pytest.raises(ModelError, match="not on this machine") as refused:
        model.find()
    assert "python -m audio.model" in refused.value.mend
    write_model(tmp_path / "home/.cache/vosk" / sources.VOSK_NAME, **{"am/final.mdl": b"other"})
    with pytest.raises(ModelError, match=r"Seen and not taken: .*am/final.mdl has 5 bytes"):
        model.find()


@pytest.mark.parametrize(
    ("name", "root"),
    [("m.zip", f"{sources.VOSK_NAME}/"), ("m.zip", ""), ("m.aar", "assets/model-en-us/")],
    ids=["as vosk packs it", "bare", "as Maven has it"],
)
def test_given_archive_is_unpacked_once(tmp_path: Path, name: str, root: str, monkeypatch: pytest.MonkeyPatch) -> None:
    archive = write_archive(tmp_path / name, root)
    monkeypatch.setattr(known, "ARCHIVE_SHA256", hashlib.sha256(archive.read_bytes()).hexdigest())
    own = tmp_path / "data/model"
    assert model.find(archive) == own
    assert sorted(os.listdir(tmp_path)) == sorted(["data", name])
    assert os.listdir(tmp_path / "data") == ["model"]
    written_ns = (own / "am/final.mdl").stat().st_mtime_ns
    assert model.find(archive) == own
    assert (own / "am/final.mdl").stat().st_mtime_ns == written_ns


@pytest.mark.parametrize(
    "case", ["not a zip", "cut short", "other bytes", "lacks a file", "no model", "unknown aar", "folder of nothing"]
)
def test_bad_archive_leaves_nothing_behind(tmp_path: Path, case: str) -> None:
    path = tmp_path / ("m.aar" if case == "unknown aar" else "m.zip")
    if case == "not a zip":
        path.write_bytes(b"hello")
    elif case == "folder of nothing":
        path.mkdir()
    else:
        changes = {"other bytes": {"graph/Gr.fst": b"x"}, "lacks a file": {"graph/Gr.fst": None}}.get(case, {})
        write_archive(path, "elsewhere/" if case == "no model" else "", **changes)
    if case == "cut short":
        path.write_bytes(path.read_bytes()[:-100])
    with pytest.raises(ModelError):
        model.find(path)
    assert not (tmp_path / "data").exists() or os.listdir(tmp_path / "data") == []


def test_unpacking_that_fails_half_way_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As when the disk fills up: the folder that was there is untouched, and no half folder shows."""
    own = write_model(tmp_path / "data/model")

    def fill_up(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(shutil, "copyfileobj", fill_up)
    with pytest.raises(ModelError, match="No space left") as refused:
        unpacking.unpack(write_archive(tmp_path / "m.zip"), own, lambda line: None)
    assert "Free some 100 MB" in refused.value.mend
    assert known.verify(own) == []
    assert os.listdir(tmp_path / "data") == ["model"]


def test_fetch_tries_sources_in_order_and_tells(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def make_source(result: str) -> sources.Source:
        def source(scratch: Path, say: model.Progress) -> Path:
            asked.append(result)
            if result == "fails":
                raise ModelError("no network")
            return write_archive(scratch / "m.aar", **({"am/final.mdl": b"x"} if result == "damaged" else {}))

        return source

    good = hashlib.sha256(write_archive(tmp_path / "good.aar").read_bytes()).hexdigest()
    monkeypatch.setattr(known, "ARCHIVE_SHA256", good)
    rows = [(name, make_source(name)) for name in ("fails", "damaged", "works", "never asked")]
    monkeypatch.setattr(sources, "ALL", rows)
    lines: list[str] = []
    assert model.fetch(say=lines.append) == tmp_path / "data/model"
    assert asked == ["fails", "damaged", "works"]
    assert [line for line in lines if line.startswith("  not by")] == [
        "  not by fails: no network",
        "  not by damaged: m.aar arrived damaged: its sha256 is not the one we know.",
    ]
    monkeypatch.setattr(sources, "ALL", ())
    assert model.fetch(say=lines.append) == tmp_path / "data/model"  # again: at once


def test_fetch_tells_why_every_source_failed() -> None:
    with pytest.raises(ModelError, match="could not be fetched"):
        model.fetch(say=lambda line: None)


def test_damaged_own_model_is_found_out_and_fetched_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own = unpacking.unpack(write_archive(tmp_path / "m.zip"), tmp_path / "data/model", lambda line: None)
    for name in known.FILES:
        data = (own / name).read_bytes()
        (own / name).write_bytes(bytes([data[0] ^ 1]) + data[1:])
        assert [problem.split(" (")[0] for problem in known.verify(own)] == [f"{name} has changed"]
        (own / name).write_bytes(data)
    (own / "am/final.mdl").write_bytes(b"CONTENT of am/final.mdl")
    assert known.verify(own, quick=True) == []
    monkeypatch.setattr(sources, "ALL", [("copy", lambda scratch, say: write_model(scratch / "m"))])
    assert model.fetch(say=lambda line: None) == own
    assert known.verify(own) == []
    assert os.listdir(tmp_path / "data") == ["model"]


def test_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert model.main(["--check"]) == 1
    assert "not on this machine" in capsys.readouterr().err
    write_model(tmp_path / "data/model")
    assert model.main(["--check"]) == 0
    assert capsys.readouterr().out == f"Model checked: {tmp_path / 'data/model'}\n"


def test_client_that_cannot_run_is_a_reason_not_a_crash(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(ModelError, match="Maven client is not installed") as refused:
        sources.fetch_by_maven(tmp_path, lambda line: None)
    assert "maven" in refused.value.mend
