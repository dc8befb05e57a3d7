"""How soon a check begins, and how many answers a second the record takes: each beside a baseline of the same run.

    python tests/bench/bench_start.py [--times 5]

From the start of the process to its first question on the screen, beside the one thing that any program with this
recogniser must do first: start Python, import vosk and load the model. Wall time: use a quiet machine.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import bench_commits

from assistant.language.files import grammar_file
from assistant.language.sequence import load
from audio import model
from audio.voice import Voice

LOAD = "import sys, vosk; vosk.SetLogLevel(-1); vosk.Model(sys.argv[1])"


def first_question_s(folder: Path, store: Path) -> float:
    """Seconds till a typed check has printed its first question."""
    words = [sys.executable, "-m", "assistant", "check", "--typed", "--quiet", "--now", "--new", "--store", str(store)]
    prompt = load(grammar_file("checks/rental.toml"), lambda word: True).steps[0].prompt
    began_s = time.perf_counter()
    settings = {**os.environ, "KITCALL_MODEL": str(folder)}
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=settings) as process:
        assert process.stdout is not None
        for line in process.stdout:
            if prompt in line:
                break
        else:
            raise SystemExit("the check asked nothing; run: kitcall check --typed --quiet --now")
        taken_s = time.perf_counter() - began_s
        process.kill()
    return taken_s


def bare_load_s(folder: Path) -> float:
    """Seconds for a Python that only loads the model."""
    began_s = time.perf_counter()
    subprocess.run([sys.executable, "-c", LOAD, str(folder)], check=True)
    return time.perf_counter() - began_s


def first_line_spoken_s() -> float:
    """Seconds till a fresh synthesiser has rendered the first words, which nothing has kept yet."""
    caution = load(grammar_file("checks/rental.toml"), lambda word: True).caution
    began_s = time.perf_counter()
    with Voice() as voice:
        voice.render(caution)
        return time.perf_counter() - began_s


def table(times: int) -> list[tuple[str, str, str, str]]:
    """Rows of figure, kitcall, baseline, ratio."""
    folder = model.find()
    with tempfile.TemporaryDirectory() as scratch:
        pairs = [(first_question_s(folder, Path(scratch) / "record.db"), bare_load_s(folder)) for _ in range(times)]
        ours_s, bare_s = (statistics.median(column) for column in zip(*pairs, strict=True))
        spoken_s = statistics.median(first_line_spoken_s() for _ in range(times))
        commits_s = bench_commits.measure(Path(scratch), 60 * times)
    per_second = {name: len(all_s) / sum(all_s) for name, all_s in commits_s.items()}
    ours, plain = per_second["the record, FULL"], per_second["plain sqlite3, FULL"]
    return [
        ("start to first question", f"{ours_s:.2f} s", f"{bare_s:.2f} s (loads the model)", f"{ours_s / bare_s:.2f}"),
        ("first line rendered, nothing kept", f"{spoken_s:.2f} s", "", ""),
        ("commits per second, synced", f"{ours:.0f}", f"{plain:.0f} (plain sqlite3)", f"{ours / plain:.2f}"),
    ]


def print_table(rows: list[tuple[str, str, str, str]], baseline: str) -> None:
    """Figures side by side, a line each."""
    for what, ours, other, ratio in [("", "kitcall", baseline, "ratio"), *rows]:
        print(f"{what:<36} {ours:>20} {other:>36} {ratio:>8}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=5, help="how often each start is measured")
    print_table(table(parser.parse_args().times), "baseline")


if __name__ == "__main__":
    main()
