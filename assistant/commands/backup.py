"""kitcall backup: a checked copy of the record on a memory stick, while kitcall may be running."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from assistant.commands.options import refusing, store_option
from assistant.places import store_path
from assistant.record import back_up
from assistant.sticks import find_stick


@click.command()
@click.argument("folder", required=False, type=click.Path(file_okay=False, path_type=Path))
@store_option
@refusing
def backup(folder: Path | None, store: str | None) -> None:
    """Copy the record into FOLDER, or onto the memory stick that is plugged in, and read the copy back."""
    made = back_up(store_path(store), folder or find_stick(), lambda: datetime.now(UTC))
    click.echo(f"{made.path}: {made.events} events, read back and each as it was written.")
    click.echo(f"To put it in place of a record: kitcall restore {made.path}")
