"""`kitcall hear` and `kitcall sequence`: files in, one JSON object a file out, and files that are none."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from assistant.commands.hear import RULES, described
from assistant.events import Care, Heard, Match, Why
from audio.voice import Voice

PHRASES = """
slots = ["size"]
[rules]
size = "small | large"
[[phrase]]
means = "order"
phrases = ["(give me | I'd like) a $size coffee"]
"""


HALF_HEARD = [
    ("pass", Care.FIRM, {"outcome": "unclear", "reason": "read_back", "read_back": True}),
    ("command:absent", Care.WEIGHTY, {"outcome": "unclear", "reason": "read_back", "read_back": True}),
    ("fault:cut", Care.WEIGHTY, {"outcome": "fault", "code": "cut", "read_back": True}),
    ("reading", Care.NUMBER, {"outcome": "reading", "read_back": True}),
]


@pytest.mark.parametrize(("meaning", "care", "expected"), HALF_HEARD, ids=[row[0] for row in HALF_HEARD])
def test_what_is_read_back_closes_no_step_before_a_yes(meaning: str, care: Care, expected: dict[str, Any]) -> None:
    found = described(Heard(Match(("words",), meaning, care, is_unsure=True)))
    assert found | expected == found


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, str], Path]:
    """record(words, file name) speaks into a WAV or FLAC file."""
    folder = tmp_path_factory.mktemp("recordings")

    def speak(words: str, name: str) -> Path:
        with Voice("gmw/en-gb-x-rp", 150) as voice:
            samples, rate_hz = voice.render(words)
        soundfile.write(folder / name, samples, rate_hz)
        return folder / name

    return speak


def objects(done: Any) -> list[dict[str, Any]]:
    return [json.loads(line) for line in done.stdout.splitlines()]


def test_files_against_a_step(kitcall: Any, record: Callable[[str, str], Path], short: Path, tmp_path: Path) -> None:
    """WAV and FLAC, a pass, a fault, a command, silence, and what is no recording: one object each, in order."""
    silent, text = tmp_path / "silent.wav", tmp_path / "text.wav"
    soundfile.write(silent, np.zeros(16_000, np.int16), 16_000)
    text.write_text("no sound")
    files = [record("inflator works and shuts off", "pass.wav"), record("inflator sticks", "fault.flac"),
             record("where are we", "command.flac"), silent, text, tmp_path / "missing.wav"]  # fmt: skip
    done = kitcall("hear", "--json", "--step", "inflator", "--sequence", short, *files)
    told = objects(done)
    assert [each["file"] for each in told] == [str(file) for file in files]
    assert [(each["outcome"], each.get("code"), each.get("phrase")) for each in told] == [
        ("pass", None, "inflator works and shuts off"),
        ("fault", "sticks", "inflator sticks"),
        ("command", "where", "where are we"),
        ("silent", None, ""),
        ("unclear", None, None),
        ("unclear", None, None),
    ]
    assert [bool(each.get("error") and each.get("mend")) for each in told] == [False] * 4 + [True, True]
    times = told[0]["times_s"]
    assert 0 <= times["speech_start"] < times["speech_end"] <= soundfile.info(str(files[0])).duration + 0.2
    assert times["decided"] < times["speech_end"] + 2.0
    assert done.returncode == 1  # a file could not be read


def test_file_against_a_phrase_file(kitcall: Any, record: Callable[[str, str], Path], tmp_path: Path) -> None:
    phrases = tmp_path / "orders.toml"
    phrases.write_text(PHRASES)
    done = kitcall("hear", "--phrases", phrases, record("I'd like a large coffee", "order.wav"))
    (told,) = objects(done)
    assert (told["outcome"], told["code"], told["slots"]) == ("answer", "order", {"size": "large"})
    assert done.returncode == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [((), "say what to listen for"), (("--step", "inflater"), "inflater")],
    ids=["neither step nor phrases", "no such step"],
)
def test_hear_refuses(kitcall: Any, short: Path, words: tuple[str, ...], says: str) -> None:
    done = kitcall("hear", "any.wav", "--sequence", short, *words)
    assert done.returncode == 2
    assert says in done.stderr.splitlines()[0]
    assert len(done.stderr.splitlines()) == 2


def test_good_sequence(kitcall: Any, short: Path) -> None:
    done = kitcall("sequence", short)
    assert (done.returncode, done.stdout.splitlines()[-1]) == (0, "This sequence is fit to use.")


def test_bad_sequence(kitcall: Any, short: Path, tmp_path: Path) -> None:
    """All that is wrong at once, with its place, in words and for programs."""
    bad, text = tmp_path / "bad.toml", short.read_text(encoding="utf-8")
    bad.write_text(text.replace('pass = ["hoses gone', 'pass = ["okay", "hoses gone'))
    done = kitcall("sequence", bad)
    assert (done.returncode, done.stdout.splitlines()[-1]) == (1, "This sequence is refused.")
    assert 'the one word "okay" would pass a critical step' in done.stdout
    told = json.loads(kitcall("sequence", "--json", bad).stdout)
    assert [refusal["rule"] for refusal in told["refusals"]].count("one_word") == 1


def test_every_doubt_has_a_rule_to_explain_it() -> None:
    assert set(RULES) == {why.value for why in Why}
