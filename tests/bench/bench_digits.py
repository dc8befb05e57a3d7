"""Single digits by people, by speaker, heard by kitcall's ear and by plain vosk in the same run.

Twice by the ear: against a phrase file of the ten digits ("ear"), and as the check hears a replacement's number
("number"): its $number rule, which goes on to hundreds, with commands and everyday words beside it. There a digit may
be read back first: rightly, and it needs a yes ("agreed"), or as another, to which the answer is no ("refused").

    KITCALL_MODEL=FOLDER PYTHONPATH=. python tests/bench/bench_digits.py

The recordings are cut tight and have 8,000 samples a second: the ear gets them resampled to 16,000 with faint
noise before and after, as from a microphone in a quiet room; the level of each is set to the same. Plain vosk
gets the same sound, the ten digits with [unk] as its list, and its text must be a digit at confidence 0.7.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click
import figures
import numpy as np
import recordings
import soundfile as sf
import soxr
from bench_orders import frames_of
from plain_vosk import PlainVosk
from recordings import RATE_HZ, Clip, Sound

from assistant.events import Heard, Hearing, Listening
from assistant.language.commands import shipped_commands
from assistant.language.expected import value_of
from assistant.language.files import grammar_file
from assistant.language.fillers import fillers_beside_figures
from assistant.language.listening import for_number
from assistant.language.phrase_file import load_phrases
from assistant.language.sequence import load
from audio.ear import Ear
from audio.model import find
from audio.recognise import Recogniser

PHRASES = Path(__file__).with_name("digits.toml")
SYSTEMS = ("ear", "number", "plain")
OUTCOMES = ("right", "agreed", "wrong", "refused")
WORDS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
BEFORE_S, AFTER_S = 0.5, 1.0
LEVEL, NOISE = 0.06, 0.001  # root mean square, full scale 1

Row = dict[str, Any]


def digit_sound(clip: Clip) -> Sound:
    """The digit at 16 kHz and one level, between faint noise that is always the same."""
    return in_room(speech_of(clip))


def speech_of(clip: Clip) -> Sound:
    """The digit alone, at 16 kHz."""
    raw, rate_hz = sf.read(clip.path)
    return np.asarray(soxr.resample(raw, rate_hz, RATE_HZ))


def in_room(speech: Sound, level: float = LEVEL, noise: float = NOISE) -> Sound:
    """Speech at this level, before, under and after it noise that is always the same."""
    speech = speech * min(level / np.sqrt((speech**2).mean()), 0.9 / np.abs(speech).max())
    padded = np.pad(speech, (int(BEFORE_S * RATE_HZ), int(AFTER_S * RATE_HZ)))
    return np.asarray(padded + np.random.default_rng(1).normal(0, noise, padded.size))


def hear_all(clips: Sequence[Clip], systems: Sequence[str] = SYSTEMS) -> list[Row]:
    """One row for each clip and system."""
    recogniser = Recogniser(find())
    listening: Listening = load_phrases(PHRASES, recogniser.knows)
    ear, plain = Ear(recogniser), PlainVosk(find())
    check = load(grammar_file("checks/rental.toml"), recogniser.knows)
    number = for_number(check, shipped_commands(), fillers_beside_figures())
    rows = []
    for clip in clips:
        sound = digit_sound(clip)
        for name in systems:
            frames, began_s = frames_of(sound), time.thread_time()
            if name != "plain":
                hearing = ear.listen(frames, listening if name == "ear" else number, 30.0)
            else:
                hearing = plain.hear(frames, listening, "digits", list(WORDS))
            took_s = time.thread_time() - began_s
            text, is_read_back = meant(name, hearing)
            outcome = outcome_of(text == clip.meaning, is_read_back) if text else "refused"
            rows.append({
                "system": name, "clip": clip.path.name, "speaker": clip.speaker, "outcome": outcome, "text": text,
                "computing_s": took_s, "audio_s": sound.size / RATE_HZ,
            })  # fmt: skip
    return rows


def meant(name: str, hearing: Hearing) -> tuple[str, bool]:
    """The digit that was understood, or an empty string, and whether it is read back before it counts."""
    if not isinstance(hearing, Heard):
        return "", False
    words = hearing.match.slots.get("number")
    if name != "number" or not words:
        return hearing.match.meaning, False
    value, others = value_of("number", words)
    return f"{value:g}", hearing.match.is_unsure or bool(others)


def outcome_of(is_right: bool, is_read_back: bool) -> str:
    if is_read_back:
        return "agreed" if is_right else "refused"
    return "right" if is_right else "wrong"


def digits_table(rows: Sequence[Row]) -> list[str]:
    """Outcomes by speaker, and errors against plain's."""
    speakers = sorted({row["speaker"] for row in rows})
    lines, missed = [], {}
    names = [name for name in SYSTEMS if any(row["system"] == name for row in rows)]
    for name in names:
        mine = [row for row in rows if row["system"] == name]
        groups = [[row for row in mine if row["speaker"] == speaker] for speaker in speakers]
        missed[name] = sum(row["outcome"] not in ("right", "agreed") for row in mine)
        computing = sum(row["computing_s"] for row in mine) / sum(row["audio_s"] for row in mine)
        lines.append([name, *map(_shares, [*groups, mine]), f"{computing:.3f}"])
    ratio = f"not right, {' / '.join(names)}: {' / '.join(str(missed[name]) for name in names)}"
    return [*figures.table(["/".join(OUTCOMES) + ", %", *speakers, "all", "of real time"], lines), "", ratio]


def _shares(rows: Sequence[Row]) -> str:
    counts = (sum(row["outcome"] == each for row in rows) for each in OUTCOMES)
    return "/".join(f"{100 * count / len(rows):.1f}" for count in counts)


@click.command(help=__doc__)
@click.option("--half", type=click.Choice(["tuning", "scoring", "all"]), default="scoring", show_default=True)
@click.option("--quick", type=int, help="Only every clip of this stride.")
@click.option("--system", "systems", multiple=True, type=click.Choice(SYSTEMS), help="Only these; all when not given.")
def main(half: str, quick: int | None, systems: tuple[str, ...]) -> None:
    clips = recordings.digits(half)[:: quick or 1]
    rows = hear_all(clips, systems or SYSTEMS)
    print(f"# Digits by people, {half} half: {len(clips)} clips of {len({clip.speaker for clip in clips})} speakers\n")
    print("\n".join(digits_table(rows)))
    for row in rows:
        if row["system"] != "plain" and row["outcome"] in ("wrong", "refused"):
            print(f"{row['system']}, {row['outcome']}: {row['clip']} {row['text']}")


if __name__ == "__main__":
    main()
