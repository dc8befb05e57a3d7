"""The invented season's figures on the page equal those that its divers counted with their own eyes.

Six days of eight divers as text in every run, and on a further day some whose answers are spoken in deck noise and
heard by the real recogniser; KITCALL_SEASON=120x40 plays the whole season (some five minutes of processor).
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from functools import partial
from itertools import cycle
from pathlib import Path
from random import Random
from statistics import mean
from zoneinfo import ZoneInfo

import pytest

from assistant.check.turns import Expects, Fact
from assistant.commands.group import gas_of
from assistant.commands.options import load_check
from assistant.events import Heard
from assistant.language.commands import shipped_commands
from assistant.language.replies import shipped_replies
from assistant.language.sequence import load
from assistant.places import sequence_path
from assistant.record import Ledger, Log
from assistant.record.day_rows import newest_day, read_day
from assistant.record.kit_rows import open_jobs, read_dated, read_items
from assistant.record.season_rows import faults_by_age, faults_by_kind, read_months, steps_asked_again
from assistant.rehearsal.diver import Diver, frames
from assistant.rehearsal.scene import load_scene
from assistant.rehearsal.season import load_season
from assistant.rehearsal.season_days import SeasonClock, SeasonDays
from assistant.rehearsal.season_diver import Hear
from assistant.sums.settings import defaults
from audio.ear import Ear
from audio.voice import Voice

DAYS, DIVERS = (int(part) for part in os.environ.get("KITCALL_SEASON", "6x8").split("x"))
ZONE = ZoneInfo("Europe/Athens")
SPOKEN = 3  # divers of the last day, by voice
SLOWER_WPM = 20  # what was not understood is said again so much slower
MORE = 6.0  # a short season gets more faults, so that there is something to count


@pytest.fixture(scope="module")
def hear(model_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Hear]:
    """Says words as the demo's diver does, in the noise of a deck, and gives what the real ear makes of them."""
    loaded, folder = load_check(None, str(model_folder)), tmp_path_factory.mktemp("voice")
    scene, ear = load_scene(loaded.check), Ear(loaded.recogniser)
    speaker = scene.shape.voice
    paces = [Voice(speaker.name, speaker.rate_wpm - less, folder) for less in (0, SLOWER_WPM)]
    divers = cycle([Diver(scene, voice, ear, lambda words: None) for voice in paces])
    saying = {"diver": next(divers)}

    def heard(words: str, expects: Expects) -> Fact:
        sound = saying["diver"].sound(words, expects.window_s)
        fact = ear.listen(frames(sound), loaded.expected.at(expects), expects.window_s)
        if not isinstance(fact, Heard):
            saying["diver"] = next(divers)
        return fact

    yield heard
    for voice in paces:
        voice.close()


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory, hear: Hear) -> Iterator[tuple[SeasonDays, Ledger, Log]]:
    path: Path = tmp_path_factory.mktemp("season") / "record.db"
    check = load(sequence_path(), lambda word: True)
    shape, clock = load_season(check), SeasonClock()
    if DAYS < 30:
        rates = [rate.model_copy(update={"per_1000": rate.per_1000 * MORE}) for rate in shape.rate]
        shape = shape.model_copy(update={"rate": rates, "first_day": "2026-06-28"})
    log = Log(path, device="season", wall=clock.wall, monotonic=lambda: clock.now.timestamp(),
              random_bytes=Random(5).randbytes)  # fmt: skip
    with closing(log), Ledger(path, ZONE) as ledger:
        days = SeasonDays(shape, check, shipped_commands(), shipped_replies(check.language), log, ledger, clock,
                          partial(gas_of, defaults()))  # fmt: skip
        last = [*days.play(DAYS, DIVERS)][-1] + timedelta(days=1)
        days.speak(hear)
        days.morning(last, SPOKEN)
        days.evening(last)
        yield days, ledger, log


def test_the_last_day_was_spoken(season: tuple[SeasonDays, Ledger, Log]) -> None:
    _, ledger, log = season
    last = [line.session for line in read_day(ledger, str(newest_day(ledger))).checks]
    entries = [entry for entry in log.entries() if entry.session in last]
    print("doubted:", [(e.facts["step"], e.facts["why"], e.facts["heard"]) for e in entries if e.kind == "doubted"])
    assert len(last) == SPOKEN
    assert {e.facts["by"] for e in entries if e.kind in ("check_started", "answered", "replaced")} == {"voice"}
    assert len([e for e in entries if e.kind == "answered"]) > SPOKEN * 20
    assert len([e for e in entries if e.kind == "verdict_given"]) == SPOKEN


def test_each_morning_has_its_boats(season: tuple[SeasonDays, Ledger, Log]) -> None:
    """A boat is ready when each of its divers is, by the check's own page; their gas lasts for the planned dive."""
    _, ledger, _ = season
    newest = str(newest_day(ledger))
    days = [read_day(ledger, day) for day in (newest, read_day(ledger, newest).before or "")]
    for day in days:
        ready = {check.who: check.verdict == "ready" for check in day.checks}
        assert sum(trip.divers for trip in day.trips) == len(day.checks)
        for trip in day.trips:
            assert trip.facts["ready"] == [place for place, who in trip.who.items() if ready[who]]
            assert trip.facts["hold"] == [place for place, who in trip.who.items() if not ready[who]]
            assert trip.verdict == ("hold" if trip.facts["hold"] else "ready")
            assert trip.facts["hold"] or (trip.facts["gas"]["minutes"] > 25 and not trip.facts["gas"]["short"])


def test_something_happened(season: tuple[SeasonDays, Ledger, Log]) -> None:
    truth = season[0].truth
    assert sum(truth.faults.values()) > 10
    assert len(truth.minutes) >= 2
    assert sum(truth.again.values()) > 10


def test_faults_by_kind_and_month(season: tuple[SeasonDays, Ledger, Log]) -> None:
    days, ledger, _ = season
    months = [line.month for line in read_months(ledger)]
    found = {(month, kind.item, kind.step, kind.code): count
             for kind in faults_by_kind(ledger, months)
             for month, count in zip(months, kind.by_month, strict=True) if count}  # fmt: skip
    assert found == dict(days.truth.faults)


def test_faults_by_item_and_age(season: tuple[SeasonDays, Ledger, Log]) -> None:
    days, ledger, _ = season
    found = {(item, years): count for item, counts in faults_by_age(ledger).items() for years, count in counts.items()}
    assert found == dict(days.truth.by_age)


def test_months(season: tuple[SeasonDays, Ledger, Log]) -> None:
    days, ledger, _ = season
    truth = days.truth.months
    for line in read_months(ledger):
        assert (line.checks, line.ready, line.judged - line.ready, line.swapped) == tuple(
            truth[line.month, what] for what in ("checks", "ready", "hold", "swapped")
        )
        assert line.minutes == pytest.approx(mean(days.truth.minutes[line.month]))
    assert sum(truth[key] for key in truth if key[1] == "checks") == DAYS * DIVERS + SPOKEN


def test_steps_asked_again(season: tuple[SeasonDays, Ledger, Log]) -> None:
    days, ledger, _ = season
    lines = steps_asked_again(ledger)
    assert {line.step: line.again for line in lines if line.again} == dict(days.truth.again)
    assert {line.step: line.asked for line in lines} == dict(days.truth.asked)


def test_what_is_apart_is_what_lies_apart(season: tuple[SeasonDays, Ledger, Log]) -> None:
    days, ledger, _ = season
    lying = {(thing.item, thing.number) for thing in days.things() if thing.apart_since is not None}
    assert {(job.item, job.number) for job in open_jobs(ledger)} == lying
    assert {(line.item, line.number) for line in read_items(ledger) if line.state} == lying


def test_uses_since_a_service_are_the_ready_checks(season: tuple[SeasonDays, Ledger, Log]) -> None:
    _, ledger, log = season
    worn: Counter[tuple[str, str]] = Counter()
    now: dict[str, dict[str, str]] = {}
    for entry in log.entries():
        if entry.kind == "check_started":
            items = entry.facts["items"]
            assert isinstance(items, dict)
            now[entry.session] = {item: str(number) for item, number in items.items() if number is not None}
        elif entry.kind == "replaced":
            now[entry.session][str(entry.facts["item"])] = str(entry.facts["new"])
        elif entry.kind == "no_spare":
            now[entry.session].pop(str(entry.facts["item"]), None)
        elif entry.kind == "verdict_given" and entry.facts["verdict"] == "ready":
            worn.update(now[entry.session].items())
    dated = [each for each in read_dated(ledger) if each.what == "service"]
    assert dated
    assert {(each.item, each.number): each.uses for each in dated} == {
        (each.item, each.number): worn[each.item, each.number] for each in dated
    }


def test_every_day_is_signed_and_the_record_holds(season: tuple[SeasonDays, Ledger, Log]) -> None:
    _, ledger, log = season
    days = [read_day(ledger, str(day)) for (day,) in ledger.rows("SELECT DISTINCT day FROM checks ORDER BY day")]
    assert [len(day.checks) for day in days] == [DIVERS] * DAYS + [SPOKEN]
    assert [(day.signed is not None, day.open, day.later) for day in days] == [(True, [], [])] * (DAYS + 1)
    assert ledger.note("damage") == ""
    assert log.verify().ok
