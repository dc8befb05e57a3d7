"""Plays trials to hearing systems on several processes and gives one row for each trial and system.

Delay is audio time plus computing, on a clock of its own: a frame comes when it would from a microphone, and what is
computed on it, by processor time of all threads, holds up the next: as on a machine of one core. Processor time, not
the wall's, so that a busy machine does not change a figure; real-time factor is all processor time over the audio.
bench_reply.py has the wall's time of the whole loop.
"""

from __future__ import annotations

import gc
import multiprocessing
import resource
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import systems
import trials
from trials import Trial

from assistant.events import Doubted, Heard, Hearing
from assistant.language.commands import shipped_commands
from assistant.language.sequence import load
from audio.frames import FRAME_S, FRAME_SAMPLES, Frame

Row = dict[str, Any]
_hearers: dict[str, systems.Hearer] = {}


@dataclass(frozen=True, slots=True)
class Setup:
    """What every process needs: the model, the sequence file, the names of the systems."""

    model: Path
    sequence: Path
    names: tuple[str, ...]


class Played:
    """The frames of a trial on their clock, counting what was taken."""

    def __init__(self, samples: trials.Samples) -> None:
        self._samples, self.taken = samples, 0
        self._clock_s = self._seen_s = 0.0

    def __iter__(self) -> Iterator[Frame]:
        self._seen_s = time.process_time()  # what is prepared before the first frame holds up nothing
        for start in range(0, self._samples.size - FRAME_SAMPLES + 1, FRAME_SAMPLES):
            self.taken += 1
            self._clock_s = max(self.now_s(), self.taken * FRAME_S)
            self._seen_s = time.process_time()
            yield self._samples[start : start + FRAME_SAMPLES]

    def now_s(self) -> float:
        """Seconds since the trial began, on its clock."""
        return self._clock_s + time.process_time() - self._seen_s


def open_systems(setup: Setup) -> None:
    """Load every system once in this process."""
    check, commands = load(setup.sequence, lambda word: True), shipped_commands()
    for name in setup.names:
        _hearers[name] = systems.factory(name)(setup.model, check, commands)


def play(trial: Trial) -> list[Row]:
    """One row for each system."""
    samples, end_s = trials.sound_of(trial)
    return [{"system": name, **asdict(trial), **_play_to(name, trial, samples, end_s)} for name in _hearers]


def _play_to(name: str, trial: Trial, samples: trials.Samples, end_s: float) -> Row:
    began_s = time.process_time()
    frames = Played(samples)
    hearing = _hearers[name].hear(frames, trial.step)
    decided_s, computing_s = frames.now_s(), time.process_time() - began_s
    return {
        "outcome": outcome_of(hearing),
        "heard": _words(hearing),
        "slots": dict(hearing.match.slots) if isinstance(hearing, Heard) else {},
        "delay_s": round(decided_s - end_s, 4),
        "computing_s": round(computing_s, 4),
        "audio_s": round(frames.taken * FRAME_S, 3),
        "speech_s": round(samples.size / trials.RATE_HZ, 3),
        "numbers": dict(hearing.evidence.numbers) if isinstance(hearing, Heard | Doubted) else {},
    }


def outcome_of(hearing: Hearing) -> str:
    """A meaning for Heard, "back <meaning>" where that is read back first; "doubted <why>", "silent", "broken"."""
    if isinstance(hearing, Heard):
        return hearing.match.meaning if hearing.match.is_taken else f"back {hearing.match.meaning}"
    if isinstance(hearing, Doubted):
        return f"doubted {hearing.why.value}"
    return type(hearing).__name__.lower()


def _words(hearing: Hearing) -> str:
    if isinstance(hearing, Heard):
        return hearing.match.text
    return hearing.text if isinstance(hearing, Doubted) else ""


def run(chosen: Sequence[Trial], setup: Setup, processes: int = 2) -> list[Row]:
    """All rows, in the order of the trials, with a progress line on standard error."""
    by_step = sorted(chosen, key=lambda trial: (trial.step, trial.voice, trial.text))
    rows: list[Row] = []
    began = time.monotonic()
    with multiprocessing.get_context("spawn").Pool(processes, open_systems, (setup,)) as pool:
        for done, found in enumerate(pool.imap_unordered(play, by_step, chunksize=8), 1):
            rows += found
            if done % 20 == 0 or done == len(by_step):
                _tell(done, len(by_step), time.monotonic() - began)
    print(file=sys.stderr)
    order = {trial.id: at for at, trial in enumerate(chosen)}
    return sorted(rows, key=lambda row: order[row["id"]])


def _tell(done: int, count: int, passed_s: float) -> None:
    left_s = passed_s / done * (count - done)
    line = f"\r{done}/{count} trials, {passed_s:.0f} s gone, {left_s:.0f} s to go   "
    print(line, end="", file=sys.stderr, flush=True)


def memory_mb(setup: Setup, chosen: Sequence[Trial]) -> float:
    """Peak resident memory, in MB, of a fresh process with one system after these trials."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(_peak_mb, (setup, list(chosen)))


def _peak_mb(setup: Setup, chosen: list[Trial]) -> float:
    open_systems(setup)
    for trial in chosen:
        play(trial)
    gc.collect()
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
