"""kitcall box: what the service runs. Tests itself, says how it stands, leads one check after another, survives."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import click

from assistant import fitness
from assistant.app import Conversation, Parts
from assistant.boat_back import Shore, ask_which, due, out
from assistant.boat_back import lead as lead_group
from assistant.boat_roster import Outing
from assistant.box import BoxEars, BoxMouth, BoxWitness, TouchedMicrophone
from assistant.check.rail import Rail
from assistant.check.turns import Record, Start
from assistant.commands.check import log_saver, new_session_id, open_log
from assistant.commands.device import spoken, table_of
from assistant.commands.group import first_names, gas_of, planned, ready_for, return_check
from assistant.commands.options import (
    Loaded,
    console,
    load_check,
    make_ready,
    microphone_option,
    model_option,
    refusing,
    sequence_option,
    speaker_option,
    store_option,
)
from assistant.commands.panel import open_panel, panel_option
from assistant.commands.plan_day import date_of
from assistant.commands.sums import SETTINGS
from assistant.ears import MicrophoneEars
from assistant.errors import BadInput, KitcallError, PanelError, SwitchedOff
from assistant.fitness import Finding, Gear
from assistant.judges import Judges
from assistant.language.box import BoxWords, shipped_box_words
from assistant.language.commands import shipped_commands
from assistant.language.group import group_replies, with_return
from assistant.language.replies import shipped_replies
from assistant.mouth import SpokenMouth
from assistant.places import store_path, voice_cache
from assistant.record import Entry, Log, day_entries, open_or_set_aside, rail_entries
from assistant.sums import settings as centre_settings
from assistant.sums.settings import Settings
from assistant.watchdog import Watchdog
from audio.ear import Ear
from audio.play import Speaker
from audio.voice import Voice
from hardware.panel import Gesture, Panel
from hardware.rhythm import State

LOOK_AGAIN_S = 60.0  # a box that is not ready tests itself again, in case somebody plugged something in
POLL_S = 0.1
BREATH_S = 2.0
OFF_FILE = "off"  # in the service's run folder: a unit that sees it switches the machine off


@dataclass(frozen=True, slots=True)
class Box:
    """What stays the same for as long as the box is on."""

    gear: Gear
    panel: Panel
    words: BoxWords
    watchdog: Watchdog
    centre: Settings


@click.command()
@microphone_option
@speaker_option
@panel_option
@sequence_option
@model_option
@store_option
@SETTINGS
@refusing
def box(
    microphone: str | None, speaker: str | None, panel: str, sequence: str | None, model_path: str | None,
    store: str | None, settings: Path | None,
) -> None:  # fmt: skip
    """Run as the box on the rail: test, say so, lead check after check by voice and button, until held long.

    Where trips are planned for today, their divers come first, as in `kitcall group`; "leave the group" goes on, and
    "back from the dive" begins a trip's return check.
    Press: begin, next diver, listen now, or hear it again. Hold: wait; before a check: copy the log to the stick.
    Hold long: switch off. Not ready means that no check starts: it says what is wrong and what to do, and tests
    itself again.
    """
    gear, words = Gear(microphone, speaker, model_path, store, sequence), shipped_box_words()
    centre = centre_settings.load(settings)
    try:
        with open_panel(panel) as shown:
            serve(Box(gear, shown, words, Watchdog(), centre))
    except PanelError:
        told = words.troubles["no_panel"]
        tell_by(speaker, [words.say("unfit", say=told.say, do=told.do)])
        raise
    sys.exit(0)


def serve(box: Box) -> None:
    """Test and lead, over and over, until somebody switches off."""
    try:
        while True:
            findings = become_fit(box)
            console().print(table_of(findings))
            try:
                lead(box)
            except SwitchedOff:
                raise
            except KitcallError as problem:  # told aloud by the next self-test, by part and with what to do
                console().print(f"{problem} {problem.mend}")
                box.panel.show(State.TROUBLE)
                time.sleep(BREATH_S)
    except SwitchedOff:
        tell(box, [box.words.say("off")])
        box.panel.show(State.DARK)
        if folder := os.environ.get("RUNTIME_DIRECTORY"):
            (Path(folder) / OFF_FILE).touch()


def become_fit(box: Box) -> list[Finding]:
    """Test until every part is fit; says each time what is wrong. Raises SwitchedOff."""
    while True:
        box.panel.show(State.SAVING if box.panel.state is State.DARK else State.TROUBLE)
        findings = list(fitness.look(box.gear))
        box.watchdog.began()  # a whole test is progress, whatever it found
        if all(each.fit for each in findings):
            tell(box, spoken(findings, box.words))
            return findings
        console().print(table_of(findings))
        tell(box, spoken(findings, box.words))
        box.panel.show(State.TROUBLE)
        if wait_for_keeper(box) is Gesture.HOLD and any(each.trouble == "record_damaged" for each in findings):
            begin_anew(box)


def wait_for_keeper(box: Box, pause: Callable[[float], None] = time.sleep) -> Gesture | None:
    """A gesture once the button is let go, since a hold may become a long one; None when it is time to look again.
    Raises SwitchedOff for a long hold."""
    found = None
    for _ in range(round(LOOK_AGAIN_S / POLL_S)):
        pause(POLL_S)
        gesture = box.panel.gesture()
        if gesture is Gesture.LONG_HOLD:
            raise SwitchedOff("The button was held long.")
        found = gesture or found
        if found is not None and not box.panel.is_down:
            break
    return found


def begin_anew(box: Box) -> None:
    """Set the damaged record aside, on the keeper's own hand at the button, and begin a new one."""
    with suppress(KitcallError):
        opening = open_or_set_aside(store_path(box.gear.store), lambda path: open_log(str(path)))
        opening.log.close()
        if opening.set_aside:
            tell(box, [box.words.say("set_aside")])


def tell(box: Box, lines: list[str]) -> None:
    """Say these lines as far as there is a voice and a speaker; the lights are there in any case."""
    box.panel.show(State.SPEAKING)
    tell_by(box.gear.speaker, lines)


def tell_by(speaker: str | None, lines: list[str]) -> None:
    """The same where there is no panel."""
    with suppress(KitcallError), Voice(folder=voice_cache()) as own, Speaker(speaker) as out:
        for line in lines:
            out.play(*own.render(line))


def lead(box: Box) -> None:
    """Today's trips, then one check after another. Raises SwitchedOff, or the KitcallError that ended it; what was
    answered is kept."""
    loaded = load_check(box.gear.sequence, box.gear.model)
    with open_log(box.gear.store) as log:
        plan = planned(log, date_of(None))
        trips = [int(str(entry.facts["trip"])) for entry in plan if entry.kind == "trip_planned"]
        after = return_check(loaded.recogniser) if trips else loaded.check
        outings = [Outing(plan[0].session, trip, loaded.check, after) for trip in trips]
        for outing in outings:
            if goes_on := due(log, outing, time.time()):
                lead_trip(box, loaded, log, plan, goes_on)
        while True:
            lead_trip(box, loaded, log, plan, lead_others(box, loaded, log, plan, outings))


def lead_trip(box: Box, loaded: Loaded, log: Log, plan: list[Entry], outing: Outing) -> None:
    """The divers of that trip, and once they are back what came back, until the guide leaves the group."""

    def opened(outing: Outing) -> AbstractContextManager[Parts]:
        return joined(box, ready_for(outing, loaded.recogniser, first_names(plan, outing.trip)), log)

    lead_group(outing, opened, new_session_id, partial(gas_of, box.centre))


def lead_others(box: Box, loaded: Loaded, log: Log, plan: list[Entry], outings: list[Outing]) -> Outing:
    """One check after another of whoever comes, until one of today's trips is back; gives its return check."""
    if outings:
        loaded = make_ready(loaded.check, loaded.recogniser, with_return(shipped_commands(loaded.check.language)))
    with joined(box, loaded, log) as parts:
        if out(log, outings, time.time()):
            parts.say(group_replies(loaded.check.language).say("when_back"))
        while True:
            company = Shore(set_apart(log))
            begin(loaded, log, parts, plan, company).run()
            if company.is_back and (outing := ask_which(parts, outings)):
                return outing


def set_apart(log: Log) -> Iterable[tuple[str, str]]:
    """What any check set apart, which may not be taken as a spare."""
    return Rail.of((entry.session, Record(entry.kind, entry.facts)) for entry in rail_entries(log)).apart


def begin(loaded: Loaded, log: Log, parts: Parts, plan: list[Entry], company: Shore) -> Conversation:
    """The check that was broken off, or a new one; one of another sequence, or of a trip that the guide has left,
    stays on hold, where it was."""
    day = day_entries(log, plan[0].session) if plan else ()
    in_trips = {entry.facts["check"] for entry in day if entry.kind == "diver_called"}
    if (session := log.unfinished()) and session not in in_trips:
        with suppress(BadInput):
            return Conversation(loaded.check, session, Start(by="key"), parts, company)
    return Conversation(loaded.check, new_session_id(), Start(by="key"), parts, company)


@contextmanager
def joined(box: Box, loaded: Loaded, log: Log) -> Iterator[Parts]:
    """The parts of a conversation with button, lights and watchdog, open until the end."""
    gear, panel = box.gear, box.panel
    with (
        Voice(folder=voice_cache()) as own,
        TouchedMicrophone(gear.microphone) as source,
        Speaker(gear.speaker) as out,
    ):
        save = log_saver(log.path, loaded.check.language)
        mouth = BoxMouth(SpokenMouth(own, out, source), out, panel)
        inner = MicrophoneEars(Ear(loaded.recogniser), source, lambda: False, out)
        ears = BoxEars(
            inner, source, panel, lambda: box.watchdog.turned(log.prove), lambda: save(mouth.say)
        )  # fmt: skip
        replies = shipped_replies(loaded.check.language)
        witness = BoxWitness(ears)
        yield Parts(log, ears, mouth, witness, loaded.expected, replies, save_log=save, judges=Judges(box.centre))
