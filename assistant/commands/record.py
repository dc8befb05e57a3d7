"""kitcall record: the record taken out in its published form and brought in again; words about people removed."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import click

from assistant.commands.check import open_log
from assistant.commands.options import refusing, store_option
from assistant.errors import BadInput
from assistant.places import store_path
from assistant.record import Reader, export_lines, import_lines


@click.group()
def record() -> None:
    """Take the record out, bring one in, remove a diver's name and voice notes."""


@record.command(short_help="Write the whole record to FILE as JSON lines.")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@store_option
@refusing
def out(file: Path, store: str | None) -> None:
    """Write the whole record to FILE as JSON lines (- for the standard output)."""
    with Reader(store_path(store)) as reader:
        if str(file) == "-":
            for line in export_lines(reader):
                click.echo(line)
            return
        fresh = file.with_name(file.name + ".new")
        with fresh.open("w", encoding="utf-8", newline="\n") as out_file:
            count = sum(out_file.write(f"{line}\n") > 0 for line in export_lines(reader))
        fresh.replace(file)
    click.echo(f"{count} lines are in {file}.")


@record.command("in", short_help="Add from FILE what the record does not have yet.")
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@store_option
@refusing
def bring_in(file: Path, store: str | None) -> None:
    """Add what the record does not have yet from FILE, all of it or nothing."""
    with closing(open_log(store)) as log, click.progressbar(length=file.stat().st_size, label="Reading") as bar:
        added = import_lines(log, told(file, bar.update))
    click.echo(f"{added} events were added.")


def told(file: Path, tell: Callable[[int], object]) -> Iterator[str]:
    """The lines of a file, telling how many bytes were read."""
    with file.open("rb") as lines:
        read = 0
        for number, line in enumerate(lines):
            read += len(line)
            if number % 2000 == 1999:
                tell(read)
                read = 0
            try:
                yield line.decode("utf-8")
            except UnicodeDecodeError as error:
                raise BadInput(f"Line {number + 1} of {file} is no UTF-8 text.", "Give an export as it was.") from error
        tell(read)


@record.command(short_help="Remove a diver's NAME (or number) wherever it stands.")
@click.argument("name")
@click.option("--notes", is_flag=True, help="Also every voice note of this diver's checks.")
@store_option
@refusing
def remove(name: str, notes: bool, store: str | None) -> None:
    """Remove a diver's NAME (or number) wherever it stands; the events stay and the chain still verifies."""
    with closing(open_log(store)) as log:
        clips = log.clips_of(name) if notes else []
        places = log.remove_words(name)
        gone = sum(log.remove_clip(digest) for digest in clips)
        report = log.verify()
    holds = "holds" if report.ok else "DOES NOT HOLD"
    click.echo(f"Removed from {places} places, with {gone} voice notes. The record {holds}.")
    sys.exit(0 if places and report.ok else 1)
