"""The recogniser's model as we know it: its files, their sizes and their sums.

The figures this project gives for its hearing were measured with this model and hold for no other.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

ARCHIVE_SHA256 = "8a5792fccaf873b4745dbd1b3fe19d8a77a15898e806674020eea820424771cd"

# Size in bytes and sha256 of each file, computed from the archive with the sum above. Those under
# am/, graph/ and ivector/ are the model itself, the same in every packaging of it.
FILES = {
    "am/final.mdl": (15962575, "75370a0137f9daf8f469dedd7daa4513ae7a621f03240c6e512e2b50b656a7b6"),
    "graph/Gr.fst": (24013795, "023c8b7e30704a9e37765c635c252e608a02f361235bf94abdcf2a5225d85b20"),
    "graph/HCLr.fst": (22416994, "5caafba3081e1646545ac6bff0dd7a318e53dcbdc86f237909ce1d2ac1293d34"),
    "graph/disambig_tid.int": (102, "9ad87cc166d0998f08f758f47a6223a120dfffcbee805c4849c3aa5e6bb3c0fc"),
    "graph/phones/word_boundary.int": (1761, "da199d9c991e0e84681ddbb34627b915b26302d50a8fdaa23c51e2bc3a50b5c3"),
    "ivector/final.dubm": (168048, "8c5d7dd69d2122313baaf19f61f35dd3fa18b70c62ac0687e311e1c46e6daca7"),
    "ivector/final.ie": (8288887, "3f37faf90c375b9e4740b569398b5829ed9cc07d19be6d441f72c3b71d7efcc6"),
    "ivector/final.mat": (44975, "ddd83586dc5f928cda8738b922c85ffe38fc789cb5f9151a712ca12f37265382"),
    "ivector/global_cmvn.stats": (1080, "33be09afcc80059847a275c3d043b51f1ab954c7c2438ddbbf4745e8ba144ff9"),
    "ivector/online_cmvn.conf": (95, "a2f3571754b64297cb7efb2e7ca3df61995c5a45fcbb97188f90613552bb2dfe"),
    "ivector/splice.conf": (35, "9f0c5f7c82d18eaf25d8bce470efa9f7741f88411fe428774bc0a9bb69a24756"),
    "conf/mfcc.conf": (131, "1e2228006d01d805ad1c267fee9f79709ca87ac51bd82b0e3f5c69ba543f0fc4"),
    "conf/model.conf": (290, "8f14cb1eeb07c762c371db648c6be688d347236155ca0f64fb13b6567a8ce81f"),
}
# The second recogniser's (audio/opinion.py), computed from the package that carries it.
OPINION = {
    "model.bin": (75537502, "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"),
    "config.json": (2317, "14b1b421a90349bc551b881461426b561a874049cb9e4c4864f2ca384f6a7cc5"),
    "vocabulary.txt": (422309, "ff77588746d3a2595d32ab5b69ffd7b95ce2441ac57533cb66fc3eb575a115cf"),
}
SUMS = "SHA256SUMS"
SETTINGS = "conf/"  # another packaging may write these otherwise; they must be there, and not empty


def verify(folder: Path, quick: bool = False, files: Mapping[str, tuple[int, str]] | None = None) -> list[str]:
    """List what is wrong with a model folder; an empty list means that it is the model we know.

    quick: compares sizes only (a millisecond); else every byte by sha256 (0.3 s on x86-64). files: FILES unless given.
    """
    rows = (FILES if files is None else files).items()
    return [problem for name, row in rows if (problem := _check_file(folder / name, name, quick, row))]


def _check_file(path: Path, name: str, quick: bool, expected: tuple[int, str]) -> str:
    size_bytes, digest = expected
    if not path.is_file():
        return f"{name} is missing"
    found_bytes = path.stat().st_size
    if name.startswith(SETTINGS):
        return "" if found_bytes and (quick or _same_as_unpacked(path, name)) else f"{name} has changed"
    if found_bytes != size_bytes:
        return f"{name} has {found_bytes} bytes instead of {size_bytes}"
    return "" if quick or sha256_of(path) == digest else f"{name} has changed (its sha256 differs)"


def _same_as_unpacked(path: Path, name: str) -> bool:
    """True when the sum written at unpacking still holds, or none was written (a folder of vosk's or the user's)."""
    sums = path.parents[name.count("/")] / SUMS
    return not sums.is_file() or f"{sha256_of(path)}  {name}" in sums.read_text(encoding="ascii", errors="replace")


def sha256_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
