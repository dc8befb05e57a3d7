"""What the gate's rule 9 finds and what it disturbs: the same sounds by an ear with it and by one without.

    KITCALL_MODEL=FOLDER PYTHONPATH=. python tests/bench/bench_lone.py

All of the tuning half, heard where a replacement's number is asked for: recorded digits, as they are and at other
speeds, softer, in hiss; everyday words said alone and numbers of two and three figures, by five plain synthetic voices,
and everyday talk. `right` is taken at once, `agreed` read back rightly; `asked` is read back and is not what was said,
`wrong` taken at once and not what was said; `other` is a command, a doubt or nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator

import bench_digits
import click
import figures
import recordings
import sentences
import soxr
import voices
from bench_digits import LEVEL, NOISE
from bench_orders import frames_of
from recordings import RATE_HZ, Sound

from assistant.events import Listening
from assistant.language.commands import shipped_commands
from assistant.language.expected import value_of
from assistant.language.files import grammar_file
from assistant.language.fillers import fillers_beside_figures
from assistant.language.listening import for_number
from assistant.language.sequence import load
from audio.ear import Ear
from audio.model import find
from audio.recognise import Recogniser
from audio.turn import Settings

NAMES = ("espeak-en-gb", "espeak-en-us+f3", "flite-slt", "flite-kal16", "festival-cmu_us_slt_arctic_hts")
EVERYDAY = """could for to ate fine hat wait too ready sure great done yes okay right here come there nice wine line sit
door floor more war store pour fire hive life fun gun won when tea free tree see she sea sticks kit having even evening
night light mine late hate weight hero sorry stop hold again boat coffee hello thanks fins tank mask hose valve air side
fight site set step wave cold"""
TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
NUMBERS = (
    "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
    *TENS, *(f"{ten} {one}" for ten in TENS for one in ("one", "six", "seven")), "one oh five", "two hundred",
    "one forty two", "three six", "nine one", "oh seven", "a hundred and six", "five two eight",
)  # fmt: skip
OUTCOMES = ("right", "agreed", "asked", "wrong", "other")
CHANGES: dict[str, tuple[float, float, float]] = {  # length, level, noise
    "digits": (1.0, LEVEL, NOISE), "slower": (1.12, LEVEL, NOISE), "faster": (0.88, LEVEL, NOISE),
    "softer": (1.0, LEVEL / 4, NOISE), "in hiss": (1.0, LEVEL, 6 * NOISE),
}  # fmt: skip
Said = Iterator[tuple[Sound, str]]  # a sound, and the number that was said, "" for none


def digits(length: float, level: float, noise: float) -> Said:
    """The recorded digits, so many times as long."""
    for clip in recordings.digits("tuning"):
        speech = soxr.resample(bench_digits.speech_of(clip), RATE_HZ, RATE_HZ * length)
        yield bench_digits.in_room(speech, level, noise), clip.meaning


def spoken(texts: list[str], meaning: Callable[[str], str], noise: float) -> Said:
    """Each text by each of the plain voices."""
    pairs = [(voices.VOICES[name], text) for name in NAMES for text in texts]
    voices.render_all(pairs, told=True)
    for voice, text in pairs:
        yield bench_digits.in_room(voices.render(voice, text) / 32768, LEVEL, noise), meaning(text)


def _sets() -> dict[str, Callable[[], Said]]:
    talk = [text for lines in sentences.read("talk").values() for text in lines if sentences.half_of(text) == "tuning"]
    made: dict[str, Callable[[], Said]] = {name: (lambda each=each: digits(*each)) for name, each in CHANGES.items()}
    made["everyday words"] = lambda: spoken(EVERYDAY.split(), lambda _: "", NOISE)
    made["longer numbers"] = lambda: spoken(list(NUMBERS), lambda text: f"{value_of('number', text)[0]:g}", NOISE)
    made["those in hiss"] = lambda: spoken(list(NUMBERS), lambda text: f"{value_of('number', text)[0]:g}", 6 * NOISE)
    made["talk"] = lambda: spoken(talk[::5], lambda _: "", NOISE)
    return made


def outcome(ear: Ear, sound: Sound, listening: Listening, meaning: str) -> str:
    """What became of one sound."""
    text, is_read_back = bench_digits.meant("number", ear.listen(frames_of(sound), listening, 30.0))
    if not text.isdigit():
        return "other"
    if text == meaning:
        return "agreed" if is_read_back else "right"
    return "asked" if is_read_back else "wrong"


@click.command(help=__doc__)
@click.option("--set", "names", multiple=True, help="Only these; all when not given.")
@click.option("--quick", type=int, default=1, help="Only every sound of this stride.")
def main(names: tuple[str, ...], quick: int) -> None:
    recogniser = Recogniser(find())
    check = load(grammar_file("checks/rental.toml"), recogniser.knows)
    listening = for_number(check, shipped_commands(), fillers_beside_figures())
    ears = {"without": Ear(recogniser, Settings(lone_s=0.0)), "with": Ear(recogniser)}
    rows = []
    for name, sounds in _sets().items():
        if names and name not in names:
            continue
        kept = [each for at, each in enumerate(sounds()) if at % quick == 0]
        for which, ear in ears.items():
            found = Counter(outcome(ear, sound, listening, meaning) for sound, meaning in kept)
            rows.append([name, which, str(len(kept)), *(str(found[each]) for each in OUTCOMES)])
            print(*rows[-1], flush=True)
    print("\n".join(figures.table(["heard", "rule 9", "sounds", *OUTCOMES], rows)))


if __name__ == "__main__":
    main()
