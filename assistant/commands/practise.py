"""kitcall practise: say each answer a few times and see what is heard well."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import click
import numpy as np
from rich.table import Table

from assistant.commands.options import (
    Loaded,
    console,
    json_option,
    load_check,
    microphone_option,
    model_option,
    print_json,
    refusing,
    sequence_option,
)
from assistant.ears import wav_bytes
from assistant.errors import BadInput
from assistant.events import Doubted, Heard, Hearing
from assistant.practice import Saying, Tally, advise, go_through, sayings
from audio.capture import FrameSource, Microphone
from audio.ear import Ear
from audio.frames import Frame

WINDOW_S = 8.0


@click.command("practise")
@click.option("--step", "steps", multiple=True, metavar="ID", help="Only this step; may be given again.")
@click.option("--faults", is_flag=True, help="The faults too, not only what passes.")
@click.option("--times", type=click.IntRange(1, 10), default=3, show_default=True, help="How often each is said.")
@click.option("--keep", type=click.Path(file_okay=False, path_type=Path), metavar="FOLDER",
              help="Keep what was said as WAV files there; without it nothing is kept.")  # fmt: skip
@microphone_option
@sequence_option
@model_option
@json_option
@refusing
def practise(
    steps: tuple[str, ...], faults: bool, times: int, keep: Path | None, microphone: str | None,
    sequence: str | None, model_path: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Say each answer three times; a table tells what is heard well, with advice.

    No check is led and nothing goes into the record. Nothing about you leaves this machine.
    """
    loaded = load_check(sequence, model_path)
    chosen = choose(loaded, steps, faults)
    with Microphone(microphone) as source:
        tallies = go_through(chosen, times, Practice(loaded, source, keep, times).hear)
    show(tallies, as_json)



def choose(loaded: Loaded, steps: tuple[str, ...], faults: bool) -> list[Saying]:
    """The sayings of the steps named; BadInput for a step the check does not have."""
    known = [step.id for step in loaded.check.steps]
    for step in steps:
        if step not in known:
            raise BadInput(f'the check has no step "{step}"', f"Its steps are: {', '.join(known)}.")
    return list(sayings(loaded.check, steps, faults))


class Practice:
    """Asks for each saying on the screen and hears it by the very ear of a check."""

    def __init__(self, loaded: Loaded, source: FrameSource, keep: Path | None, times: int) -> None:
        self._loaded, self._source, self._keep, self._times = loaded, source, keep, times
        self._ear, self._numbers = Ear(loaded.recogniser), itertools.count(1)

    def hear(self, saying: Saying, turn: int) -> Hearing:
        """One saying."""
        click.echo(f'{turn + 1} of {self._times}, {saying.step}. Say: "{saying.words}"', err=True)
        kept: list[Frame] = []
        self._source.listen()
        hearing = self._ear.listen(self._frames(kept), self._loaded.expected.for_step(saying.step), WINDOW_S)
        self._source.hush()
        click.echo(f"    {told(hearing)}", err=True)
        if self._keep is not None and kept:
            self._write(saying, kept)
        return hearing

    def _frames(self, kept: list[Frame]) -> Iterator[Frame]:
        for frame in self._source:
            if self._keep is not None:
                kept.append(frame)
            yield frame

    def _write(self, saying: Saying, kept: list[Frame]) -> None:
        assert self._keep is not None
        self._keep.mkdir(parents=True, exist_ok=True)
        name = f"{next(self._numbers):03d}-{saying.step}-{saying.words.replace(' ', '_')}.wav"
        (self._keep / name).write_bytes(wav_bytes(np.concatenate(kept)))


def told(hearing: Hearing) -> str:
    """A hearing in a few words."""
    match hearing:
        case Heard(match=match):
            return f'heard "{match.text}"' + ("" if match.is_taken else ", and would be read back")
        case Doubted(why=why):
            return f"not taken: {why.value}"
        case _:
            return "nothing heard"


def show(tallies: list[Tally], as_json: bool) -> None:
    """The table, worst first, or one JSON object an answer."""
    worst_first = sorted(tallies, key=lambda tally: (not tally.wrong, tally.right / max(1, tally.times)))
    if as_json:
        for tally in worst_first:
            print_json({
                "step": tally.saying.step, "words": tally.saying.words, "times": tally.times, "right": tally.right,
                "wrong": dict(tally.wrong), "doubts": dict(tally.doubts), "advice": advise(tally, tallies),
            })  # fmt: skip
        return
    table = Table("step", "said", "heard", "advice", title="What is heard well")
    for tally in worst_first:
        table.add_row(tally.saying.step, tally.saying.words, f"{tally.right} of {tally.times}", advise(tally, tallies))
    console().print(table)
