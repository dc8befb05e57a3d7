"""How soon memory that the recognisers let go is the machine's again.

They take it in megabytes, for a tenth of a second, on several threads. glibc keeps a heap for each thread and what each
has freed; with one heap, and the largest pieces given back at once, a pass leaves 40 MB less behind. Smaller pieces
would leave another 10 less, but fetching them anew costs a pass up to 0.1 s.
Source of the numbers: mallopt(3) and glibc's malloc.h. Measured: DEVELOPERS.md.
"""

from __future__ import annotations

import ctypes
import sys

TRIM_THRESHOLD, MMAP_THRESHOLD, ARENA_MAX = -1, -3, -8
SETTINGS = {ARENA_MAX: 1, MMAP_THRESHOLD: 8_000_000, TRIM_THRESHOLD: 1_000_000}  # the last two in bytes


def keep_little() -> bool:
    """For the whole process, from now on. False where the C library is not glibc: nothing is changed then."""
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None) if sys.platform == "linux" else None
    return mallopt is not None and all(mallopt(name, value) for name, value in SETTINGS.items())
