"""kitcall check: one diver's kit, by voice or typed."""

from __future__ import annotations

import select
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import click

from assistant.app import Alone, Conversation, Ears, Mouth, Parts
from assistant.check.rail import Rail
from assistant.check.turns import Record, Start
from assistant.commands.options import (
    Loaded,
    console,
    load_check,
    microphone_option,
    model_option,
    refusing,
    sequence_option,
    speaker_option,
    store_option,
)
from assistant.commands.sums import SETTINGS
from assistant.ears import KeyboardEars, MicrophoneEars
from assistant.errors import BadInput
from assistant.judges import Judges
from assistant.language.box import shipped_box_words
from assistant.language.replies import shipped_replies
from assistant.mouth import ShownMouth, SpokenMouth
from assistant.places import device_name, store_path, voice_cache
from assistant.record import Log, rail_entries
from assistant.sticks import save
from assistant.sums import settings as centre_settings
from assistant.transcript import Transcript
from audio.capture import Microphone
from audio.ear import Ear
from audio.play import Speaker
from audio.voice import Voice


@click.command()
@click.option("--diver", default="", metavar="NAME", help="Who will dive with this kit: a number or first name.")
@click.option("--item", "items", multiple=True, metavar="ITEM=NUMBER", help="Number on an item, e.g. regulator=12.")
@click.option("--typed", is_flag=True, help="Answer at the keyboard; for a machine without a microphone.")
@click.option("--quiet", is_flag=True, help="With --typed: show the words, speak none.")
@click.option("--now", "at_once", is_flag=True, help="Begin without waiting for the start phrase or the Enter key.")
@click.option("--new", "anew", is_flag=True, help="Begin anew even when a check was broken off; it stays on hold.")
@microphone_option
@speaker_option
@sequence_option
@model_option
@store_option
@SETTINGS
@refusing
def check(
    diver: str, items: tuple[str, ...], typed: bool, quiet: bool, at_once: bool, anew: bool, microphone: str | None,
    speaker: str | None, sequence: str | None, model_path: str | None, store: str | None, settings: Path | None,
) -> None:  # fmt: skip
    """Lead one diver through the kit check.

    Say "start the check" or press Enter. A check that was broken off is resumed. Always understood:
    repeat, explain, go back, correct that, wait, carry on, not fitted, leave a note, where are we,
    come back to it later, stop the check. After a fault: swapped number nine, swapped unmarked, no spare.
    Exit status 0 for READY, 1 for HOLD, 2 when it could not be led.
    """
    loaded = load_check(sequence, model_path)
    judges = Judges(centre_settings.load(settings))
    worn, by = numbers(items, loaded), "typed" if typed else "key"
    with open_log(store) as log, ExitStack() as stack:
        ears, mouth = stack.enter_context(keyboard(quiet, speaker) if typed else voice(loaded, microphone, speaker))
        session = None if anew else log.unfinished()
        apart = Rail.of((entry.session, Record(entry.kind, entry.facts)) for entry in rail_entries(log)).apart
        start = Start(worn, diver, by, tuple(sorted(apart & {(item, str(number)) for item, number in worn.items()})))
        transcript = Transcript(console(), loaded.check)
        parts = Parts(log, ears, mouth, transcript, loaded.expected, shipped_replies(loaded.check.language),
                      save_log=log_saver(log.path, loaded.check.language), judges=judges)  # fmt: skip
        verdict = Conversation(loaded.check, session or new_session_id(), start, parts, Alone(apart)).run(at_once)
        word = "READY" if verdict.ready else "HOLD"
        transcript.line("verdict", word)
        transcript.line("record", str(log.path))
    sys.exit(0 if verdict.ready else 1)


def numbers(items: tuple[str, ...], loaded: Loaded) -> dict[str, int | str | None]:
    """ITEM=NUMBER options as a mapping; BadInput for an item the check does not have."""
    known = [item.id for item in loaded.check.items]
    found: dict[str, int | str | None] = {}
    for option in items:
        name, equals, number = option.partition("=")
        if name not in known or not equals or not number:
            raise BadInput(f"--item {option} is not understood", f"Give ITEM=NUMBER; items are {', '.join(known)}.")
        found[name] = number
    return found


def new_session_id() -> str:
    """A name for a check that sorts by time: date, time and hundredths, UTC."""
    return datetime.now(UTC).strftime("%Y%m%d-%H%M%S-%f")[:-4]


def log_saver(store: Path, language: str) -> Callable[[Callable[[str], None]], object]:
    """Copies the record to the stick, and says how it went."""
    words = shipped_box_words(language)
    return lambda say: save(store, words, say)


def utc_now() -> datetime:
    return datetime.now(UTC)


def open_log(
    store: str | None, wall: Callable[[], datetime] = utc_now, monotonic: Callable[[], float] = time.monotonic
) -> Log:
    """The record, for writing."""
    return Log(store_path(store), device=device_name(), wall=wall, monotonic=monotonic)


@contextmanager
def voice(loaded: Loaded, microphone: str | None, speaker: str | None) -> Iterator[tuple[Ears, Mouth]]:
    """Real microphone, real speaker."""
    with Voice(folder=voice_cache()) as own, Microphone(microphone) as source, Speaker(speaker) as out:
        ears = MicrophoneEars(Ear(loaded.recogniser), source, key_reader(), out)
        yield ears, SpokenMouth(own, out, source)


@contextmanager
def keyboard(quiet: bool, speaker: str | None) -> Iterator[tuple[Ears, Mouth]]:
    """A keyboard for ears; spoken unless quiet."""
    if quiet:
        yield KeyboardEars(), ShownMouth()
        return
    with Voice(folder=voice_cache()) as own, Speaker(speaker) as out:
        yield KeyboardEars(), SpokenMouth(own, out)


def key_reader() -> Callable[[], bool]:
    """Tells whether Enter was pressed since it was last asked; never when there is no terminal."""
    if not sys.stdin.isatty():
        return lambda: False

    def pressed() -> bool:
        if not select.select([sys.stdin], [], [], 0)[0]:
            return False
        sys.stdin.readline()
        return True

    return pressed
