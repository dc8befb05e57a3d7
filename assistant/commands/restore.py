"""kitcall restore: a copy of the record put in its place; what was there is set aside."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from assistant.commands.options import refusing, store_option
from assistant.places import store_path
from assistant.record import restore as put_back


@click.command()
@click.argument("copy", type=click.Path(dir_okay=False, path_type=Path))
@store_option
@refusing
def restore(copy: Path, store: str | None) -> None:
    """Put COPY, made by `kitcall backup`, in place of the record. Checked before anything is changed."""
    report, old = put_back(copy, store_path(store), lambda: datetime.now(UTC))
    click.echo(f"{store_path(store)}: {report.count} events, each as it was written.")
    if old is not None:
        click.echo(f"What was there before is kept as {old}.")
