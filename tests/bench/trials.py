"""Trials: one sentence (or recording, or noise), one voice, one noise at one level, one seed.

`build` lists them for a half; `sound_of` makes the samples and says where the speech ends. The same
seed gives the same list and the same samples. Voices and sentences that are no answer are never shared
between tuning and scoring; right answers are the same sentences, said by other voices.
Levels are deck_noise.mix's: RMS over speech-active samples against RMS of the noise, unweighted.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt
import sentences
import soundfile as sf
import voices
from twists import rank

from assistant.check.steps import Check
from assistant.language.commands import Commands
from assistant.rehearsal import deck_noise

Samples = npt.NDArray[np.int16]
RATE_HZ = voices.RATE_HZ
SHARED = Path(__file__).resolve().parents[3] / "shared" / "speech"
CONDITIONS: tuple[float | None, ...] = (None, 24.0, 18.0, 12.0, 6.0)
BED_S = 30
TAIL_S = 1.6  # plain Vosk's own endpoint needs up to a second of it
ROOM_DBFS = -75.0  # a clean clip still has a little hiss: digital silence exists in no room
SAME_SOUND = "same_sound"  # no hearing can tell these from a pass: a sequence must not have such passes
NO_ANSWER = (*(cls for cls in sentences.WRONG if cls != SAME_SOUND), "order", "prompt", "noise")


@dataclass(frozen=True, slots=True)
class Trial:
    """`expected` is a meaning, "" for no answer. `snr_db` None is clean; for noise alone it is the level in dBFS."""

    id: str
    cls: str
    step: str
    text: str
    expected: str
    voice: str
    kind: str
    snr_db: float | None
    seed: int
    half: str = ""

    @property
    def is_right(self) -> bool:
        """True when this is an answer that should be taken."""
        return self.cls in sentences.RIGHT

    @property
    def condition(self) -> str:
        """The column of a table."""
        return "clean" if self.snr_db is None else f"{self.snr_db:g} dB"


def build(check: Check, commands: Commands, half: str, seed: int = 1) -> list[Trial]:
    """Every trial of a half ("tuning" or "scoring"), in a fixed order."""
    sayings = sentences.Sayings(check, commands)
    team = voices.TUNING if half == "tuning" else voices.SCORING
    spoken = [*sayings.right(), *sayings.wrong(half)]
    found = [trial for sentence in spoken for trial in _spoken(sentence, team, seed)]
    steps = [step.id for step in check.steps]
    found += _orders(steps, half, seed) + _prompts(check, half, seed) + _noises(steps, half, seed)
    if sayings.clashes:
        raise ValueError(f"a sentence that is no answer is listed as a pass: {sayings.clashes}")
    return [replace(trial, half=half) for trial in found]


def _trial(
    cls: str, step: str, text: str, expected: str, voice: str, kind: str, level: float | None, seed: int
) -> Trial:  # fmt: skip
    number = rank(cls, step, text, voice, kind, str(level), str(seed))
    return Trial(f"{number:016x}", cls, step, text, expected, voice, kind, level, number % 2**32)


def _spoken(sentence: sentences.Sentence, team: Sequence[voices.Voice], seed: int) -> list[Trial]:
    repeats = 2 if sentence.cls in ("pass", "fault", "negation", "near_bad", "command") else 1
    chosen = _talkers(sentence, team, repeats, seed)
    found = []
    for voice in chosen:
        for level in CONDITIONS:
            kind = "clean" if level is None else _kind(sentence.text, voice.name, level, seed)
            s = sentence
            found.append(_trial(s.cls, s.step, s.text, s.expected, voice.name, kind, level, seed))
    return found


def _talkers(
    sentence: sentences.Sentence, team: Sequence[voices.Voice], count: int, seed: int
) -> list[voices.Voice]:
    """Voices drawn by hash; the slow neural engine, with half of the voices, gets a fifth of the sentences."""

    def key(voice: voices.Voice) -> float:
        share = {"kokoro": 0.35, "hibari": 3.0, "piper": 3.0}.get(voice.engine, 2.0)
        chance = (rank(sentence.text, voice.name, str(seed)) + 1) / 2**64
        return float(-np.log(chance) / share)

    return sorted(team, key=key)[:count]


def _kind(text: str, voice: str, level: float, seed: int) -> str:
    return deck_noise.KINDS[rank("kind", text, voice, str(level), str(seed)) % len(deck_noise.KINDS)]


def _orders(steps: Sequence[str], half: str, seed: int) -> list[Trial]:
    """Recorded orders of people, which answer nothing at any step; a quarter of the clips tune, the others score."""
    found = []
    for path in sorted((SHARED / "orders").glob("*.flac")):
        mine = "tuning" if rank("order", path.name) % 4 == 0 else "scoring"
        if mine != half:
            continue
        for step in steps:
            for level in (None, 12.0):
                kind = "clean" if level is None else _kind(path.name, step, level, seed)
                found.append(_trial("order", step, path.name, "", "people", kind, level, seed))
    return found


def _prompts(check: Check, half: str, seed: int) -> list[Trial]:
    """Our own lines, in our own voice, heard at the step that says them."""
    found = []
    for step in check.steps:
        lines = [step.prompt, step.explain, *(fault.say for fault in step.faults), *step.examples]
        # an example is spoken inside a sentence of ours, never alone
        lines[-2:] = [f"Say for example: {step.examples[0]}. Or: {step.examples[1]}."]
        for line in dict.fromkeys(lines):
            if sentences.half_of(line) == half:
                for level in (None, 12.0):
                    kind = "clean" if level is None else _kind(line, step.id, level, seed)
                    found.append(_trial("prompt", step.id, line, "", voices.OWN.name, kind, level, seed))
    return found


def _noises(steps: Sequence[str], half: str, seed: int) -> list[Trial]:
    """Eight seconds of nothing but deck, at four levels."""
    return [
        _trial("noise", steps[rank(kind, str(level), str(at), half) % len(steps)], f"{half} {at}", "",
               "nobody", kind, level, seed)
        for kind in deck_noise.KINDS
        for level in (-50.0, -40.0, -30.0, -20.0)
        for at in range(8)
    ]  # fmt: skip


def sample(trials: Sequence[Trial], each: int) -> list[Trial]:
    """About `each` trials of every class and condition, the same ones whenever they exist."""
    groups: dict[tuple[str, str], list[Trial]] = {}
    for trial in trials:
        groups.setdefault((trial.cls, trial.condition), []).append(trial)

    def order(trial: Trial) -> int:  # all conditions of one clip come together, so that few clips are made
        return rank("sample", trial.cls, trial.step, trial.text, trial.voice)

    return [trial for group in groups.values() for trial in sorted(group, key=order)[:each]]


def prepare(trials: Iterable[Trial], *, told: bool = True) -> int:
    """Make every clip that these trials need and the cache lacks; returns how many."""
    pairs = [(voices.VOICES[trial.voice], trial.text) for trial in trials if trial.voice in voices.VOICES]
    return voices.render_all([*pairs, *_crowd_pairs("tuning"), *_crowd_pairs("scoring")], told=told)


def _crowd_pairs(half: str) -> list[tuple[voices.Voice, str]]:
    """The crowd: a dozen people of one half, saying that half's everyday talk."""
    team = voices.TUNING if half == "tuning" else voices.SCORING
    lines = [text for text in sentences.read("talk")["any"] if sentences.half_of(text) == half]
    return [(team[at % len(team)], line) for at, line in enumerate(lines[:16])]


@cache
def _crowd(half: str) -> list[Samples]:
    return [voices.render(voice, text) for voice, text in _crowd_pairs(half)]


def sound_of(trial: Trial) -> tuple[Samples, float]:
    """The samples of a trial (16 kHz mono int16) and the second at which its speech ends (0.0 for noise alone)."""
    rng = np.random.default_rng(trial.seed)
    if trial.cls == "noise":
        noise = _noise(trial, 8 * RATE_HZ, rng)
        assert trial.snr_db is not None
        return _int16(noise * 32768 * 10 ** (trial.snr_db / 20)), 0.0
    speech = _speech(trial)
    lead = int(rng.uniform(0.4, 1.0) * RATE_HZ)
    whole = np.concatenate([np.zeros(lead, np.int16), speech, np.zeros(int(TAIL_S * RATE_HZ), np.int16)])
    end_s = (lead + speech.size) / RATE_HZ
    if trial.snr_db is None:
        hiss = rng.standard_normal(whole.size) * 32768 * 10 ** (ROOM_DBFS / 20)
        return _int16(whole + hiss), end_s
    return deck_noise.mix(whole, _noise(trial, whole.size, rng), trial.snr_db), end_s


@cache
def _bed(kind: str, half: str, number: int) -> deck_noise.Sound:
    """Half a minute of noise, kept in the cache under the noise maker's own digest; about RMS 1.0."""
    path = voices.cache_folder() / "beds" / _maker_digest() / f"{kind}-{half}-{number}.npy"
    if not path.exists():
        seed = rank("bed", kind, half, str(number)) % 2**32
        made = deck_noise.make(kind, BED_S * RATE_HZ, seed, _crowd(half)).astype(np.float32)
        path.parent.mkdir(parents=True, exist_ok=True)
        unfinished = path.with_name(f"{path.stem}.{os.getpid()}.tmp.npy")
        np.save(unfinished, made)
        unfinished.replace(path)
    return np.asarray(np.load(path), dtype=np.float64)


@cache
def _maker_digest() -> str:
    return hashlib.sha256(Path(deck_noise.__file__).read_bytes()).hexdigest()[:12]


def _noise(trial: Trial, count: int, rng: np.random.Generator) -> deck_noise.Sound:
    """A stretch of one of four beds made of that kind of noise for that half; RMS about 1.0."""
    bed = _bed(trial.kind, trial.half, int(rng.integers(4)))
    start = int(rng.integers(bed.size - count)) if count < bed.size else 0
    return bed[start : start + count] if count <= bed.size else np.resize(bed, count)


def _speech(trial: Trial) -> Samples:
    if trial.cls == "order":
        clip = sf.read(SHARED / "orders" / trial.text, dtype="int16")[0].astype(np.float64)
        return _int16(voices.trim(clip))
    return voices.render(voices.VOICES[trial.voice], trial.text)


def _int16(samples: npt.NDArray[np.float64]) -> Samples:
    return np.clip(np.rint(samples), -32768, 32767).astype(np.int16)
