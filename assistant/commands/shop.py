"""kitcall shop: the record in a browser. The only wiring of the page: real clocks, names, hosts, server."""

from __future__ import annotations

import secrets
import subprocess
import sys
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta, tzinfo
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import click
import uvicorn

from assistant.boat_gas import GasPlan
from assistant.boat_roster import Outing, judge_unasked
from assistant.commands.check import new_session_id, open_log
from assistant.commands.group import gas_of
from assistant.commands.options import refusing, sequence_option, store_option
from assistant.errors import BadInput
from assistant.language.commands import shipped_commands
from assistant.language.replies import shipped_replies
from assistant.language.sequence import load
from assistant.page import Names, PassPhrase, Shop, build
from assistant.page.verifying import Verifying
from assistant.places import device_name, sequence_path, store_path
from assistant.record import Ledger, Log, Part, Reader
from assistant.rehearsal.scene import load_scene
from assistant.rehearsal.season import load_season
from assistant.rehearsal.season_days import Guest, SeasonClock, SeasonDays, day_key
from assistant.sums import settings as centre_settings
from assistant.sums.settings import defaults
from audio.model import data_folder

PORT = 8490
REHEARSED_DAYS, REHEARSED_DIVERS, REHEARSED_BEFORE = 12, 8, 3  # days: outside the damp months the 12th leaves a HOLD


@click.command()
@store_option
@sequence_option
@click.option("--port", default=PORT, show_default=True, type=click.IntRange(1, 65535), help="Port of the page.")
@click.option("--network", metavar="NAME", help="Open the page to the shop's network, under this name or address.")
@click.option("--zone", metavar="NAME", help="The shop's time zone, e.g. Europe/Athens; else this machine's.")
@click.option("--settings", metavar="FILE", type=click.Path(path_type=Path), help="The centre's own intervals.")
@click.option("--region", default="", metavar="NAME", help="Whose rules hold for cylinders, e.g. uk, us, france.")
@click.option("--material", default="aluminium", show_default=True, metavar="NAME", help="What the cylinders are of.")
@click.option("--pass-phrase", "asks_phrase", is_flag=True, help="Set the pass phrase, then end.")
@click.option("--rehearsal", is_flag=True, help="Show an invented fortnight and the demo's spoken check.")
@refusing
def shop(
    store: str | None, sequence: str | None, port: int, network: str | None, zone: str | None, settings: Path | None,
    region: str, material: str, asks_phrase: bool, rehearsal: bool,
) -> None:  # fmt: skip
    """Show the record in a browser: the day, faults, repairs, what is due.

    The page is served to this machine alone. With --network others in the shop reach it, behind a pass phrase
    and unencrypted: use that only on a network you trust.
    """
    if asks_phrase:
        words = click.prompt("New pass phrase", hide_input=True, confirmation_prompt=True)
        PassPhrase.keep(phrase_place(), words)
        click.echo("The pass phrase is set; only its hash is kept.")
        return
    local = zone_of(zone)
    path = rehearse(local) if rehearsal else store_path(store)
    phrase = PassPhrase.read(phrase_place())
    if network and phrase is None:
        raise BadInput("The network may not see the record without a pass phrase.", "Run: kitcall shop --pass-phrase")
    with Ledger(path, local) as ledger:
        follow(ledger)
    with closing(Verifying(path, lambda: datetime.now(local))) as verifying:
        made = Shop(
            path, local, lambda: open_log(str(path)), lambda: datetime.now(UTC), time.monotonic,
            lambda: secrets.token_hex(32), centre_settings.load(settings), hosts_of(port, network), verifying,
            names_of(sequence), region, material, phrase, network is not None,
        )  # fmt: skip
        verifying.start()
        serve(made, port, network)


def phrase_place() -> Path:
    """Where the hash of the pass phrase is kept."""
    return data_folder() / "shop.phrase"


def zone_of(name: str | None) -> tzinfo:
    """The time zone of that name, else the machine's."""
    if name is None:
        machine = Path("/etc/localtime").resolve().parts
        name = "/".join(machine[machine.index("zoneinfo") + 1 :]) if "zoneinfo" in machine else "UTC"
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError) as error:
        raise BadInput(
            f"There is no time zone {name}.", "Give --zone as in Europe/Athens or America/Cancun."
        ) from error


def hosts_of(port: int, network: str | None) -> frozenset[str]:
    """The names under which the page may be asked for."""
    names = ("localhost", "127.0.0.1", *((network.lower(),) if network else ()))
    return frozenset(f"{name}:{port}" for name in names) | (frozenset(names) if port == 80 else frozenset())


def names_of(sequence: str | None) -> Names:
    """What items, steps and faults are called in the sequence file."""
    check = load(sequence_path(sequence), lambda word: True)
    faults = {(step.id, fault.code): fault.name for step in check.steps for fault in step.faults}
    items = {item.id: item.name.capitalize() for item in check.items}
    return Names(items, {step.id: step.name for step in check.steps}, faults)


def follow(ledger: Ledger) -> None:
    """Brings the ledger up to the record before anybody looks, with progress where it takes long."""
    behind = ledger.behind()
    if behind < 2000:
        ledger.follow()
        return
    with click.progressbar(length=behind, label="Reading the record") as bar:
        ledger.follow(progress=lambda done, of: bar.update(done - bar.pos))


def serve(made: Shop, port: int, network: str | None) -> None:
    """Serves until Ctrl-C."""
    click.echo(f"The shop's page: http://{network or 'localhost'}:{port}/   (Ctrl-C ends it)")
    if network:
        click.echo("It is open to the network and not encrypted: use it on a network you trust.", err=True)
    config = uvicorn.Config(
        build(made), host="0.0.0.0" if network else "127.0.0.1", port=port, log_level="warning", lifespan="off",
        ws="none", loop="asyncio", http="h11",
        server_header=False, proxy_headers=False, timeout_keep_alive=5, limit_concurrency=64,
        h11_max_incomplete_event_size=16384,
    )  # fmt: skip
    uvicorn.Server(config).run()


def rehearse(local: tzinfo) -> Path:
    """A record with an invented fortnight up to yesterday, and a boat of today whose last check is the demo's, spoken;
    made once a day."""
    today = datetime.now(local).date()
    path = data_folder() / "demo" / f"shop-{today}.db"
    if path.exists():
        return path
    check = load(sequence_path(), lambda word: True)
    scene, clock, gas = load_scene(check), SeasonClock(), partial(gas_of, defaults())
    shape = load_season(check).model_copy(update={"first_day": (today - timedelta(days=REHEARSED_DAYS)).isoformat()})
    guest = Guest(scene.shape.diver, scene.shape.items, scene.shape.spares, new_session_id())
    fresh = path.with_name(path.name + ".new")
    log = Log(fresh, device=device_name(), wall=clock.wall, monotonic=time.monotonic)
    with closing(log), Ledger(fresh, local) as ledger:
        replies = shipped_replies(check.language)
        days = SeasonDays(shape, check, shipped_commands(), replies, log, ledger, clock, gas)
        days.reserve([*scene.shape.items.items(), *scene.shape.spares.items()])
        with click.progressbar(
            days.play(REHEARSED_DAYS, REHEARSED_DIVERS, False), REHEARSED_DAYS, "An invented fortnight"
        ) as bar:
            for _ in bar:
                pass
        days.morning(today, *earlier_today(local), guest)
    for end in (".lock", ".ledger"):
        fresh.with_name(fresh.name + end).unlink(missing_ok=True)
    for end in (".head", ""):
        fresh.with_name(fresh.name + end).rename(path.with_name(path.name + end))
    demo = [sys.executable, "-m", "assistant", "demo", "--store", str(path), "--session", guest.session]
    subprocess.run(demo, check=False)
    judge_boat(path, Outing(day_key(today), 1, check, check), gas)
    return path


def earlier_today(local: tzinfo) -> tuple[int, datetime]:
    """How many divers were checked before the demo's, and from when on: none right after midnight."""
    now = datetime.now(local)
    since = now - timedelta(hours=1.5)
    return (REHEARSED_BEFORE if since.date() == now.date() else 0), since.astimezone(UTC)


def judge_boat(path: Path, outing: Outing, gas: GasPlan) -> None:
    """The verdict on a rehearsed trip, given when its last check has ended by the rehearsal's own clock."""
    with Reader(path) as reader:
        last = max(entry.wall_s for entry in reader.entries())
    at = datetime.fromtimestamp(last, UTC) + timedelta(seconds=30)
    with closing(Log(path, device=device_name(), wall=lambda: at, monotonic=time.monotonic)) as log:
        facts = judge_unasked(log, outing, at.timestamp(), gas, "voice")
        log.append_together([Part(outing.day, [("boat_judged", facts)])])
