"""kitcall group: the divers of a trip, in any order, before or after the dive."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import click

from assistant.app import Parts
from assistant.boat_back import lead
from assistant.boat_gas import GasFound
from assistant.boat_roster import Outing
from assistant.check.steps import Check
from assistant.commands.check import keyboard, log_saver, new_session_id, open_log, voice
from assistant.commands.options import (
    Loaded,
    console,
    make_ready,
    microphone_option,
    model_option,
    refusing,
    sequence_option,
    speaker_option,
    store_option,
)
from assistant.commands.plan_day import date_of
from assistant.commands.sums import SETTINGS
from assistant.errors import BadInput
from assistant.judges import Judges
from assistant.language.commands import shipped_commands
from assistant.language.files import grammar_file
from assistant.language.group import with_group
from assistant.language.replies import shipped_replies
from assistant.language.sequence import load
from assistant.places import sequence_path
from assistant.record import Entry, Log, planned_days
from assistant.sums import dive
from assistant.sums import group as group_gas
from assistant.sums import settings as centre_settings
from assistant.sums.settings import Settings
from assistant.transcript import Transcript
from audio import model
from audio.recognise import Recogniser


@click.command()
@click.option("--trip", metavar="NAME", help="The trip, as the plan names it; not needed when there is only one.")
@click.option("--date", "day", metavar="YYYY-MM-DD", help="The day; today when not given.")
@click.option("--after-dive", is_flag=True, help="Ask what came back: the short return check of each set.")
@click.option("--return-sequence", metavar="FILE", help="Return check to use instead of the shipped one.")
@click.option("--typed", is_flag=True, help="Answer at the keyboard; for a machine without a microphone.")
@click.option("--quiet", is_flag=True, help="With --typed: show the words, speak none.")
@microphone_option
@speaker_option
@sequence_option
@model_option
@store_option
@SETTINGS
@refusing
def group(
    trip: str | None, day: str | None, after_dive: bool, return_sequence: str | None, typed: bool, quiet: bool,
    microphone: str | None, speaker: str | None, sequence: str | None, model_path: str | None, store: str | None,
    settings: Path | None,
) -> None:  # fmt: skip
    """Lead the divers of a planned trip through their checks.

    Always understood: next diver, diver five, who is left, who is on hold and why, swap with diver three, swap the
    jacket with diver three, take diver four off the trip, put diver four back on the trip, is the boat ready, leave
    the group. A check that is left goes on where it was, also after a crash. Between two checks "back from the dive"
    begins the return check of each set. Ends with 0 when the boat is ready, and after a return check.
    """
    centre = centre_settings.load(settings)
    recogniser = Recogniser(model.find(model_path))
    before = load(sequence_path(sequence), recogniser.knows)
    after = return_check(recogniser, return_sequence)
    with open_log(store) as log:
        entries = plan_of(log, date_of(day))
        number, names = chosen_trip(entries, trip)

        @contextmanager
        def opened(outing: Outing) -> Iterator[Parts]:
            loaded = ready_for(outing, recogniser, names)
            with keyboard(quiet, speaker) if typed else voice(loaded, microphone, speaker) as (ears, mouth):
                yield Parts(log, ears, mouth, Transcript(console(), outing.check), loaded.expected,
                            shipped_replies(before.language), save_log=log_saver(log.path, before.language),
                            judges=Judges(centre))  # fmt: skip

        outing = Outing(entries[0].session, number, before, after, after_dive)
        ready = lead(outing, opened, new_session_id, partial(gas_of, centre))
        transcript = Transcript(console(), before)
        if ready is not None:
            transcript.line("boat", "READY" if ready else "HOLD")
        transcript.line("record", str(log.path))
    sys.exit(1 if ready is False else 0)


def return_check(recogniser: Recogniser, place: str | None = None) -> Check:
    """The sequence of the return check: the shipped one, or the file at `place`."""
    return load(Path(place) if place else Path(str(grammar_file("checks/return.toml"))), recogniser.knows)


def ready_for(outing: Outing, recogniser: Recogniser, names: list[str]) -> Loaded:
    """The check that is led, with the group's commands beside its own; `names`: first names on the trip."""
    before = outing.before
    commands = with_group(shipped_commands(before.language), before, names, recogniser.knows)
    return make_ready(outing.check, recogniser, commands)


def plan_of(log: Log, when: str) -> list[Entry]:
    """The events of that day's plan, the last one imported; BadInput when there is none."""
    if not (entries := planned(log, when)):
        raise BadInput(f"nothing is planned for {when}", "Take over a plan first: kitcall plan-day FILE.")
    return entries


def planned(log: Log, when: str) -> list[Entry]:
    """The same; empty when nothing is planned."""
    sessions = [row.session for row in planned_days(log) if row.date == when]
    return list(log.entries(sessions[-1])) if sessions else []


def chosen_trip(entries: list[Entry], name: str | None) -> tuple[int, list[str]]:
    """The number of the trip named, or of the only one, and the first names on it."""
    trips = {str(e.facts["name"]): int(str(e.facts["trip"])) for e in entries if e.kind == "trip_planned"}
    found = [trip for trip in trips if name is None or trip.lower() == name.lower()]
    if len(found) != 1:
        problem = "there are several trips" if name is None else f'there is no trip "{name}"'
        raise BadInput(problem, f"Name one with --trip: {', '.join(trips)}.")
    return trips[found[0]], first_names(entries, trips[found[0]])


def first_names(entries: list[Entry], number: int) -> list[str]:
    """The first names on that trip of a plan; divers with a number have none."""
    divers = [str(e.facts["diver"]) for e in entries if e.kind == "diver_planned" and e.facts["trip"] == number]
    return [diver for diver in divers if diver.isalpha()]


def gas_of(
    centre: Settings, read: Mapping[str, tuple[float, float]], depth_m: float, minutes: float
) -> GasFound:
    """The group's gas for the planned dive, from each diver's cylinder (litres) and pressure (bar)."""
    wanted, gauge = dive.Dive(depth_m, minutes), centre.gauge.as_gauge()
    plans = {
        name: dive.plan(dive.Diver(litres, bar), wanted, centre.plan, centre.mix, gauge)
        for name, (litres, bar) in read.items()
    }
    limit = group_gas.limit(plans)
    return GasFound(limit.limited_by, max(0.0, float(int(limit.longest_min))), limit.short)
