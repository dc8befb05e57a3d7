"""The self-test: is this machine fit to lead a check? Each part looked at for real, each trouble named by its code.

A code has its two sentences in grammars/en/box.toml. One part that fails hides no other. Nothing here repairs anything.
"""

from __future__ import annotations

import importlib.metadata
import os
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path

import numpy as np
import soxr

from assistant import board, sticks
from assistant.check.turns import Expects
from assistant.commands.options import load_check
from assistant.errors import KitcallError, NoMicrophone, NoSpeaker, StoreBusy, StoreDamaged, StoreError, VoiceFailed
from assistant.events import Heard
from assistant.language.phrases import expand, parse
from assistant.places import device_name, store_path, voice_cache
from assistant.record import Log, Reader
from audio import known, model, opinion
from audio.activity import Level
from audio.capture import Microphone
from audio.ear import Ear
from audio.frames import FRAME_S, RATE_HZ, Frame, Framer
from audio.play import Speaker
from audio.voice import Voice
from hardware.install import file_system, is_unsafe

LISTEN_S = 2.0
LEAST_FREE_MB = 200
BUILT = datetime(2026, 11, 1, tzinfo=UTC)  # no true clock can be before this version was made
LOUD_DB = -30.0  # of full scale in the speech band, with nobody speaking
HOT_DEGC = 80.0  # Raspberry Pi documentation, "Frequency management and thermal control": slowed from 80 to 85
TONES_HZ = (700, 1100, 1700)  # inside the speech band, and no harmonics of one another
TONE_S, TONE_PEAK = 0.3, 8000
HEARD_OVER_DB = 10.0
SLOW_VOICE_S = 45.0  # a small machine that has just started, or an emulated one; a hang is still told
ECHO_S = 1.0  # how long after the tones they may still arrive, over a slow sound server
SELF_TEST = "self-test"  # the session under which the record keeps that one was made


@dataclass(frozen=True, slots=True)
class Finding:
    """One part: fit or not, what was found; of a trouble its code and what to do in a line."""

    part: str
    fit: bool
    found: str
    trouble: str = ""
    mend: str = ""


@dataclass(frozen=True, slots=True)
class Gear:
    """What is to be tested; None takes the default of each."""

    microphone: str | None = None
    speaker: str | None = None
    model: str | None = None
    store: str | None = None
    sequence: str | None = None
    with_sound: bool = True


def look(gear: Gear) -> Iterator[Finding]:
    """Test every part, the quick ones first."""
    yield examine("version", read_version, "")
    yield examine("supply", read_supply, "supply_low")
    yield examine("temperature", read_temperature, "too_hot")
    yield examine("clock", lambda: read_clock(gear.store), "clock_wrong")
    yield examine("disk", lambda: measure_disk(gear.store, "KITCALL_ON_BOX" in os.environ), "disk_low")
    yield examine("model", lambda: check_model(gear.model), "model_damaged")
    yield examine("record", lambda: try_record(gear.store), "record_refused")
    yield examine("hearing", lambda: hear_own_voice(gear), "not_understood")
    if not gear.with_sound:
        return
    yield examine("microphone", lambda: hear_deck(gear.microphone), "no_microphone")
    yield examine("speaker", lambda: hear_speaker(gear), "no_speaker")


CODES = {NoMicrophone: "no_microphone", NoSpeaker: "no_speaker", VoiceFailed: "no_voice",
         StoreBusy: "record_busy", StoreDamaged: "record_damaged"}  # fmt: skip


def examine(part: str, test: Callable[[], Finding], trouble: str) -> Finding:
    """The test's finding, or its refusal as one."""
    try:
        return test()
    except KitcallError as problem:
        return Finding(part, False, str(problem), CODES.get(type(problem), trouble), problem.mend)


def read_version() -> Finding:
    """Which kitcall this is, on what."""
    return Finding("version", True, f"kitcall {importlib.metadata.version('kitcall')} {board.machine()}".strip())


def read_supply(flags: board.Flags | None = None) -> Finding:
    """The supply's flags; a supply that was too low since the start is a trouble, even when it is not so now."""
    flags = flags or board.read_flags()
    if flags.is_low:
        return Finding("supply", False, flags.words, "supply_low", "Change battery and cable, then start anew.")
    return Finding("supply", True, flags.words)


def read_temperature(now_degc: float | None = None) -> Finding:
    """The chip's temperature."""
    now_degc = board.read_temperature_degc() if now_degc is None else now_degc
    if now_degc is None:
        return Finding("temperature", True, "not told by this machine")
    if now_degc >= HOT_DEGC:
        return Finding("temperature", False, f"{now_degc:.0f} °C", "too_hot", "Out of the sun; let it cool.")
    return Finding("temperature", True, f"{now_degc:.0f} °C")


def read_clock(
    store: str | None, wall: Callable[[], datetime] = lambda: datetime.now(UTC),
    vouched: Callable[[], bool] = board.is_clock_vouched_for,
) -> Finding:  # fmt: skip
    """A clock before this version was made is wrong; so is one before the record's last event, unless a time server
    or a clock chip vouches for it (then it was wrong then). The record's order does not depend on it, a stamp's does.
    """
    now, earliest, path = wall(), BUILT, store_path(store)
    if path.exists() and not vouched():
        with suppress(StoreError), Reader(path) as reader:  # the record's own row tells what is wrong with it
            earliest = max(earliest, reader.last_wall() or earliest)
    found = f"{now:%Y-%m-%d %H:%M} UTC, {board.clock_source()}"
    if now < earliest:
        mend = f"Set the clock: it cannot be before {earliest:%Y-%m-%d %H:%M} UTC. A clock chip keeps it."
        return Finding("clock", False, found, "clock_wrong", mend)
    return Finding("clock", True, found)


def measure_disk(store: str | None, must_keep: bool = False, mounts: Path = sticks.MOUNTS) -> Finding:
    """Space where the record lies; on the box also whether that place keeps what is written (proc_pid_mountinfo(5)):
    the installer has looked, and somebody may have made the whole system forgetful since."""
    place = store_path(store).parent
    while not place.exists():
        place = place.parent
    kind = file_system(place.resolve(), mounts.read_text())
    if must_keep and is_unsafe(kind):
        return Finding("disk", False, f"{place} lies on {kind}", "disk_forgets", "Give it a disk that keeps it.")
    free_mb = shutil.disk_usage(place).free // 1_000_000
    if free_mb < LEAST_FREE_MB:
        return Finding("disk", False, f"{free_mb} MB free at {place}", "disk_low", "Free some space.")
    return Finding("disk", True, f"{free_mb} MB free at {place}")


def check_model(path: str | None) -> Finding:
    """The files of both recognisers' models by their hashes."""
    folder = model.find(path)
    problems = known.verify(folder) + known.verify(opinion.find(), files=known.OPINION)
    if problems:
        return Finding("model", False, problems[0], "model_damaged", "Install kitcall's model again.")
    return Finding("model", True, f"{folder}: every file has its hash")


def try_record(store: str | None) -> Finding:
    """The record opens for writing, takes one event, synced, and its whole chain holds. One that a running kitcall
    is writing is only read."""
    path = store_path(store)
    try:
        with Log(path, device=device_name(), wall=lambda: datetime.now(UTC), monotonic=time.monotonic) as log:
            version = importlib.metadata.version("kitcall")
            log.append_all(SELF_TEST, [("self_tested", {"version": version})], "")
            report, how = log.verify(), "written"
    except StoreBusy:
        with Reader(path) as reader:
            report, how = reader.verify(), "a kitcall that runs is writing it"
    if not report.ok:
        mend = "Copy it with `kitcall backup`, then: kitcall log verify"
        return Finding("record", False, f"{path}: {report.damages[0].what}", "record_damaged", mend)
    return Finding("record", True, f"{path}: {how}, {report.count} events, each as it was written")


def hear_own_voice(gear: Gear) -> Finding:
    """The start phrase, rendered by our own voice, is understood by the real ear, without any room between."""
    loaded = load_check(gear.sequence, gear.model)
    phrase = " ".join(sorted(expand(parse(loaded.check.start[0]), {}), key=lambda words: len(words))[-1])
    with Voice(folder=voice_cache(), deadline_s=SLOW_VOICE_S) as own:
        samples, rate_hz = own.render(phrase)
    heard = Ear(loaded.recogniser).listen(padded(samples, rate_hz), loaded.expected.at(Expects("start")))
    if isinstance(heard, Heard) and heard.match.meaning == "start":
        return Finding("hearing", True, f'"{heard.match.text}" understood')
    return Finding("hearing", False, f'"{phrase}" was not understood', "not_understood", "Install kitcall again.")


def padded(samples: Frame, rate_hz: int) -> Iterator[Frame]:
    """A line as the ear would get it: 16 kHz frames, quiet before and after."""
    sound = np.asarray(soxr.resample(samples.astype(np.float32) / 32768, rate_hz, RATE_HZ))
    quiet = np.zeros(RATE_HZ, np.float32)
    framer = Framer(RATE_HZ)
    yield from framer.push(np.concatenate([quiet, sound, quiet]))
    yield from framer.finish()


def hear_deck(name: str | None) -> Finding:
    """Two seconds of the microphone: there, not dead, not turned up too far, not drowned."""
    with Microphone(name) as source:
        frames = list(islice(source, round(LISTEN_S / FRAME_S)))
        label = source.device.name if source.device else "microphone"
    level = Level()
    levels_db = []
    for frame in frames:
        level.take(frame)
        levels_db.append(level.now_db)
    clipped = float(np.mean([np.abs(frame.astype(np.int32)).max() >= 32700 for frame in frames]))
    found = f"{label}: noise {level.floor_db:.0f} dB of full scale, loudest {max(levels_db):.0f} dB"
    if not any(frame.any() for frame in frames):
        mend = "It is muted or unplugged; check both."
        return Finding("microphone", False, f"{found}: digital silence", "microphone_silent", mend)
    if clipped > 0.05:
        return Finding("microphone", False, f"{found}, clipping", "microphone_clipping", "Turn its level down.")
    if level.floor_db > LOUD_DB:
        return Finding("microphone", False, f"{found}: too loud", "deck_too_loud", "Move away from the engine.")
    return Finding("microphone", True, found)


def hear_speaker(gear: Gear) -> Finding:
    """Three tones out of the speaker are found in what the microphone hears; two of them will do on a loud deck."""
    rate_hz = 22_050
    with Microphone(gear.microphone) as source, Speaker(gear.speaker) as out:
        before = list(islice(source, round(0.5 / FRAME_S)))
        out.play(tones(rate_hz), rate_hz)
        after = list(islice(source, round((0.5 + len(TONES_HZ) * TONE_S + ECHO_S) / FRAME_S)))
        name = out.device.name
    over_db = [loudest_db(after, hz) - loudest_db(before, hz) for hz in TONES_HZ]
    found = f"{name}: three tones heard {', '.join(f'{each:.0f}' for each in over_db)} dB over the deck"
    if sum(each >= HEARD_OVER_DB for each in over_db) < 2:
        mend = "Turn it up, check its cable; or the microphone is covered."
        return Finding("speaker", False, found, "speaker_unheard", mend)
    return Finding("speaker", True, found)


def tones(rate_hz: int) -> Frame:
    """The three tones one after another, each with soft ends."""
    time_s = np.arange(round(TONE_S * rate_hz)) / rate_hz
    soft = np.minimum(1.0, np.minimum(time_s, TONE_S - time_s) / 0.02)
    return np.concatenate([TONE_PEAK * soft * np.sin(2 * np.pi * hz * time_s) for hz in TONES_HZ]).astype(np.int16)


def loudest_db(frames: list[Frame], hz: float) -> float:
    """The strongest 100 ms at that frequency, in dB of full scale; -100 for silence."""
    window_frames = 5
    samples = np.concatenate(frames).astype(np.float64) / 32768
    count = window_frames * frames[0].size
    pieces = samples[: samples.size // count * count].reshape(-1, count)
    turning = np.exp(-2j * np.pi * hz * np.arange(count) / RATE_HZ)
    power = np.abs(pieces @ turning) ** 2 / (count / 2) ** 2
    return 10 * float(np.log10(power.max(initial=0.0) + 1e-10))
