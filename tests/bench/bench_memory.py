"""Memory of the listening process as the program loads it, by what fills it: resident and peak, in MB (Linux).

    KITCALL_MODEL=FOLDER PYTHONPATH=. python tests/bench/bench_memory.py [--each 5] [STEP ...]

Answers of the tuning half at a few steps, clean, so that no made noise is counted. They are chosen and rendered
beforehand, by another process: of the benchmark only their sounds stand in the memory that is measured. The listenings
kept are the program's own, unlike in bench_hearing.py, which keeps those of all steps.
"""

from __future__ import annotations

import argparse
import multiprocessing
from pathlib import Path

from assistant.commands.options import load_check
from assistant.language.commands import shipped_commands
from assistant.language.files import grammar_file
from assistant.language.sequence import load
from audio.ear import Ear
from audio.frames import FRAME_SAMPLES, Frame

STEPS = ("band", "breaths_main", "pressure", "inflator")


def tell(what: str) -> None:
    """One line of the table, of this process."""
    lines = Path("/proc/self/status").read_text().splitlines()
    kb = {name: int(value.split()[0]) for name, _, value in (line.partition(":") for line in lines) if "Vm" in name}
    print(f"{what:32} {kb['VmRSS'] / 1024:6.0f} {kb['VmHWM'] / 1024:6.0f}", flush=True)


def choose(steps: tuple[str, ...], each: int) -> list[tuple[str, Frame]]:
    """So many right answers of each step, passes first: the step and the sound."""
    import trials  # here, so that the measured process does not hold it

    every = trials.build(load(grammar_file("checks/rental.toml"), lambda word: True), shipped_commands(), "tuning")
    clean = sorted((trial.cls != "pass", trial.id, trial) for trial in every if trial.is_right and not trial.snr_db)
    chosen = [trial for step in steps for trial in [one for *_, one in clean if one.step == step][:each]]
    trials.prepare(chosen)
    return [(trial.step, trials.sound_of(trial)[0]) for trial in chosen]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--each", type=int, default=5, help="answers to each step")
    parser.add_argument("steps", nargs="*", default=STEPS)
    options = parser.parse_args()
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        chosen = pool.apply(choose, (tuple(options.steps), options.each))
    tell("program")
    loaded = load_check(None, None)
    tell("recogniser, sequence")
    ear = Ear(loaded.recogniser)
    tell("second recogniser")
    for number, (step, sound) in enumerate(chosen, 1):
        frames = sound[: sound.size - sound.size % FRAME_SAMPLES].reshape(-1, FRAME_SAMPLES)
        ear.listen(frames, loaded.expected.for_step(step), 30.0)
        if number % options.each == 1:
            tell(f"first answer at {step}")
    tell(f"{len(chosen)} answers")


if __name__ == "__main__":
    main()
