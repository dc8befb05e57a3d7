"""kitcall device: is this machine fit to lead a check? One line and one remedy for each part."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from itertools import islice

import click
import numpy as np
from rich.table import Table

from assistant.commands.options import console, json_option, model_option, print_json, refusing, store_option
from assistant.errors import KitcallError
from assistant.places import store_path, voice_cache
from assistant.record import Reader
from audio import known, model
from audio.activity import Level
from audio.capture import Microphone
from audio.frames import FRAME_S
from audio.play import Speaker
from audio.recognise import Recogniser
from audio.unpacking import HOW_TO_GET
from audio.voice import Voice

LISTEN_S = 2.0
LEAST_FREE_MB = 200
BUILT = datetime(2026, 11, 1, tzinfo=UTC)  # no true clock can be before this version was made
LOUD_DB = -30.0  # of full scale in the speech band, with nobody speaking


@dataclass(frozen=True, slots=True)
class Finding:
    """One part: fit or not, what was found, and what to do."""

    part: str
    fit: bool
    found: str
    mend: str = ""


@click.command()
@click.option("--microphone", metavar="NAME", help="Microphone, by its name or a part of it.")
@click.option("--speaker", metavar="NAME", help="Speaker, by its name or a part of it.")
@model_option
@store_option
@json_option
@refusing
def device(
    microphone: str | None, speaker: str | None, model_path: str | None, store: str | None, as_json: bool
) -> None:
    """Test microphone, speaker, voice, model, store, disk and clock.

    Speaks one line and listens for two seconds. Exit status 1 when a part is not fit.
    """
    findings = list(look(microphone, speaker, model_path, store))
    if as_json:
        print_json([asdict(each) for each in findings])
    else:
        table = Table("part", "", "found", "what to do")
        for each in findings:
            table.add_row(each.part, "fit" if each.fit else "NOT FIT", each.found, each.mend)
        console().print(table)
    sys.exit(0 if all(each.fit for each in findings) else 1)


def look(microphone: str | None, speaker: str | None, model_path: str | None, store: str | None) -> Iterator[Finding]:
    """Look at every part; a part that fails does not hide the next."""
    yield examine("microphone", lambda: hear_deck(microphone))
    yield examine("speaker", lambda: speak(speaker))
    yield examine("model", lambda: load_model(model_path))
    yield examine("store", lambda: read_store(store))
    yield examine("disk", lambda: measure_disk(store))
    yield examine("clock", read_clock)


def examine(part: str, test: Callable[[], Finding]) -> Finding:
    """The test's finding, or its refusal as one."""
    try:
        return test()
    except KitcallError as problem:
        return Finding(part, False, str(problem), problem.mend)


def hear_deck(name: str | None) -> Finding:
    """Two seconds of the microphone: there, not dead, not too loud."""
    with Microphone(name) as source:
        frames = list(islice(source, round(LISTEN_S / FRAME_S)))
        label = source.device.name if source.device else "microphone"
    level = Level()
    for frame in frames:
        level.take(frame)
    clipped = float(np.mean([np.abs(frame.astype(np.int32)).max() >= 32700 for frame in frames]))
    found = f"{label}, quietest {level.floor_db:.0f} dB of full scale"
    if not any(frame.any() for frame in frames):
        return Finding("microphone", False, f"{found}: digital silence", "It is muted or unplugged; check both.")
    if clipped > 0.05:
        return Finding("microphone", False, f"{found}, clipping", "Turn its level down.")
    if level.floor_db > LOUD_DB:
        return Finding("microphone", False, f"{found}: too loud to hear anybody", "Move away from the engine.")
    return Finding("microphone", True, found)


def speak(name: str | None) -> Finding:
    """One line through voice and speaker."""
    with Voice(folder=voice_cache()) as own, Speaker(name) as out:
        samples, rate_hz = own.render("This is kitcall.")
        out.play(samples, rate_hz)
        return Finding("speaker", True, f"{out.device.name}: one line played to its end; did you hear it?")


def load_model(path: str | None) -> Finding:
    """The model's files by their hashes, and that it loads and knows a word."""
    folder = model.find(path)
    damage = known.verify(folder)
    if damage:
        return Finding("model", False, damage[0], HOW_TO_GET)
    knows = Recogniser(folder).knows("regulator")
    return Finding("model", knows, f"{folder}: every file as it should be" if knows else f"{folder} knows no words")


def read_store(given: str | None) -> Finding:
    """The record opens and its chain holds."""
    path = store_path(given)
    if not path.exists():
        return Finding("store", True, f"{path}: not begun yet")
    with Reader(path) as reader:
        report = reader.verify()
    if not report.ok:
        return Finding("store", False, f"{path}: {report.damages[0].what}", "Run: kitcall log verify. Keep the file.")
    return Finding("store", True, f"{path}: {report.count} events, each as it was written")


def measure_disk(given: str | None) -> Finding:
    """Space where the record lies."""
    place = store_path(given).parent
    while not place.exists():
        place = place.parent
    free_mb = shutil.disk_usage(place).free // 1_000_000
    fit = free_mb >= LEAST_FREE_MB
    return Finding("disk", fit, f"{free_mb} MB free at {place}", "" if fit else "Free some space.")


def read_clock() -> Finding:
    """A clock before this version was made is wrong; the order of the record does not depend on it."""
    now = datetime.now(UTC)
    fit = now >= BUILT
    mend = "" if fit else "Set the clock, or add a clock chip."
    return Finding("clock", fit, now.strftime("%Y-%m-%d %H:%M UTC"), mend)
