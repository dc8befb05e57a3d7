"""The synthetic talkers of the benchmark: who they are, which half they serve, and their clips.

Several engines, both sexes, British, American and foreign accents, slow and fast. A voice is for
tuning or for scoring, never both, and two voices made from one person's recordings stay in one half.
Clips are 16 kHz mono int16, trimmed to the speech, at -26 dB active level, kept as FLAC in a cache
folder outside the repository (KITCALL_CACHE, else the user's cache), so every clip is made once.
A voice whose engine is missing is reported with the way to get it, never passed over in silence.

Licences (used as programs beside us, nothing of them is shipped): espeak-ng GPL-3.0, flite BSD-like,
festival and its kal/ked voices MIT-like, slt_hts BSD-like, Kokoro-82M model, voices and kokoro-js
Apache-2.0, hibari-tts Apache-2.0, piper-tts GPL-3.0 with the MIT-packaged voice joe.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import platformdirs
import soundfile as sf
import soxr

Samples = npt.NDArray[np.int16]
RATE_HZ = 16000
NEURAL = frozenset({"kokoro", "hibari", "piper"})
MEND = {
    "espeak": "apt-get install espeak-ng",
    "flite": "apt-get install flite",
    "festival": "apt-get install festival festvox-us-slt-hts festvox-kallpc16k festvox-kdlpc16k",
    "kokoro": "sh tests/bench/neural_voices.sh",
    "hibari": "sh tests/bench/neural_voices.sh",
    "piper": "sh tests/bench/neural_voices.sh",
}


@dataclass(frozen=True, slots=True)
class Voice:
    """One talker. `key` is the engine's own name for it; `pace` is 1.0 at the engine's own speed."""

    name: str
    engine: str
    key: str
    sex: str
    accent: str
    pace: float
    use: str

    @property
    def is_neural(self) -> bool:
        """True for voices made by a neural network, the closest to people we have."""
        return self.engine in NEURAL


def _voices(use: str, rows: str) -> list[Voice]:
    found = []
    for row in rows.split("\n"):
        if row.strip():
            engine, key, sex, accent, pace = row.split()
            found.append(Voice(f"{engine}-{key}", engine, key, sex, accent, float(pace), use))
    return found


TUNING = _voices(
    "tuning",
    """
    espeak en-gb m GB 1.0
    espeak en-us+f3 f US 1.0
    espeak en-gb-scotland+m3 m GB 1.0
    espeak en-us+m5 m US 1.3
    espeak en-gb-x-rp+f2 f GB 0.8
    flite slt f US 1.0
    flite kal16 m US 1.0
    festival cmu_us_slt_arctic_hts f US 0.9
    festival kal_diphone m US 1.15
    hibari heart f US 1.0
    kokoro af_bella f US 1.0
    kokoro am_michael m US 1.0
    kokoro bf_emma f GB 1.0
    kokoro bm_george m GB 1.0
    kokoro am_puck m US 1.25
    kokoro bf_isabella f GB 0.8
    kokoro ff_siwis f FR 1.0
    kokoro zm_yunxi m CN 1.0
    """,
)
SCORING = _voices(
    "scoring",
    """
    espeak en-us m US 1.0
    espeak en-gb+f4 f GB 1.0
    espeak en-gb-x-rp+m2 m GB 0.85
    espeak en-us+f1 f US 1.25
    espeak en-gb-x-gbcwmd+m7 m GB 1.15
    espeak en-029+f5 f CARIB 1.0
    flite awb m GB 1.0
    flite rms m US 1.0
    festival ked_diphone m US 1.0
    piper joe m US 1.0
    kokoro af_sarah f US 1.0
    kokoro af_nova f US 1.25
    kokoro af_kore f US 0.85
    kokoro am_adam m US 1.0
    kokoro am_fenrir m US 1.1
    kokoro am_eric m US 0.8
    kokoro bf_alice f GB 1.0
    kokoro bf_lily f GB 1.2
    kokoro bm_lewis m GB 1.0
    kokoro bm_daniel m GB 1.2
    kokoro bm_fable m GB 0.85
    kokoro ef_dora f ES 1.0
    kokoro hm_omega m IN 1.0
    kokoro im_nicola m IT 1.0
    """,
)
OWN = Voice("own", "espeak", "gmw/en-us", "m", "US", 165 / 160, "own")  # kitcall's own voice, to be played back at it
VOICES: dict[str, Voice] = {voice.name: voice for voice in [*TUNING, *SCORING, OWN]}


def cache_folder() -> Path:
    """The folder for everything the benchmark keeps: KITCALL_CACHE, else the user's cache."""
    given = os.environ.get("KITCALL_CACHE")
    return (Path(given) if given else platformdirs.user_cache_path("kitcall")) / "bench"


def neural_python() -> Path:
    """The interpreter of the environment that tests/bench/neural_voices.sh makes."""
    return cache_folder() / "neural" / "bin" / "python"


def missing(voices: Iterable[Voice]) -> dict[str, str]:
    """Voice name -> what to do, for each voice whose engine is not on this machine."""
    program = {"espeak": "espeak-ng", "flite": "flite", "festival": "text2wave"}
    lacking = {}
    for voice in voices:
        there = neural_python().exists() if voice.is_neural else bool(shutil.which(program[voice.engine]))
        if not there:
            lacking[voice.name] = MEND[voice.engine]
    return lacking


def clip_path(voice: Voice, text: str) -> Path:
    """Where the clip of this voice saying this text is, or will be."""
    digest = hashlib.sha256(f"{voice.name}|{voice.pace}|{text}".encode()).hexdigest()[:24]
    return cache_folder() / "clips" / voice.name / f"{digest}.flac"


def render(voice: Voice, text: str) -> Samples:
    """The clip as 16 kHz mono int16, from the cache or made now.

    Raises FileNotFoundError when the engine is missing (its text says what to install) and
    RuntimeError when the engine made no sound.
    """
    path = clip_path(voice, text)
    if not path.exists():
        render_all([(voice, text)])
    if not path.exists():
        raise RuntimeError(f"{voice.name} made no sound of {text!r}")
    return np.asarray(sf.read(path, dtype="int16")[0], dtype=np.int16)


def render_all(pairs: Sequence[tuple[Voice, str]], *, told: bool = False) -> int:
    """Make every clip that the cache lacks; returns how many were made."""
    todo = [(voice, text) for voice, text in dict.fromkeys(pairs) if not clip_path(voice, text).exists()]
    lacking = missing({voice for voice, _ in todo})
    if lacking:
        raise FileNotFoundError("voices missing: " + "; ".join(f"{name}: {mend}" for name, mend in lacking.items()))
    _speak_neural([pair for pair in todo if pair[0].is_neural], told=told)
    for number, (voice, text) in enumerate(pair for pair in todo if not pair[0].is_neural):
        _keep(clip_path(voice, text), *_speak(voice, text))
        if told and number % 50 == 0:
            print(f"\rclips {number}/{len(todo)}", end="", file=sys.stderr, flush=True)
    return len(todo)


def _speak(voice: Voice, text: str) -> tuple[npt.NDArray[np.float32], int]:
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "clip.wav"
        subprocess.run(_command(voice, text, out), input=text.encode(), check=True, capture_output=True, timeout=60)
        samples, rate_hz = sf.read(out, dtype="float32")
    return samples, rate_hz


def _command(voice: Voice, text: str, out: Path) -> list[str]:
    if voice.engine == "espeak":
        return ["espeak-ng", "-v", voice.key, "-s", str(round(160 * voice.pace)), "-w", str(out), text]
    if voice.engine == "flite":
        stretch = f"duration_stretch={1 / voice.pace:.3f}"
        return ["flite", "-voice", voice.key, "--setf", stretch, "-t", text, "-o", str(out)]
    stretch = f"(Parameter.set 'Duration_Stretch {1 / voice.pace:.3f})"
    return ["text2wave", "-eval", f"(voice_{voice.key})", "-eval", stretch, "-o", str(out)]


def _speak_neural(pairs: Sequence[tuple[Voice, str]], *, told: bool) -> None:
    """One worker in the voices' own environment; it writes raw clips that are tidied here as they come."""
    if not pairs:
        return
    worker = Path(__file__).with_name("neural_voices.py")
    folder = cache_folder() / "raw"
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder) as raw:
        jobs = [
            {"engine": voice.engine, "key": voice.key, "pace": voice.pace, "british": voice.accent == "GB",
             "text": text, "out": f"{raw}/{number}.wav"}
            for number, (voice, text) in enumerate(pairs)
        ]  # fmt: skip
        command = [str(neural_python()), str(worker), str(cache_folder() / "neural")]
        with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdin is not None
            assert process.stdout is not None
            for number, (job, (voice, text)) in enumerate(zip(jobs, pairs, strict=True)):
                process.stdin.write(json.dumps(job) + "\n")
                process.stdin.flush()
                if process.stdout.readline().strip() != "done":
                    raise RuntimeError(f"the neural voices stopped at {voice.name} saying {text!r}; see above")
                samples, rate_hz = sf.read(str(job["out"]), dtype="float32")
                Path(str(job["out"])).unlink()
                _keep(clip_path(voice, text), samples, rate_hz)
                if told:
                    print(f"\rneural clips {number + 1}/{len(pairs)}", end="", file=sys.stderr, flush=True)
            process.stdin.close()


def _keep(path: Path, samples: npt.NDArray[np.float32], rate_hz: int) -> None:
    """Resample, trim to the speech, set the level, and write whole or not at all."""
    if samples.size == 0 or not np.any(samples):
        return
    at_16k = soxr.resample(samples, rate_hz, RATE_HZ) if rate_hz != RATE_HZ else samples
    speech = trim(np.asarray(at_16k, dtype=np.float64))
    level = float(np.sqrt(np.mean(speech[loud(speech)] ** 2)))
    speech = np.clip(speech * (10 ** (-26 / 20) / level), -0.99, 0.99)
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(f"{path.stem}.{os.getpid()}.tmp")
    sf.write(unfinished, (speech * 32767).astype(np.int16), RATE_HZ, subtype="PCM_16", format="FLAC")
    unfinished.replace(path)


def loud(samples: npt.NDArray[np.float64], below_db: float = 35.0) -> npt.NDArray[np.bool_]:
    """True for samples in 10 ms frames within `below_db` of the loudest frame."""
    frame = RATE_HZ // 100
    count = -(-samples.size // frame)
    padded = np.pad(samples, (0, count * frame - samples.size)).reshape(count, frame)
    power = np.mean(padded**2, axis=1)
    active = power > power.max() * 10 ** (-below_db / 10)
    return np.repeat(active, frame)[: samples.size]


def trim(samples: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """The samples from the first to the last loud frame: where speech starts and ends is then known."""
    where = np.flatnonzero(loud(samples))
    return samples[where[0] : where[-1] + 1]
