"""What the recognisers' memory does once they let it go, in a process of its own."""

from __future__ import annotations

import subprocess
import sys

import pytest

# A thread takes 200 MB in pieces of 10 MB and frees all but the last, as a decoding that is still held.
LEFT = """
import ctypes, sys, threading
from audio import heap
assert sys.argv[1] == "as it is" or heap.keep_little()
libc = ctypes.CDLL(None)
libc.malloc.restype, libc.free.argtypes = ctypes.c_void_p, [ctypes.c_void_p]
def resident_mb():
    return int(open("/proc/self/statm").read().split()[1]) * 4 // 1024
def work():
    libc.free(libc.malloc(31_000_000))  # from which on glibc keeps pieces up to this size to itself
    taken = [libc.malloc(10_000_000) for _ in range(20)]
    for place in taken:
        ctypes.memset(place, 1, 10_000_000)
    last = libc.malloc(1000)
    for place in taken:
        libc.free(place)
before = resident_mb()
thread = threading.Thread(target=work)
thread.start()
thread.join()
print(resident_mb() - before)
"""


def left_mb(how: str) -> int:
    command = [sys.executable, "-c", LEFT, how]
    return int(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


@pytest.mark.skipif(sys.platform != "linux", reason="glibc's heap")
def test_what_was_let_go_is_given_back() -> None:
    assert left_mb("kept little") < 20 < 100 < left_mb("as it is")
