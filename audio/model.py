"""Where the recogniser's model is, and whether it is the one we measured.

find() only looks at disks and is what the voice loop uses; fetch() may also reach out
(sources.py) and is for set-up. The order is: a path the user gives, kitcall's data folder,
vosk's own folders; then, in fetch() alone, vosk's own download and the Maven client.
A path the user gives that is bad is refused, never replaced by another place.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import platformdirs

from assistant.errors import ModelError
from audio import known, sources, unpacking

Progress = Callable[[str], None]


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
        problems = known.verify(folder)
        if not problems:
            return folder
        refused.append(f"{folder}: {problems[0]}")
    seen = f" Seen and not taken: {'; '.join(refused)}." if refused else ""
    raise ModelError(f"The recogniser's model is not on this machine.{seen}", unpacking.HOW_TO_GET)


def fetch(user_path: str | Path | None = None, say: Progress = print) -> Path:
    """Give the folder of a checked model, fetching it when no place holds it.

    say: is called with one line of progress at a time.
    Raises ModelError: the user's path is bad, or every source failed (each with its reason).
    """
    own = data_folder() / "model"
    if not (user_path or os.environ.get("KITCALL_MODEL")) and own.exists() and known.verify(own):
        say(f"The model in {own} is damaged ({known.verify(own)[0]}); it is set aside and fetched again.")
        unpacking.set_aside(own)
    try:
        folder = find(user_path)
    except ModelError:
        if user_path or os.environ.get("KITCALL_MODEL"):
            raise
        return _fetch_from_sources(own, say)
    say(f"The model is there: {folder}")
    return folder


def _take_named(path: Path) -> Path:
    if path.is_dir():
        inner = next((path / name for name in unpacking.INNER if (path / name / "am/final.mdl").is_file()), path)
        return _refuse_bad(inner, quick=False)
    if not path.exists():
        raise ModelError(f"There is no model at {path}.", unpacking.HOW_TO_GET)
    if path.suffix == ".aar" and known.sha256_of(path) != known.ARCHIVE_SHA256:
        raise ModelError(f"{path} is not the archive we know (its sha256 differs).", f"Fetch {sources.ARTIFACT}.")
    own = data_folder() / "model"
    if own.exists() and not known.verify(own):
        return own
    return unpacking.unpack(path, own, lambda line: None)


def _refuse_bad(folder: Path, quick: bool) -> Path:
    problems = known.verify(folder, quick)
    if problems:
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        raise ModelError(f"The model in {folder} is not the one we know: {problems[0]}{more}.", unpacking.HOW_TO_GET)
    return folder


def _vosk_folders() -> Iterator[Path]:
    """Where vosk itself looks (MODEL_DIRS of vosk 0.3.45), in its order, those that hold our model's name."""
    named = os.environ.get("VOSK_MODEL_PATH")
    for parent in (Path(named) if named else None, Path("/usr/share/vosk"), Path.home() / ".cache/vosk"):
        if parent and (parent / sources.VOSK_NAME).is_dir():
            yield parent / sources.VOSK_NAME


def _fetch_from_sources(target: Path, say: Progress) -> Path:
    reasons = []
    for name, source in sources.ALL:
        say(f"Fetching the recogniser's model (some 50 MB) by {name} …")
        with unpacking.scratch_beside(target) as scratch:
            try:
                return _take_fetched(source(scratch, say), target, say)
            except ModelError as error:
                say(f"  not by {name}: {error}")
                reasons.append(f"{name}: {error}")
    raise ModelError(f"The recogniser's model could not be fetched ({'; '.join(reasons)}).", unpacking.HOW_TO_GET)


def _take_fetched(fetched: Path, target: Path, say: Progress) -> Path:
    if fetched.is_dir():
        _refuse_bad(fetched, quick=False)
        return unpacking.move_into_place(fetched, target)
    if known.sha256_of(fetched) != known.ARCHIVE_SHA256:
        raise ModelError(f"{fetched.name} arrived damaged: its sha256 is not the one we know.", "Try again.")
    return unpacking.unpack(fetched, target, say)


def main(arguments: list[str] | None = None) -> int:
    """`python -m audio.model [PATH] [--check]`: fetch the model, or check the one that is there."""
    parser = argparse.ArgumentParser(prog="python -m audio.model", description="Fetch or check the recogniser's model.")
    parser.add_argument("path", nargs="?", help="a folder or archive that holds the model already")
    parser.add_argument("--check", action="store_true", help="read every byte of the model that is there; no network")
    options = parser.parse_args(arguments)
    try:
        folder = find(options.path) if options.check else fetch(options.path, lambda line: print(line, flush=True))
        problems = known.verify(folder)
    except ModelError as error:
        print(f"{error}\n{error.mend}", file=sys.stderr)
        return 1
    print("\n".join(problems) if problems else f"Model checked: {folder}")
    return 1 if problems else 0


if __name__ == "__main__":
    raise SystemExit(main())
