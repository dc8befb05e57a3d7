"""kitcall share: gives the record to the shop's machine, over the local network and to who has the secret."""

from __future__ import annotations

import click

from assistant import share as sharing
from assistant.commands.options import refusing, store_option
from assistant.places import store_path
from audio.model import data_folder


@click.command()
@click.option("--secret", is_flag=True, help="Print what the shop's machine needs, and end.")
@click.option("--address", default="0.0.0.0", show_default=True, help="Where to listen.")
@click.option("--port", default=sharing.PORT, show_default=True)
@store_option
@refusing
def share(secret: bool, address: str, port: int, store: str | None) -> None:
    """Give verified copies of the record to the shop's machine, until ended. It runs `kitcall fetch`."""
    folder = data_folder() / "share"
    if secret:
        click.echo(sharing.secret(folder))
        return
    with sharing.server(sharing.Copies(store_path(store), folder / "copies"), folder, address, port) as served:
        click.echo(f"Listening at {address}:{port}. On the shop's machine: kitcall fetch BOX --secret-file FILE")
        served.serve_forever()
