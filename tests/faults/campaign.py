"""The whole fault campaign by one command: each part by its seed, its counts printed as one table.

    PYTHONPATH=. python tests/faults/campaign.py            (hours: run it by night)
    PYTHONPATH=. python tests/faults/campaign.py --part clock

Exit status 1 when any part breaks its pass rule, which its own file states.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
from pathlib import Path

PARTS = {
    "kills of the record": ("kill_store.py", "--kills", "2000", "--seed", "7"),
    "kills at every step of a check": ("kill_check.py",),
    "kills at every point of a group": ("kill_group.py",),
    "power cuts": ("power_store.py", "--cuts", "500", "--answers", "60", "--seed", "2", "--every-sync", "1"),
    "errors at every call, disk full at 50 levels": ("errors_store.py", "--levels", "50", "--answers", "12"),
    "flips, two processes, little memory": (
        "flip_store.py", "--flips", "500", "--pairs", "40", "--limits", "30", "--seed", "3",
    ),
    "clock": ("clock_check.py", "--runs", "200", "--seed", "5"),
    "synthesiser": ("hang_voice.py", "--places", "40"),
    "microphone and speaker": ("sound_check.py", "--places", "20", "--seed", "1"),
    "eight hours": ("soak_check.py", "--hours", "8", "--seed", "1"),
}  # fmt: skip


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--part", default="", help="only the parts whose name holds this")
    options, failed = parser.parse_args(), []
    for name, (script, *words) in PARTS.items():
        if options.part not in name:
            continue
        begun_s = time.monotonic()
        command = [sys.executable, str(Path(__file__).with_name(script)), *words]
        done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=False)
        counts = json.loads(done.stdout.splitlines()[-1]) if done.stdout.strip() else {"no counts": 1}
        told = ", ".join(f"{what} {count}" for what, count in counts.items())
        print(f"{name}: {'HELD' if done.returncode == 0 else 'BROKEN'} in {time.monotonic() - begun_s:.0f} s: {told}")
        failed += [name] * (done.returncode != 0)
    return int(bool(failed))


if __name__ == "__main__":
    sys.exit(main())
