"""How well kitcall hears, measured against plain vosk in the same run, printed as tables.

    KITCALL_MODEL=FOLDER PYTHONPATH=. python tests/bench/bench_hearing.py --set tuning --quick 40

Every trial's row goes to a JSON file, so that a failure can be listened to: --clip ID writes its sound.
Voices are rendered once into the cache (see voices.py); a missing engine ends the run and says what to do.
Scoring voices and sentences are for one final figure: tune on the other half.
"""

from __future__ import annotations

import json
import time
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

import click
import figures
import running
import soundfile as sf
import trials
import voices
from trials import Trial

from assistant.language.commands import shipped_commands
from assistant.language.sequence import load
from audio.model import find

ROOT = Path(__file__).resolve().parents[2]


@click.command(help=__doc__)
@click.option("--set", "half", type=click.Choice(["tuning", "scoring"]), default="tuning", show_default=True)
@click.option("--quick", type=int, help="About so many trials of every class and condition instead of all.")
@click.option("--seed", type=int, default=1, show_default=True)
@click.option("--system", "names", multiple=True, help="ear, plain or module:function; all of them by default.")
@click.option("--class", "classes", multiple=True, help="Only these classes.")
@click.option("--sequence", type=click.Path(path_type=Path), default=ROOT / "grammars/en/checks/rental.toml")
@click.option("--processes", type=int, default=2, show_default=True)
@click.option("--out", type=click.Path(path_type=Path), help="Where the rows go (JSON).")
@click.option("--render", is_flag=True, help="Only make the clips.")
@click.option("--clip", help="Write the sound of the trial with this id as ID.wav, and end.")
@click.option("--from", "earlier", type=click.Path(path_type=Path), help="Print the tables of an earlier JSON file.")
def main(
    half: str, quick: int | None, seed: int, names: tuple[str, ...], classes: tuple[str, ...], sequence: Path,
    processes: int, out: Path | None, render: bool, clip: str | None, earlier: Path | None,
) -> None:  # fmt: skip
    if earlier:
        print_tables(json.loads(earlier.read_text())["rows"])
        return
    every = trials.build(load(sequence, lambda word: True), shipped_commands(), half, seed)
    chosen = [trial for trial in every if not classes or trial.cls in classes]
    if clip:
        write_clip(next(trial for trial in every if trial.id == clip))
        return
    chosen = trials.sample(chosen, quick) if quick else chosen
    tell_voices(chosen)
    trials.prepare(chosen)
    if render:
        return
    setup = running.Setup(find(), sequence, names or ("ear", "plain"))
    began = time.monotonic()
    rows = running.run(chosen, setup, processes)
    print(f"# Hearing, {half} half, seed {seed}: {len(chosen)} trials in {time.monotonic() - began:.0f} s\n")
    print_tables(rows)
    print_memory(setup, [trial for trial in chosen if trial.is_right and trial.snr_db is None][:40])
    keep(rows, out or voices.cache_folder() / "results" / f"{half}-{time.strftime('%Y%m%dT%H%M%S')}.json")


def tell_voices(chosen: Sequence[Trial]) -> None:
    """Which voices speak, and which ones cannot on this machine."""
    team = [voice for voice in voices.VOICES.values() if voice.name in {trial.voice for trial in chosen}]
    neural = sum(voice.is_neural for voice in team)
    print(f"{len(team)} voices, {neural} of them neural, {sum(voice.sex == 'f' for voice in team)} of women\n")
    lacking = voices.missing(team)
    if lacking:
        raise click.ClickException("\n".join(f"voice {name} is missing: {mend}" for name, mend in lacking.items()))


def print_tables(rows: Sequence[running.Row]) -> None:
    """All tables of a run."""
    names = list(dict.fromkeys(row["system"] for row in rows))
    no_answer = [cls for cls in trials.NO_ANSWER if cls not in figures.NEAR]
    parts = [
        figures.wrong_table(rows, ["fault", "command", *no_answer], figures.is_false_pass, "false passes"),
        figures.wrong_table(rows, list(figures.NEAR), figures.is_false_pass, "one or two phonemes away, false passes"),
        figures.wrong_table(
            rows, ["fault", "command", *trials.NO_ANSWER], figures.is_false_read_back, "read back, though no pass"
        ),
        figures.wrong_table(rows, [trials.SAME_SOUND], figures.is_false_pass, "sounds the same, taken as a pass"),
        figures.wrong_table(rows, trials.NO_ANSWER, figures.is_false_answer, "false answers of any kind"),
        *(figures.right_table(rows, name) for name in names),
        *(figures.right_table([row for row in rows if is_neural(row)], name, ", neural voices") for name in names),
        figures.right_table([row for row in rows if not is_neural(row)], names[0], ", formant and diphone voices"),
        figures.kinds_table(rows, names[0]),
        figures.voices_table(rows, names[0]),
        figures.delay_table(rows),
        figures.computing_table(rows),
    ]
    for part in parts:
        print("\n".join(part), end="\n\n")


def is_neural(row: running.Row) -> bool:
    """True for rows of a neural voice: the closest to people that a machine speaks."""
    return row["voice"] in voices.VOICES and voices.VOICES[row["voice"]].is_neural


def print_memory(setup: running.Setup, chosen: Sequence[Trial]) -> None:
    """Peak memory of a process with one system alone; clean clips only, so that no made noise is counted."""
    for name in setup.names:
        peak = running.memory_mb(running.Setup(setup.model, setup.sequence, (name,)), chosen)
        print(f"memory, {name} alone, {len(chosen)} trials: {peak:.0f} MB at most")


def keep(rows: Sequence[running.Row], path: Path) -> None:
    """Every row, so that tables can be made again and failures heard."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps({"rows": list(rows)}))
    print(f"rows: {path}")


def write_clip(trial: Trial) -> None:
    """The sound exactly as the systems got it."""
    trials.prepare([trial])
    samples, end_s = trials.sound_of(trial)
    sf.write(f"{trial.id}.wav", samples, trials.RATE_HZ)
    print(json.dumps({**asdict(trial), "speech_end_s": round(end_s, 3), "file": f"{trial.id}.wav"}, indent=2))


if __name__ == "__main__":
    main()
