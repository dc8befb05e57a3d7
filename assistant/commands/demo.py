"""kitcall demo: a rehearsal of the whole check, heard by the real recogniser."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import click

from assistant.app import Conversation, Parts
from assistant.check.turns import Start
from assistant.commands.check import new_session_id, open_log
from assistant.commands.log import print_table
from assistant.commands.options import console, load_check, model_option, refusing, sequence_option, speaker_option
from assistant.judges import Judges
from assistant.language.replies import shipped_replies
from assistant.mouth import ShownMouth, SpokenMouth
from assistant.places import voice_cache
from assistant.record import Reader
from assistant.rehearsal.diver import Diver
from assistant.rehearsal.scene import load_scene
from assistant.sums.settings import defaults
from assistant.transcript import Transcript
from audio.ear import Ear
from audio.frames import RATE_HZ, Frame
from audio.model import data_folder
from audio.play import Speaker
from audio.voice import Voice

ANSWER_COLUMNS = ("event", "step", "outcome", "fault", "said", "item", "number")


@click.command()
@click.option("--aloud", is_flag=True, help="Play both sides on the speaker.")
@speaker_option
@click.option("--store", metavar="FILE", help="Where to keep the rehearsal's record; a fresh file otherwise.")
@click.option("--session", metavar="NAME", hidden=True, help="The check's name in the record; a fresh one otherwise.")
@sequence_option
@model_option
@refusing
def demo(
    aloud: bool, speaker: str | None, store: str | None, session: str | None, sequence: str | None,
    model_path: str | None,
) -> None:  # fmt: skip
    """Rehearse a whole check with a synthetic diver.

    An invented scenario: deck noise, an inflator that sticks, a needle that drops on breathing. The diver's
    voice is synthetic; the recogniser, its model and the record are the real ones. It takes a minute or two, and
    keeps its record apart from yours; its clock adds what a diver's hands would take. Exit status 0 when it ends in
    READY, 1 for HOLD.
    """
    screen, begun_s = console(), time.monotonic()
    with screen.status("Loading the recogniser's model and the sequence …"):
        loaded = load_check(sequence, model_path)
        scene = load_scene(loaded.check)
    place = store or str(data_folder() / "demo" / f"{new_session_id()}.db")
    transcript = Transcript(screen, loaded.check)
    transcript.line("scene", scene.shape.title)
    clock = Clock(lambda: scene.worked_s)
    with open_log(place, clock.wall, clock.monotonic) as log, ExitStack() as stack:
        own = stack.enter_context(Voice(folder=voice_cache()))
        theirs = stack.enter_context(Voice(scene.shape.voice.name, scene.shape.voice.rate_wpm, voice_cache()))
        out = stack.enter_context(Speaker(speaker)) if aloud else None
        diver = Diver(scene, theirs, Ear(loaded.recogniser), transcript.spoken, player(out))
        mouth = SpokenMouth(own, out) if out else ShownMouth()
        judges = Judges(defaults(), lambda now_s: scene.shape.day)
        parts = Parts(log, diver, mouth, transcript, loaded.expected, shipped_replies(loaded.check.language),
                      wall_s=lambda: clock.wall().timestamp(), judges=judges)  # fmt: skip
        start = Start(scene.items, scene.shape.diver, "voice")
        session = session or new_session_id()
        verdict = Conversation(loaded.check, session, start, parts).run()
        show_end(log.path, session, verdict.ready, transcript)
        transcript.line("time", f"{time.monotonic() - begun_s:.0f} s for {diver.heard_s:.0f} s of the diver's answers")
    sys.exit(0 if verdict.ready else 1)


class Clock:
    """The real time, moved on by what the diver's hands would have taken."""

    def __init__(self, worked_s: Callable[[], float]) -> None:
        self._worked_s = worked_s

    def wall(self) -> datetime:
        return datetime.now(UTC) + timedelta(seconds=self._worked_s())

    def monotonic(self) -> float:
        return time.monotonic() + self._worked_s()


def player(out: Speaker | None) -> Callable[[Frame], object]:
    """Plays the diver's side too, when there is a speaker."""
    if out is None:
        return lambda samples: None
    return lambda samples: out.play(samples, RATE_HZ)


def chosen(rows: Iterable[Any], *names: str) -> list[dict[str, object]]:
    """Rows as plain values, only these columns when any are named."""
    plain = [asdict(row) for row in rows]
    return [{name: row[name] for name in names} for row in plain] if names else plain


def show_end(path: Path, session: str, ready: bool, transcript: Transcript) -> None:
    """The record of the rehearsal as tables, its soundness, the verdict, and where it lies."""
    with Reader(path) as reader:
        print_table("answers", chosen(reader.answers(session), *ANSWER_COLUMNS))
        print_table("faults", chosen(reader.faults(session), "event", "step", "fault", "set_apart"))
        print_table("swaps", chosen(reader.swaps(session)))
        report = reader.verify()
    transcript.line("chain", f"{report.count} events, " + ("each as it was written" if report.ok else "DAMAGED"))
    transcript.line("verdict", "READY" if ready else "HOLD")
    transcript.line("record", str(path))
