"""kitcall measure: how fast and how large kitcall is on this very machine, as one table to send back.

A short spoken check without a room: answers of the sequence, in our own voice, through the real ear. Times are this
machine's, and under emulation they tell nothing about a Pi.
"""

from __future__ import annotations

import os
import platform
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

import click
from rich.table import Table

from assistant import board
from assistant.check.steps import Step
from assistant.check.turns import Expects
from assistant.commands.options import (
    Loaded,
    console,
    json_option,
    load_check,
    model_option,
    print_json,
    refusing,
    sequence_option,
)
from assistant.events import Heard
from assistant.fitness import SLOW_VOICE_S, padded, read_version
from assistant.record import Log
from audio.ear import Ear
from audio.frames import FRAME_S
from audio.model import data_folder
from audio.voice import Voice

COMMITS = 200
Result = TypeVar("Result")
Row = tuple[str, str]


@click.command()
@click.option("--answers", default=24, show_default=True, help="How many spoken answers to hear.")
@sequence_option
@model_option
@json_option
@refusing
def measure(answers: int, sequence: str | None, model_path: str | None, as_json: bool) -> None:
    """Measure speed and memory here. Close other programs first; some minutes on a small machine."""
    rows = list(figures(answers, sequence, model_path))
    if as_json:
        print_json(dict(rows))
        return
    table = Table("figure", "value", title="kitcall measure", title_justify="left")
    for row in rows:
        table.add_row(*row)
    console().print(table)


def figures(answers: int, sequence: str | None, model_path: str | None) -> Iterator[Row]:
    """Every figure with its unit, in the order of the table."""
    yield "version", read_version().found
    yield "machine", f"{platform.machine()}, {os.cpu_count()} cores, {memory_mb('MemTotal', Path('/proc/meminfo'))} MB"
    yield "system", f"{platform.system()} {platform.release()}, Python {platform.python_version()}"
    yield "before", f"{temperature()}, {board.read_flags().words}"
    loaded, load_s = timed(lambda: load_check(sequence, model_path))
    yield "model and sequence loaded", f"{load_s:.1f} s"
    yield from commits()
    yield from hearing(loaded, answers)
    yield "memory, now and most", f"{memory_mb('VmRSS')} and {memory_mb('VmHWM')} MB"
    yield "after", f"{temperature()}, {board.read_flags().words}"


def hearing(loaded: Loaded, answers: int) -> Iterator[Row]:
    """Answers rendered, listenings built, answers heard: each timed by itself."""
    ear, renders_s, builds_s, shares, right, wrong = Ear(loaded.recogniser), [], [], [], 0, 0
    asked = [(step, words) for place in range(answers) for step, words in [answer(loaded, place)]]
    with Voice(deadline_s=SLOW_VOICE_S) as own:
        for step, words in asked:
            (samples, rate_hz), render_s = timed(lambda words=words: own.render(words))  # type: ignore[misc]
            expects = Expects("step", step.id)
            listening, build_s = timed(lambda expects=expects: loaded.expected.at(expects))  # type: ignore[misc]
            frames = list(padded(samples, rate_hz))
            heard, hear_s = timed(lambda f=frames, w=listening: ear.listen(f, w))  # type: ignore[misc]
            renders_s.append(render_s)
            builds_s.append(build_s)
            shares.append(hear_s / (len(frames) * FRAME_S))
            right += isinstance(heard, Heard) and heard.match.text == words
            wrong += isinstance(heard, Heard) and heard.match.meaning != meaning(loaded, step, words)
    yield "a line rendered", spread(renders_s, "s")
    yield "a step's phrases built (once)", spread([each for each in builds_s if each > 0.001] or builds_s, "s")
    yield "hearing, of real time", spread(shares, "")
    yield "answers heard right, wrong, asked again", f"{right}, {wrong}, {answers - right - wrong} of {answers}"


def answer(loaded: Loaded, place: int) -> tuple[Step, str]:
    """A step that is answered in words, and a phrase of it: now a pass, now a fault."""
    steps = [step for step in loaded.check.steps if step.reading is None]
    step = steps[place % len(steps)]
    return step, step.examples[place // len(steps) % len(step.examples)].replace(",", "").lower()


def meaning(loaded: Loaded, step: Step, words: str) -> str:
    """What these words mean as an answer to that step."""
    match = loaded.expected.at(Expects("step", step.id)).match(tuple(words.split()))
    return match.meaning if match else ""


def commits() -> Iterator[Row]:
    """Answers committed and synced, on the disk where the record lies."""
    data_folder().mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=data_folder(), prefix="measure-") as name:
        clock = time.monotonic
        with Log(Path(name) / "record.db", device="measure", wall=lambda: datetime.now(UTC), monotonic=clock) as log:
            facts = {"step": "inflator", "outcome": "fault", "heard": "inflator sticks"}
            taken_s = [timed(lambda: log.append_all("s", [("answered", facts)], ""))[1] for _ in range(COMMITS)]
    yield "an answer committed and synced", spread(taken_s, "s")


def timed(do: Callable[[], Result]) -> tuple[Result, float]:
    """What it gives, and how many seconds it took."""
    begun_s = time.perf_counter()
    result = do()
    return result, time.perf_counter() - begun_s


def spread(values: list[float], unit: str) -> str:
    """Median and most."""
    return f"median {statistics.median(values):.3f} {unit}, most {max(values):.3f} {unit}".replace(" ,", ",").strip()


def temperature() -> str:
    """The chip's temperature in words."""
    degc = board.read_temperature_degc()
    return "temperature not told" if degc is None else f"{degc:.0f} °C"


def memory_mb(name: str, path: Path = Path("/proc/self/status")) -> int:
    """A line of /proc in MB (proc_pid_status(5), proc_meminfo(5))."""
    line = next(line for line in path.read_text().splitlines() if line.startswith(name + ":"))
    return int(line.split()[1]) // 1024
