"""Spoken orders by people, in kitchen noise, heard by kitcall's ear and by plain vosk in the same run.

    KITCALL_MODEL=FOLDER PYTHONPATH=. python tests/bench/bench_orders.py --half scoring

An order counts when its meaning and all its slots, no more and no less, are right; wrong and asked again are
counted apart. kitcall hears with the phrase file orders.toml; an order must be one of its phrases as a whole.
Plain vosk: one flat list of the file's parts with [unk], its own endpoint, the longest part at each place taken.
Published for the five engines of the benchmark this data comes from (mean of 24 to 6 dB, two noises):
97.6, 89.9, 86.8, 84.5 and 77.6 %.
"""

from __future__ import annotations

import json
import multiprocessing
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import click
import figures
import recordings
import vosk
from recordings import RATE_HZ, RATIOS_DB, Clip, Sound

from assistant.events import Heard, Hearing
from assistant.language.files import parse_toml
from assistant.language.phrase_file import load_phrases
from assistant.language.phrases import expand
from assistant.language.rules import join_rules
from audio.ear import Ear
from audio.frames import FRAME_SAMPLES, Frame, to_int16
from audio.model import find
from audio.recognise import Recogniser
from audio.turn import Pauses, Settings

PHRASES = Path(__file__).with_name("orders.toml")
BEST_PUBLISHED = 97.6
# People think inside an order, and an order lasts longer than an answer at a step.
SETTINGS = Settings(pauses=Pauses(number_s=1.2, goes_on_s=1.5, unclear_s=1.5), longest_s=15.0, alternatives=20)

Row = dict[str, Any]
Slots = dict[str, str]


class EarOrders:
    """kitcall's own ear with the phrase file."""

    def __init__(self, folder: Path) -> None:
        recogniser = Recogniser(folder)
        self._listening = load_phrases(PHRASES, recogniser.knows)
        self._ear = Ear(recogniser, SETTINGS)

    def hear(self, sound: Sound) -> Slots | None:
        """The order's slots, or None when it was not taken."""
        hearing: Hearing = self._ear.listen(frames_of(sound), self._listening, 30.0)
        return dict(hearing.match.slots) if isinstance(hearing, Heard) else None


class PlainOrders:
    """Vosk with a flat list, as a first program would use it."""

    def __init__(self, folder: Path) -> None:
        vosk.SetLogLevel(-1)
        shape = parse_toml(PHRASES.read_bytes(), PHRASES)
        rules = join_rules(shape["rules"], PHRASES, PHRASES.read_text())
        names = ("opening", *shape["slots"])
        texts = {name: [" ".join(words) for words in expand(rules[name], rules)] for name in names}
        parts = [(tuple(text.split()), name) for name in shape["slots"] for text in texts[name]]
        self._parts = sorted(parts, key=lambda part: -len(part[0]))
        flat = [text for name in texts for text in texts[name]] + ["a", "an", "with", "and", "[unk]"]
        self._decoder = vosk.KaldiRecognizer(vosk.Model(str(folder)), RATE_HZ, json.dumps(flat))

    def hear(self, sound: Sound) -> Slots | None:
        """The longest parts found, whatever stands between them; None when there is no part at all."""
        self._decoder.Reset()
        text = ""
        for frame in frames_of(sound):
            if self._decoder.AcceptWaveform(frame.tobytes()):
                text += " " + json.loads(self._decoder.Result())["text"]
        return self._slots((text + " " + json.loads(self._decoder.FinalResult())["text"]).split()) or None

    def _slots(self, words: list[str]) -> Slots:
        found: Slots = {}
        at = 0
        while at < len(words):
            fits = (each for each in self._parts if tuple(words[at : at + len(each[0])]) == each[0])
            part, name = next(fits, ((), ""))
            if part:
                found.setdefault(name, " ".join(part))
            at += len(part) or 1
        return found


SYSTEMS = {"ear": EarOrders, "plain": PlainOrders}
_hearers: dict[str, EarOrders | PlainOrders] = {}


def frames_of(sound: Sound) -> Iterator[Frame]:
    """The sound as the microphone would give it; the last, unfilled frame is left out."""
    samples = to_int16(sound.astype("float32"))
    for start in range(0, samples.size - FRAME_SAMPLES + 1, FRAME_SAMPLES):
        yield samples[start : start + FRAME_SAMPLES]


def open_systems(folder: Path) -> None:
    """Load both systems once in this process."""
    for name, system in SYSTEMS.items():
        _hearers[name] = system(folder)


def play(trial: tuple[Clip, int | None, int]) -> list[Row]:
    """One row for each system."""
    clip, ratio_db, seed = trial
    sound = recordings.order_sound(clip, ratio_db, seed)
    rows = []
    for name, hearer in _hearers.items():
        began_s = time.thread_time()
        slots = hearer.hear(sound)
        outcome = "refused" if slots is None else "right" if slots == clip.slots else "wrong"
        rows.append(
            {
                "system": name, "clip": clip.path.name, "ratio_db": ratio_db, "outcome": outcome, "slots": slots,
                "computing_s": time.thread_time() - began_s, "audio_s": sound.size / RATE_HZ,
            }
        )  # fmt: skip
    return rows


def orders_table(rows: Sequence[Row]) -> list[str]:
    """Right, wrong and refused by ratio, the mean over the noisy ones, errors against plain's, computing."""
    ratios = list(dict.fromkeys(row["ratio_db"] for row in rows))
    lines, missed = [], {}
    for name in SYSTEMS:
        mine = [row for row in rows if row["system"] == name]
        shares = {ratio: _shares([row for row in mine if row["ratio_db"] == ratio]) for ratio in ratios}
        noisy = [shares[ratio] for ratio in ratios if ratio is not None] or list(shares.values())
        mean = tuple(sum(share[at] for share in noisy) / len(noisy) for at in range(3))
        missed[name] = 100 - mean[0]
        computing = sum(row["computing_s"] for row in mine) / sum(row["audio_s"] for row in mine)
        lines.append([name, *map(_written, [*shares.values(), mean]), f"{computing:.3f}"])
    titles = ["clean" if ratio is None else f"{ratio} dB" for ratio in ratios]
    ratio_line = f"not right, mean, ear / plain: {missed['ear'] / max(missed['plain'], 1e-9):.2f}"
    return [*figures.table(["right/wrong/refused, %", *titles, "mean of noisy", "of real time"], lines), "", ratio_line]


def _shares(rows: Sequence[Row]) -> tuple[float, float, float]:
    right, wrong, refused = (
        100 * sum(row["outcome"] == each for row in rows) / len(rows) for each in ("right", "wrong", "refused")
    )
    return right, wrong, refused


def _written(shares: tuple[float, ...]) -> str:
    return "/".join(f"{share:.1f}" for share in shares)


@click.command(help=__doc__)
@click.option("--half", type=click.Choice(["tuning", "scoring", "all"]), default="scoring", show_default=True)
@click.option("--ratio", "ratios_db", type=click.Choice([str(r) for r in RATIOS_DB]), multiple=True, help="Only these.")
@click.option("--quick", type=int, help="Only so many clips.")
@click.option("--seed", type=int, default=1, show_default=True)
@click.option("--processes", type=int, default=1, show_default=True)
@click.option("--out", type=click.Path(path_type=Path), help="Where the rows go (JSON).")
def main(half: str, ratios_db: tuple[str, ...], quick: int | None, seed: int, processes: int, out: Path | None) -> None:
    clips = recordings.orders(half)[:quick]
    ratios = [None, *RATIOS_DB] if not ratios_db else [int(ratio) for ratio in ratios_db]
    trials = [(clip, ratio, seed) for ratio in ratios for clip in clips]
    with multiprocessing.get_context("spawn").Pool(processes, open_systems, (find(),)) as pool:
        rows = [row for found in pool.imap(play, trials, chunksize=4) for row in found]
    print(f"# Orders by people, {half} half, seed {seed}: {len(clips)} clips; best published mean {BEST_PUBLISHED} %\n")
    print("\n".join(orders_table(rows)))
    if out:
        out.write_text(json.dumps(rows))


if __name__ == "__main__":
    main()
