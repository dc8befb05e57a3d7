"""Where the recogniser's model is, and whether it is the one we measured.

find() only looks at disks and is what the voice loop uses; fetch() may also reach out
(sources.py) and is for set-up. The order is: a path the user gives, kitcall's data folder,
vosk's own folders; then, in fetch() alone, vosk's own download and the Maven client.
A path the user gives that is bad is refused, never replaced by another place. What is
unpacked is checked first, written beside its place, synced, and moved there in one step.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import shutil
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import platformdirs

from assistant.errors import ModelError
from audio import sources

Progress = Callable[[str], None]

ARCHIVE_SHA256 = "8a5792fccaf873b4745dbd1b3fe19d8a77a15898e806674020eea820424771cd"

# Size in bytes and sha256 of each file, computed from the archive with the sum above. Those under
# am/, graph/ and ivector/ are the model itself, the same in every packaging of it.
FILES = {
    "am/final.mdl": (15962575, "75370a0137f9daf8f469dedd7daa4513ae7a621f03240c6e512e2b50b656a7b6"),
    "graph/Gr.fst": (24013795, "023c8b7e30704a9e37765c635c252e608a02f361235bf94abdcf2a5225d85b20"),
    "graph/HCLr.fst": (22416994, "5caafba3081e1646545ac6bff0dd7a318e53dcbdc86f237909ce1d2ac1293d34"),
    "graph/disambig_tid.int": (102, "9ad87cc166d0998f08f758f47a6223a120dfffcbee805c4849c3aa5e6bb3c0fc"),
    "graph/phones/word_boundary.int": (1761, "da199d9c991e0e84681ddbb34627b915b26302d50a8fdaa23c51e2bc3a50b5c3"),
    "ivector/final.dubm": (168048, "8c5d7dd69d2122313baaf19f61f35dd3fa18b70c62ac0687e311e1c46e6daca7"),
    "ivector/final.ie": (8288887, "3f37faf90c375b9e4740b569398b5829ed9cc07d19be6d441f72c3b71d7efcc6"),
    "ivector/final.mat": (44975, "ddd83586dc5f928cda8738b922c85ffe38fc789cb5f9151a712ca12f37265382"),
    "ivector/global_cmvn.stats": (1080, "33be09afcc80059847a275c3d043b51f1ab954c7c2438ddbbf4745e8ba144ff9"),
    "ivector/online_cmvn.conf": (95, "a2f3571754b64297cb7efb2e7ca3df61995c5a45fcbb97188f90613552bb2dfe"),
    "ivector/splice.conf": (35, "9f0c5f7c82d18eaf25d8bce470efa9f7741f88411fe428774bc0a9bb69a24756"),
    "conf/mfcc.conf": (131, "1e2228006d01d805ad1c267fee9f79709ca87ac51bd82b0e3f5c69ba543f0fc4"),
    "conf/model.conf": (290, "8f14cb1eeb07c762c371db648c6be688d347236155ca0f64fb13b6567a8ce81f"),
}
SUMS = "SHA256SUMS"
SETTINGS = "conf/"  # another packaging may write these otherwise; they must be there, and not empty
INNER = ("", sources.VOSK_NAME, "model-en-us", "assets/model-en-us")  # where a folder or archive may hold it
HOW_TO_GET = (
    "Run `python -m audio.model` where there is a network (or `make demo`), or give the folder or the "
    "archive yourself: --model PATH, or the environment variable KITCALL_MODEL."
)


def data_folder() -> Path:
    """kitcall's own data folder: KITCALL_DATA when it is set, else the user's data directory."""
    return Path(os.environ.get("KITCALL_DATA") or platformdirs.user_data_dir("kitcall", appauthor=False))


def find(user_path: str | Path | None = None) -> Path:
    """Give the folder of a checked model, without the network.

    user_path: a folder or an archive (zip or aar) that the user names; None takes KITCALL_MODEL
    when it is set. An archive is unpacked into the data folder.
    Raises ModelError: the path is bad, or no place holds the model; the guide should follow `mend`.
    Checked by tests/audio/test_model.py.
    """
    named = user_path or os.environ.get("KITCALL_MODEL")
    if named:
        return _take_named(Path(named).expanduser())
    own = data_folder() / "model"
    if own.exists():
        return _refuse_bad(own, quick=True)
    refused = []
    for folder in _vosk_folders():
        problems = verify(folder)
        if not problems:
            return folder
        refused.append(f"{folder}: {problems[0]}")
    seen = f" Seen and not taken: {'; '.join(refused)}." if refused else ""
    raise ModelError(f"The recogniser's model is not on this machine.{seen}", HOW_TO_GET)


def fetch(user_path: str | Path | None = None, say: Progress = print) -> Path:
    """Give the folder of a checked model, fetching it when no place holds it.

    say: is called with one line of progress at a time.
    Raises ModelError: the user's path is bad, or every source failed (each with its reason).
    """
    own = data_folder() / "model"
    if not (user_path or os.environ.get("KITCALL_MODEL")) and own.exists() and verify(own):
        say(f"The model in {own} is damaged ({verify(own)[0]}); it is set aside and fetched again.")
        _set_aside(own)
    try:
        folder = find(user_path)
    except ModelError:
        if user_path or os.environ.get("KITCALL_MODEL"):
            raise
        return _fetch_from_sources(own, say)
    say(f"The model is there: {folder}")
    return folder


def verify(folder: Path, quick: bool = False) -> list[str]:
    """List what is wrong with a model folder; an empty list means that it is the model we know.

    quick: compares sizes only (a millisecond); else every byte by sha256 (0.3 s on x86-64).
    """
    return [problem for name in FILES if (problem := _check_file(folder / name, name, quick))]


def unpack(archive: Path, target: Path, say: Progress = print) -> Path:
    """Check an archive (zip or aar), unpack its model beside `target`, and move it there in one step.

    Raises ModelError: not the model, damaged, or no room. `target` is then as it was.
    """
    say(f"Checking {archive.name} …")
    with _scratch_beside(target) as scratch:
        try:
            folder = _extract(archive, scratch / "model")
        except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError) as error:
            raise ModelError(f"{archive} cannot be unpacked: {error}", "Fetch or copy it again.") from error
        except OSError as error:
            raise ModelError(f"{archive} cannot be unpacked: {error}", "Free some 100 MB and try again.") from error
        problems = verify(folder)
        if problems:
            raise ModelError(f"{archive} does not hold the model we know: {problems[0]}", HOW_TO_GET)
        return _move_into_place(folder, target)


def _take_named(path: Path) -> Path:
    if path.is_dir():
        inner = next((path / name for name in INNER if (path / name / "am/final.mdl").is_file()), path)
        return _refuse_bad(inner, quick=False)
    if not path.exists():
        raise ModelError(f"There is no model at {path}.", HOW_TO_GET)
    if path.suffix == ".aar" and _sha256(path) != ARCHIVE_SHA256:
        raise ModelError(f"{path} is not the archive we know (its sha256 differs).", f"Fetch {sources.ARTIFACT}.")
    own = data_folder() / "model"
    if own.exists() and not verify(own):
        return own
    return unpack(path, own, lambda line: None)


def _refuse_bad(folder: Path, quick: bool) -> Path:
    problems = verify(folder, quick)
    if problems:
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        raise ModelError(f"The model in {folder} is not the one we know: {problems[0]}{more}.", HOW_TO_GET)
    return folder


def _check_file(path: Path, name: str, quick: bool) -> str:
    size_bytes, digest = FILES[name]
    if not path.is_file():
        return f"{name} is missing"
    found_bytes = path.stat().st_size
    if name.startswith(SETTINGS):
        return "" if found_bytes and (quick or _same_as_unpacked(path, name)) else f"{name} has changed"
    if found_bytes != size_bytes:
        return f"{name} has {found_bytes} bytes instead of {size_bytes}"
    return "" if quick or _sha256(path) == digest else f"{name} has changed (its sha256 differs)"


def _same_as_unpacked(path: Path, name: str) -> bool:
    """True when the sum written at unpacking still holds, or none was written (a folder of vosk's or the user's)."""
    sums = path.parents[name.count("/")] / SUMS
    return not sums.is_file() or f"{_sha256(path)}  {name}" in sums.read_text(encoding="ascii", errors="replace")


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _vosk_folders() -> Iterator[Path]:
    """Where vosk itself looks (MODEL_DIRS of vosk 0.3.45), in its order, those that hold our model's name."""
    named = os.environ.get("VOSK_MODEL_PATH")
    for parent in (Path(named) if named else None, Path("/usr/share/vosk"), Path.home() / ".cache/vosk"):
        if parent and (parent / sources.VOSK_NAME).is_dir():
            yield parent / sources.VOSK_NAME


@contextmanager
def _scratch_beside(target: Path) -> Iterator[Path]:
    """A folder on the same file system as the target, since a move between two is not one step."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        scratch = tempfile.TemporaryDirectory(prefix="model-", dir=target.parent)
    except OSError as error:
        mend = "Make room there, or name another folder by the environment variable KITCALL_DATA."
        raise ModelError(f"The model cannot be kept in {target.parent}: {error}", mend) from error
    with scratch as folder:
        yield Path(folder)


def _extract(archive: Path, folder: Path) -> Path:
    """Write the files we know, and no others, so that no name in the archive can lead elsewhere."""
    with zipfile.ZipFile(archive) as packed:
        names = set(packed.namelist())
        root = next((f"{inner}/".lstrip("/") for inner in INNER if f"{inner}/am/final.mdl".lstrip("/") in names), None)
        if root is None:
            raise ModelError(f"{archive} holds no model (no am/final.mdl in it).", HOW_TO_GET)
        for name in FILES:
            if root + name not in names:
                raise ModelError(f"{archive} lacks {name}.", HOW_TO_GET)
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            with packed.open(root + name) as source, (folder / name).open("wb") as file:
                shutil.copyfileobj(source, file, 1 << 20)
                file.flush()
                os.fsync(file.fileno())
    return folder


def _move_into_place(folder: Path, target: Path) -> Path:
    """The sums are written too (as sha256sum prints them), for the files whose content we cannot know beforehand."""
    sums = "".join(f"{_sha256(folder / name)}  {name}\n" for name in FILES)
    (folder / SUMS).write_text(sums, encoding="ascii")
    for inner in (*(path for path in folder.rglob("*") if path.is_dir()), folder):
        _sync_folder(inner)
    if target.exists():
        _set_aside(target)
    folder.rename(target)
    _sync_folder(target.parent)
    return target


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _set_aside(folder: Path) -> None:
    """A damaged model is no record: it makes room, since it is as large as the next one."""
    aside = Path(tempfile.mkdtemp(prefix="model-", dir=folder.parent)) / "damaged"
    folder.rename(aside)
    shutil.rmtree(aside.parent, ignore_errors=True)


def _fetch_from_sources(target: Path, say: Progress) -> Path:
    reasons = []
    for name, source in sources.ALL:
        say(f"Fetching the recogniser's model (some 50 MB) by {name} …")
        with _scratch_beside(target) as scratch:
            try:
                return _take_fetched(source(scratch, say), target, say)
            except ModelError as error:
                say(f"  not by {name}: {error}")
                reasons.append(f"{name}: {error}")
    raise ModelError(f"The recogniser's model could not be fetched ({'; '.join(reasons)}).", HOW_TO_GET)


def _take_fetched(fetched: Path, target: Path, say: Progress) -> Path:
    if fetched.is_dir():
        _refuse_bad(fetched, quick=False)
        return _move_into_place(fetched, target)
    if _sha256(fetched) != ARCHIVE_SHA256:
        raise ModelError(f"{fetched.name} arrived damaged: its sha256 is not the one we know.", "Try again.")
    return unpack(fetched, target, say)


def main(arguments: list[str] | None = None) -> int:
    """`python -m audio.model [PATH] [--check]`: fetch the model, or check the one that is there."""
    parser = argparse.ArgumentParser(prog="python -m audio.model", description="Fetch or check the recogniser's model.")
    parser.add_argument("path", nargs="?", help="a folder or archive that holds the model already")
    parser.add_argument("--check", action="store_true", help="read every byte of the model that is there; no network")
    options = parser.parse_args(arguments)
    try:
        folder = find(options.path) if options.check else fetch(options.path, lambda line: print(line, flush=True))
        problems = verify(folder)
    except ModelError as error:
        print(f"{error}\n{error.mend}", file=sys.stderr)
        return 1
    print("\n".join(problems) if problems else f"Model checked: {folder}")
    return 1 if problems else 0


if __name__ == "__main__":
    raise SystemExit(main())
