"""kitcall hear: recorded files against one step or a phrase file, by the very code the microphone uses."""

from __future__ import annotations

import itertools
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import numpy as np

from assistant.commands.options import json_option, load_check, model_option, print_json, refusing, sequence_option
from assistant.errors import AudioError, BadInput
from assistant.events import Doubted, Heard, Hearing, Listening
from assistant.language.phrase_file import load_phrases
from audio import model
from audio.ear import Ear
from audio.files import read_frames
from audio.frames import FRAME_S, FRAME_SAMPLES, Frame
from audio.picture import draw
from audio.recognise import Recogniser

MARGIN_S = 0.5  # silence put before and after a file, as the microphone would give it around an answer


@click.command()
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option("--step", "step_id", metavar="ID", help="Hear the answers of this step of the sequence.")
@click.option("--phrases", metavar="FILE", help="Hear the phrases of this phrase file instead.")
@click.option("--explain", is_flag=True, help="Say in words what was decoded and which rule decided.")
@click.option("--picture", metavar="FILE.svg", help="Draw the sound, the voice, the words and the decision (one FILE).")
@sequence_option
@model_option
@json_option
@refusing
def hear(
    files: tuple[str, ...], step_id: str | None, phrases: str | None, explain: bool, picture: str | None,
    sequence: str | None, model_path: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Hear WAV or FLAC FILEs, and print one JSON object for each, a line a file.

    For example: kitcall hear answer.wav --step inflator. The ids of the steps are in the sequence file.

    The object holds: file, outcome (pass, fault, reading, command, answer, unclear, silent), code, phrase,
    slots, read_back, reason (when unclear), and times in seconds of the file. A check reads back what has read_back;
    a pass, or "not fitted", is unclear until then, with that reason. Exit status 1 when a file could not be read.
    """
    del as_json  # a program reads this in any case; the option is taken so that scripts may say so
    if (step_id is None) == (phrases is None):
        raise BadInput("say what to listen for", "Give --step ID, or --phrases FILE.")
    recogniser, listening = what_to_hear(step_id, phrases, sequence, model_path)
    ear, failed = Ear(recogniser), False
    if picture and len(files) != 1:
        raise BadInput("--picture draws one file", "Name one FILE.")
    for name in files:
        found, hearing = hear_file(ear, name, listening)
        failed = failed or hearing is None
        print_json(found)
        if explain and hearing is not None:
            click.echo("\n".join(explained(hearing)))
        if picture and hearing is not None:
            Path(picture).write_text(draw(list(with_margins(read_frames(name))), hearing, name), encoding="utf-8")
    sys.exit(1 if failed else 0)


def what_to_hear(
    step_id: str | None, phrases: str | None, sequence: str | None, model_path: str | None
) -> tuple[Recogniser, Listening]:
    """The recogniser, and the listening of a step or of a phrase file."""
    if phrases is not None:
        recogniser = Recogniser(model.find(model_path))
        return recogniser, load_phrases(Path(phrases), recogniser.knows)
    loaded = load_check(sequence, model_path)
    return loaded.recogniser, loaded.expected.for_step(str(step_id))


def hear_file(ear: Ear, name: str, listening: Listening) -> tuple[dict[str, Any], Hearing | None]:
    """What was heard in one file, as a JSON object and as it is; a file that cannot be read is unclear, with its
    error, and was not heard."""
    try:
        hearing = ear.listen(with_margins(read_frames(name)), listening, window_s=float("inf"))
    except AudioError as problem:
        told = {"error": str(problem), "mend": problem.mend}
        return {"file": name, "outcome": "unclear", "reason": "no_recording", **told}, None
    return {"file": name, **described(hearing)}, hearing


def with_margins(frames: Iterator[Frame]) -> Iterator[Frame]:
    """The frames with silence around them."""
    silence = [np.zeros(FRAME_SAMPLES, np.int16)] * round(MARGIN_S / FRAME_S)
    return itertools.chain(silence, frames, silence)


def described(hearing: Hearing) -> dict[str, Any]:
    """A hearing as plain values; times are seconds of the file."""
    match hearing:
        case Heard():
            kind, _, code = hearing.match.meaning.partition(":")
            found: dict[str, Any] = {
                "outcome": kind if code or kind in ("pass", "reading") else "answer",
                "code": code or (None if kind in ("pass", "reading") else kind),
                "phrase": hearing.match.text,
                "slots": dict(hearing.match.slots),
                "read_back": hearing.match.is_unsure,
            }
            if not hearing.match.is_taken and kind != "fault":  # closes no step before a yes
                found |= {"outcome": "unclear", "reason": "read_back"}
        case Doubted():
            found = {"outcome": "unclear", "phrase": hearing.text, "reason": hearing.why.value}
        case _:
            return {"outcome": "silent", "phrase": "", "reason": "silent"}
    evidence = hearing.evidence
    times = {
        "speech_start": evidence.speech_start_s,
        "speech_end": evidence.speech_end_s,
        "decided": evidence.decided_s,
    }
    shifted = {name: None if at is None else round(at - MARGIN_S, 2) for name, at in times.items()}
    return {**found, "times_s": shifted}


RULES = {
    "no_phrase": "no listed phrase reads well enough as a whole",
    "known_wrong": "the best phrase is known to be no answer, or a word turns it around",
    "near": "another meaning, or a soundalike, reads nearly as well",
    "noise": "there was sound, and no words in it",
    "too_long": "it went on for longer than any answer",
    "early": "it began before we had finished speaking",
    "too_loud": "it clips, or the deck drowns it",
    "too_faint": "it is hardly louder than the deck",
    "more": "a voice as loud as the answer was there before or behind its words",
    "unsteady": "the reading changed while it should have settled",
}

READ_BACK = "a whole phrase, and not heard surely enough to count: it is read back, and counts after a yes"


def explained(hearing: Hearing) -> list[str]:
    """What was decoded, which rule decided, and the numbers it used, a line each."""
    if not isinstance(hearing, Heard | Doubted):
        return ["  nobody was heard to speak"]
    if isinstance(hearing, Heard):
        rule = "a whole phrase, and no rule doubts it" if hearing.match.is_taken else READ_BACK
    else:
        rule = RULES[hearing.why.value]
    evidence = hearing.evidence
    lines = [f"  rule      {rule}"]
    lines += [f"  reading   {text}" for text in evidence.notes]
    lines += [f"  writes    {evidence.written}  (the second recogniser)"] if evidence.written else []
    lines += [f"  number    {name} {value:.1f}" for name, value in evidence.numbers.items()]
    if evidence.level_db is not None and evidence.noise_db is not None:
        lines.append(f"  level     {evidence.level_db:.0f} dB of full scale, deck {evidence.noise_db:.0f} dB")
    lines += [
        f"  word      {word.start_s - MARGIN_S:.2f} to {word.end_s - MARGIN_S:.2f} s  {word.text}"
        for word in evidence.words
    ]
    return lines
