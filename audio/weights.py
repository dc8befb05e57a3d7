"""The second recogniser's weights, from 16 bits to 8 in a file, so that ctranslate2 need not do it in memory.

Loaded from its makers' file, it holds all weights in 16 bits, and the largest table in 32, before it has them in 8: for
a moment that is 120 MB more than it keeps. Done here, a few rows at a time, it gives the very same weights.
The format is ctranslate2's own (version 6, ctranslate2/specs/model_spec.py): a head; then for each table its name, its
shape, its kind and its bytes; then other names. Checked in tests/audio/test_weights.py.
"""

from __future__ import annotations

import struct
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

FLOAT32, INT8, FLOAT16 = 0, 1, 4  # ctranslate2's numbers for kinds
ROWS = 1024  # at a time


def write_small(source: Path, target: Path) -> None:
    """Write the file `source` to `target` with every matrix of weights in 8 bits, each row with a scale of its own.

    Raises OSError when there is no room for the 39 MB, struct.error or ValueError when `source` is cut short.
    """
    with source.open("rb") as file, target.open("wb") as small:
        small.write(file.read(4) + _name(file) + file.read(4))
        count_at, count = small.tell(), _number(file)
        small.write(bytes(4))
        written = sum(_copy(file, small) for _ in range(count))
        small.write(file.read())
        small.seek(count_at)
        small.write(struct.pack("<I", written))


def _copy(file: BinaryIO, small: BinaryIO) -> int:
    """One table; how many it becomes."""
    name, (dimensions,) = _name(file), file.read(1)
    shape = struct.unpack(f"<{dimensions}I", file.read(4 * dimensions))
    kind, size_bytes = struct.unpack("<BI", file.read(5))
    if not name.endswith(b"/weight\0") or dimensions != 2 or kind != FLOAT16:
        _write(small, name, shape, kind, file.read(size_bytes))
        return 1
    weights, scales = np.empty(shape, np.int8), np.empty(shape[0], np.float32)
    for start in range(0, shape[0], ROWS):
        rows = np.frombuffer(file.read(2 * shape[1] * len(scales[start : start + ROWS])), "<f2").reshape(-1, shape[1])
        weights[start : start + ROWS], scales[start : start + ROWS] = in_8_bits(rows.astype(np.float32))
    scale_name = name[2:-1] + b"_scale\0"
    _write(small, name, shape, INT8, weights.data)
    _write(small, struct.pack("<H", len(scale_name)) + scale_name, shape[:1], FLOAT32, scales.data)
    return 2


def in_8_bits(rows: NDArray[np.float32]) -> tuple[NDArray[np.int8], NDArray[np.float32]]:
    """Each row times a scale of its own, so that its largest value becomes 127, rounded; and the scales."""
    largest = np.abs(rows).max(axis=1)
    scales = np.divide(127, np.where(largest == 0, 127, largest), dtype=np.float32)
    return np.rint(rows * scales[:, np.newaxis]).astype(np.int8), scales


def _write(small: BinaryIO, name: bytes, shape: tuple[int, ...], kind: int, values: bytes | memoryview) -> None:
    size_bytes = values.nbytes if isinstance(values, memoryview) else len(values)
    small.write(name + struct.pack(f"<B{len(shape)}IBI", len(shape), *shape, kind, size_bytes))
    small.write(values)


def _name(file: BinaryIO) -> bytes:
    """A name with its length before it, as it stands in the file."""
    head = file.read(2)
    return head + file.read(*struct.unpack("<H", head))


def _number(file: BinaryIO) -> int:
    (number,) = struct.unpack("<I", file.read(4))
    return int(number)
