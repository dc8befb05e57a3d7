"""kitcall fetch: the shop's machine fetches the record from a box; a broken connection is gone on with."""

from __future__ import annotations

from pathlib import Path

import click

from assistant import fetching
from assistant.commands.options import refusing
from assistant.errors import BadInput
from assistant.share import PORT


@click.command()
@click.argument("box")
@click.option("--secret-file", required=True, type=click.Path(path_type=Path), help="Holds what the box printed.")
@click.option("--port", default=PORT, show_default=True)
@click.option("--to", "into", default=".", type=click.Path(file_okay=False, path_type=Path), help="Folder for copies.")
@refusing
def fetch(box: str, secret_file: Path, port: int, into: Path) -> None:
    """Fetch the newest copy of the record from BOX, its name or address. Run again, it goes on where it stopped."""
    try:
        secret = secret_file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as problem:
        mend = "On the box: kitcall share --secret > FILE"
        raise BadInput(f"The secret cannot be read: {problem}", mend) from problem
    copy = fetching.fetch(box, port, secret, into)
    click.echo(f"{copy}: whole, and each event as it was written.")
