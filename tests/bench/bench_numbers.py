"""Spoken numbers to values and back: every value of every kind, said by synthetic voices, heard by kitcall's ear.

    KITCALL_MODEL=FOLDER PYTHONPATH=. python tests/bench/bench_numbers.py --stride 40

Each value goes the product's own way: the phrases in force at its step with commands and everyday words beside them,
the ear's gate, the value of the words, the step's bounds. `right` was taken at once as the value said; `agreed` was
read back rightly and needs a yes; `again` was not understood, could not be, or was read back as another value, to
which the answer is no; `wrong` was taken at once as another value. --stride takes every so many-th value of a kind,
voices and ways of saying it in turn, so a stride that shares no factor with their numbers meets them all. Rules and
margins are chosen on the tuning half's voices. A whole half takes some half an hour of one core; with --rows a line
is kept for each clip as it comes, so that a run cut short is not lost.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import click
import figures
import numpy as np
import voices

from assistant.check.readings import plausible, spoken_numbers
from assistant.check.steps import Number, Reading, Step
from assistant.errors import BadInput
from assistant.events import Heard, Hearing, Listening
from assistant.language.commands import shipped_commands
from assistant.language.expected import Expected, value_of
from assistant.language.files import grammar_file
from assistant.language.fillers import fillers, fillers_beside_figures
from assistant.language.listening import for_number, for_step
from assistant.language.rules import numbers_file
from assistant.language.sequence import load
from assistant.rehearsal.diver import frames
from audio.ear import Ear
from audio.frames import RATE_HZ, Frame
from audio.model import find
from audio.recognise import Recogniser

BEFORE_S, AFTER_S = 0.6, 1.4
HISS = 12.0  # a microphone's own noise, -69 dB of full scale
OUTCOMES = ("right", "agreed", "again", "wrong")
IN_ORDER = numbers_file().words.items()
WORDS = {worth: word for word, worth in reversed(IN_ORDER) if word not in ("a", "oh")}  # the first word of each
MONTHS = tuple(numbers_file().month)


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of number: the step whose phrases hear it, its number's name, what is said after it, its values."""

    name: str
    step: str
    number: str
    values: tuple[float, ...]
    before: str = ""
    after: str = ""


def span(low: int, high: int, step: int = 1, tenths: int = 1) -> tuple[float, ...]:
    return tuple(n / tenths for n in range(low * tenths, high * tenths + 1, step))


STAMPS = tuple(float(year * 100 + month) for year in range(1975, 2027) for month in range(1, 13))
KINDS = (
    Kind("pressure", "pressure", "pressure", span(1, 330), after="bar"),
    Kind("pressure_psi", "pressure", "pressure_psi", span(100, 4800, 10), after="p s i"),
    Kind("oxygen", "contents_label", "oxygen", span(20, 40, 1, 10), before="label says", after="percent"),
    Kind("month_year", "test_stamp", "month_year", STAMPS, before="stamp reads"),
    Kind("number", "", "number", span(0, 999)),
    Kind("depth_m", "of its own", "depth_m", span(0, 130), after="metres"),
    Kind("depth_ft", "of its own", "depth_ft", span(0, 430), after="feet"),
    Kind("minutes", "of its own", "minutes", span(0, 600), after="minutes"),
    Kind("temperature_degc", "of its own", "temperature_degc", span(-20, 70), after="degrees"),
)


def below_hundred(n: int) -> str:
    return WORDS[n] if n < 20 else WORDS[n - n % 10] + (f" {WORDS[n % 10]}" if n % 10 else "")


def whole(n: int, way: int) -> str:
    """A whole number as people say it: figures (where kitcall takes them), in full, or in pairs."""
    figures_said = " ".join(WORDS[int(letter)] for letter in str(n))
    if n < 100:
        return below_hundred(n)
    if n < 1000:
        head, rest = divmod(n, 100)
        full = f"{WORDS[head]} hundred" + (f" and {below_hundred(rest)}" if rest else "")
        pairs = f"{WORDS[head]} {below_hundred(rest)}" if rest >= 10 else full
        return (figures_said, full, pairs)[way % 3]
    head, rest = divmod(n, 100)
    if rest and rest < 10:
        return figures_said
    pairs = f"{below_hundred(head)} hundred" if not rest else f"{below_hundred(head)} {below_hundred(rest)}"
    thousand, left = divmod(n, 1000)
    joint = " and " if 0 < left < 100 else " "
    full = f"{WORDS[thousand]} thousand{joint}{whole(left, 1) if left else ''}".strip()
    return (figures_said, full, pairs)[way % 3]


def said(kind: Kind, value: float, way: int) -> str:
    """The words of a value in its `way`th way."""
    if kind.name == "month_year":
        year, month = divmod(int(value), 100)
        years = (" ".join(WORDS[int(letter)] for letter in str(year)), whole(year, 2), whole(year, 1))
        words = f"{MONTHS[month - 1]} {years[way % 3] if year >= 2000 else years[way % 2]}"
    else:
        number = abs(value)
        # Three figures in a row may be a longer number cut short, so psi and figures under 100 are said in full.
        psi_short = kind.name == "pressure_psi" and number < 1000
        words = whole(int(number), 1 + way % 2 if psi_short else way)
        words += f" point {WORDS[round(number * 10) % 10]}" if number % 1 else ""
        words = f"minus {words}" if value < 0 else words
    return " ".join(part for part in (kind.before, words, kind.after) if part)


class Round:
    """The product's hearing of numbers, on one recogniser."""

    def __init__(self) -> None:
        recogniser = Recogniser(find())
        self.check = load(grammar_file("checks/rental.toml"), recogniser.knows)
        self._expected = Expected(self.check, shipped_commands(), recogniser.knows)
        self._ear, self._listenings = Ear(recogniser), dict[str, Listening]()

    def step(self, kind: Kind) -> Step:
        """The check's step that takes the kind; one made for it where the check has none."""
        if kind.step not in ("", "of its own"):
            return self.check.step(kind.step)
        bounds, like = numbers_file().kind[kind.name], self.check.step("pressure")
        number = Number(kind.number, kind.name, bounds.unit, bounds.low, bounds.high)
        reading = Reading("none", (f"${kind.name} {kind.after}".strip(),), (number,))
        return Step(kind.name, kind.name, like.item, like.touches, "?", "?", True, False, (), (), like.faults,
                    like.examples, reading)  # fmt: skip

    def listening(self, kind: Kind) -> Listening:
        if kind.name not in self._listenings:
            if kind.step == "":
                made: Listening = for_number(self.check, shipped_commands(), fillers_beside_figures())
            elif kind.step == "of its own":
                made = for_step(self.check, self.step(kind), shipped_commands(), fillers=fillers())
            else:
                made = self._expected.for_step(kind.step)
            self._listenings[kind.name] = made
        return self._listenings[kind.name]

    def hear(self, kind: Kind, sound: Frame) -> Hearing:
        return self._ear.listen(frames(sound), self.listening(kind), 30.0)

    def outcome(self, kind: Kind, value: float, hearing: Hearing) -> tuple[str, str]:
        """One of OUTCOMES, and what was understood."""
        if not isinstance(hearing, Heard):
            return "again", type(hearing).__name__.lower()
        if hearing.match.meaning not in ("reading", "number"):
            return "wrong" if hearing.match.meaning == "pass" else "again", hearing.match.text
        reading = self.step(kind).reading
        assert reading is not None
        try:
            understood = list(spoken_numbers(reading, hearing.match.slots, value_of))
        except BadInput:
            return "again", hearing.match.text
        is_value = [(number.name, found) for number, found, _ in understood] == [(kind.number, value)]
        if not all(plausible(number, found) for number, found, _ in understood):
            return "again", hearing.match.text
        if hearing.match.is_unsure or any(others for _, _, others in understood):
            return "agreed" if is_value else "again", hearing.match.text
        return "right" if is_value else "wrong", hearing.match.text


def sound_of(voice: voices.Voice, text: str) -> Frame:
    """The clip as a microphone would give it, with a moment of its own noise before and after."""
    around = (round(BEFORE_S * RATE_HZ), round(AFTER_S * RATE_HZ))
    speech = np.pad(voices.render(voice, text).astype(np.float64), around)
    noise = np.random.default_rng(len(text)).normal(0, HISS, speech.size)
    return np.asarray((speech + noise).clip(-32768, 32767), dtype=np.int16)


def clips(kind: Kind, stride: int, talkers: Sequence[voices.Voice]) -> Iterator[tuple[float, voices.Voice, str]]:
    """Every stride-th value, with voices and ways in turn."""
    for at, value in enumerate(kind.values[::stride]):
        yield value, talkers[at % len(talkers)], said(kind, value, at // len(talkers) + at)


def play(
    round_: Round, kinds: Sequence[Kind], stride: int, talkers: Sequence[voices.Voice], kept: Path | None = None
) -> list[tuple[str, ...]]:
    """One row for each clip: kind, voice, outcome, understood, said; each a line of `kept` as soon as it is known."""
    rows = []
    for kind in kinds:
        for value, voice, text in clips(kind, stride, talkers):
            hearing = round_.hear(kind, sound_of(voice, text))
            rows.append((kind.name, voice.name, *round_.outcome(kind, value, hearing), text))
            if kept is not None:
                with kept.open("a") as lines:
                    lines.write(json.dumps(rows[-1]) + "\n")
    return rows


def table(rows: Sequence[tuple[str, ...]], column: int) -> list[str]:
    names = list(dict.fromkeys(row[column] for row in rows))
    lines = []
    for name in [*names, "all"]:
        mine = Counter(row[2] for row in rows if name in (row[column], "all"))
        lines.append([name, str(sum(mine.values())), *(str(mine[each]) for each in OUTCOMES)])
    return figures.table(["", "clips", *OUTCOMES], lines)


def talkers(names: Sequence[str] = (), half: str = "scoring") -> list[voices.Voice]:
    """The half's voices whose engines are here and that are no neural ones; or those named."""
    of_half = voices.TUNING if half == "tuning" else voices.SCORING
    chosen = [voices.VOICES[name] for name in names] or [voice for voice in of_half if not voice.is_neural]
    lacking = voices.missing(chosen)
    for name, mend in lacking.items():
        print(f"without {name}: {mend}")
    return [voice for voice in chosen if voice.name not in lacking]


@click.command(help=__doc__)
@click.option("--stride", type=int, default=1, show_default=True, help="Only every so many-th value of a kind.")
@click.option("--kind", "names", multiple=True, help="Only these kinds.")
@click.option("--voice", "voice_names", multiple=True, help="Only these voices.")
@click.option("--half", type=click.Choice(["tuning", "scoring"]), default="scoring", show_default=True)
@click.option("--rows", "kept", type=click.Path(dir_okay=False, path_type=Path), help="Append each clip's row here.")
def main(stride: int, names: tuple[str, ...], voice_names: tuple[str, ...], half: str, kept: Path | None) -> None:
    kinds = [kind for kind in KINDS if not names or kind.name in names]
    rows = play(Round(), kinds, stride, talkers(voice_names, half), kept)
    print("\n".join([f"# Numbers by voice, every {stride}. value of a kind\n", *table(rows, 0), "", *table(rows, 1)]))
    for row in rows:
        if row[2] in ("wrong", "again"):
            print(f"{row[2]}: {row[0]} {row[1]} said {row[4]!r} understood {row[3]!r}")


if __name__ == "__main__":
    main()
