"""The self-test finds each trouble and no other, and has words for it."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assistant import board, fitness, sticks
from assistant.commands import box
from assistant.commands.device import spoken
from assistant.errors import GrammarError, NoMicrophone
from assistant.fitness import Finding, Gear, examine, hear_deck, hear_own_voice, hear_speaker, loudest_db, read_clock
from assistant.language.box import TROUBLES, load_box_words, shipped_box_words
from assistant.language.commands import shipped_commands
from assistant.language.files import grammar_file
from assistant.language.phrases import expand, parse
from assistant.record import Log
from audio.frames import FRAME_SAMPLES, RATE_HZ

WORDS = shipped_box_words()
LATER = fitness.BUILT + timedelta(days=90)


def test_every_trouble_has_its_words_and_every_word_its_trouble() -> None:
    texts = "".join(Path(str(each.__file__)).read_text() for each in (fitness, sticks, box))
    named = {word for word in texts.split("\"") if word in TROUBLES}
    assert set(TROUBLES) - named == set()
    told = [Finding("any", False, "", trouble) for trouble in TROUBLES]
    assert len({*spoken(told, WORDS)}) == len(TROUBLES)
    assert spoken([Finding("any", True, "")], WORDS) == ["Everything works."]


def test_the_box_says_nothing_that_answers_it() -> None:
    """No line ends in a phrase of the conversation's own, or kitcall would answer itself."""
    commands = shipped_commands()
    phrases = {
        " ".join(words)
        for each in (*commands.commands, *commands.answers)
        for phrase in each.phrases
        if "$" not in phrase
        for words in expand(parse(phrase), {})
    }
    lines = [*WORDS.replies.values(), *(text for each in WORDS.troubles.values() for text in (each.say, each.do))]
    ends = [line for line in lines if any(line.lower().rstrip(".").endswith(" " + phrase) for phrase in phrases)]
    assert ends == []


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("[trouble.too_hot]", "[trouble.too_warm]", '"too_hot" is missing'),
        ("{count} events", "all events", "say.saved: does not say what it must"),
        ('say = "I am too hot."', 'say = "I am too hot"', "no whole sentence"),
        ("resting =", "sleeping =", '"resting" is missing'),
    ],
    ids=["trouble", "field", "sentence", "reply"],
)
def test_a_wrong_file_of_words_is_refused(tmp_path: Path, old: str, new: str, message: str) -> None:
    path = tmp_path / "box.toml"
    path.write_text(grammar_file("box.toml").read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(GrammarError) as refused:
        load_box_words(path)
    assert message in str(refused.value)


@pytest.mark.parametrize(
    ("said", "words", "low"),
    [
        ("throttled=0x0\n", "supply as it should be", False),
        # the documentation's own example: 0x50000, under-voltage and throttling have occurred since the last start
        ("throttled=0x50000\n", "supply was too low, was throttled", True),
        ("throttled=0x50005\n", "supply too low now, throttled now, supply was too low, was throttled", True),
        ("throttled=0x80008\n", "near its heat limit now, was near its heat limit", False),
        ("", "no supply flags on this machine", False),
        ("VCHI initialization failed", "no supply flags on this machine", False),
        ("throttled=fish", "no supply flags on this machine", False),
    ],
)
def test_supply_flags(said: str, words: str, low: bool) -> None:
    """Bits as in Raspberry Pi documentation, "vcgencmd", get_throttled."""
    flags = board.read_flags(lambda: said)
    found = fitness.read_supply(flags)
    assert (flags.words, found.fit, found.trouble) == (words, not low, "supply_low" if low else "")


@pytest.mark.parametrize(("degc", "fit"), [(48.3, True), (79.9, True), (80.0, False), (85.0, False)])
def test_temperature(tmp_path: Path, degc: float, fit: bool) -> None:
    (tmp_path / "temp").write_text(f"{degc * 1000:.0f}\n")
    assert fitness.read_temperature(board.read_temperature_degc(tmp_path / "temp")).fit is fit
    assert board.read_temperature_degc(tmp_path / "none") is None


@pytest.mark.parametrize(
    ("now", "vouched", "fit"),
    [
        (LATER + timedelta(hours=1), False, True),
        (LATER - timedelta(hours=1), False, False),
        (LATER - timedelta(hours=1), True, True),
        (datetime(1970, 1, 1, 0, 3, tzinfo=UTC), False, False),
        (datetime(1970, 1, 1, 0, 3, tzinfo=UTC), True, False),
        (datetime(2038, 1, 19, 3, 14, 8, tzinfo=UTC), False, True),
    ],
    ids=["after the last event", "before it", "before it, by a clock chip", "1970", "1970, by a chip", "2038"],
)
def test_clock(tmp_path: Path, now: datetime, vouched: bool, fit: bool) -> None:
    store = tmp_path / "record.db"
    with Log(store, device="d", wall=lambda: LATER, monotonic=lambda: 1.0) as log:
        log.append_all("s", [("continued", {})], "")
    found = read_clock(str(store), lambda: now, lambda: vouched)
    assert (found.fit, found.trouble) == (fit, "" if fit else "clock_wrong")


@pytest.mark.parametrize("text", [b"", b"no record at all, but some other file"], ids=["empty", "another file"])
def test_a_record_that_cannot_be_read_says_nothing_of_the_clock(tmp_path: Path, text: bytes) -> None:
    """An empty one is left by a power cut in the very first start: "My clock is wrong" was said of it."""
    store = tmp_path / "record.db"
    store.write_bytes(text)
    found = examine("clock", lambda: read_clock(str(store), lambda: LATER, lambda: False), "clock_wrong")
    assert (found.fit, found.trouble) == (True, "")


@pytest.mark.parametrize("kind", ["ext4", "overlay", "tmpfs", "fuse.sshfs"])
@pytest.mark.parametrize("must_keep", [True, False], ids=["box", "elsewhere"])
def test_a_disk_that_forgets(tmp_path: Path, kind: str, must_keep: bool) -> None:
    """An overlay switched on after the install; a format of mounts as in proc_pid_mountinfo(5)."""
    mounts = tmp_path / "mounts"
    mounts.write_text(f"22 1 179:2 / / rw shared:1 - ext4 /dev/a rw\n30 22 0:30 / {tmp_path} rw - {kind} {kind} rw\n")
    found = fitness.measure_disk(str(tmp_path / "record.db"), must_keep, mounts)
    assert found.trouble == ("disk_forgets" if must_keep and kind != "ext4" else "")


def test_record_is_written_and_its_damage_named(tmp_path: Path) -> None:
    store = tmp_path / "record.db"
    assert [fitness.try_record(str(store)).fit for _ in range(2)] == [True, True]
    with closing(Log(store, device="d", wall=lambda: LATER, monotonic=lambda: 1.0)):
        busy = fitness.try_record(str(store))
    assert (busy.fit, "2 events" in busy.found) == (True, True)
    data = bytearray(store.read_bytes())
    data[data.index(b'"version":"') + 11] ^= 1
    store.write_bytes(data)
    found = examine("record", lambda: fitness.try_record(str(store)), "record_refused")
    assert (found.fit, found.trouble) == (False, "record_damaged")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_record_that_cannot_be_written(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    found = examine("record", lambda: fitness.try_record(str(tmp_path / "deep/record.db")), "record_refused")
    assert (found.fit, found.trouble) == (False, "record_refused")


def test_own_voice_is_understood_and_a_deaf_ear_noticed(model_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    gear = Gear(model=str(model_folder))
    found = hear_own_voice(gear)
    assert found.fit, found.found
    assert found.found.endswith('check" understood')
    real = fitness.padded
    monkeypatch.setattr(fitness, "padded", lambda samples, rate_hz: real(samples[::-1].copy(), rate_hz))
    assert hear_own_voice(gear).trouble == "not_understood"


@pytest.mark.parametrize(("hz", "db"), [(700, -12.2), (1100, -100.0)], ids=["there", "not there"])
def test_level_of_a_tone(hz: float, db: float) -> None:
    """A sine of peak 8000 is 20 log10(8000/32768) = -12.2 dB of full scale; nothing at other frequencies."""
    samples = 8000 * np.sin(2 * np.pi * 700 * np.arange(RATE_HZ) / RATE_HZ)
    frames = list(samples.astype(np.int16).reshape(-1, FRAME_SAMPLES))
    assert loudest_db(frames, hz) == pytest.approx(db, abs=0.2 if hz == 700 else 30)


@pytest.mark.parametrize("joined", [True, False], ids=["speaker in the room", "speaker unplugged"])
def test_speaker_heard_by_the_microphone(soundcard: Callable[[str], str], joined: bool) -> None:
    """The virtual card has no air between speaker and microphone: a loopback is that air."""
    if joined:
        subprocess.run(
            ["pactl", "load-module", "module-loopback", "source=deck.monitor", "sink=mouth", "latency_msec=20"],
            check=True, capture_output=True,
        )  # fmt: skip
    found = hear_speaker(Gear("mic", "deck"))
    assert (found.fit, found.trouble) == (joined, "" if joined else "speaker_unheard"), found.found


def test_dead_and_missing_microphone(soundcard: Callable[[str], str]) -> None:
    assert hear_deck("mic").trouble == "microphone_silent"
    found: Any = examine("microphone", lambda: hear_deck("headset"), "no_microphone")
    assert (found.fit, found.trouble) == (False, fitness.CODES[NoMicrophone])
