"""The synthesiser hangs, dies, or gives rubbish in the middle of a check; prints what became of the answers.

    PYTHONPATH=. python tests/faults/hang_voice.py --places 3       (in the tests)
    PYTHONPATH=. python tests/faults/hang_voice.py --places 40      (the whole)

A typed check whose lines are rendered by a worker that fails at the k-th line: once (its one restart must mend it) or
for good (the check must end with what to do). Pass rule: every answer acknowledged is there once, the chain verifies,
a second start with a sound voice ends the check in READY, and nothing waits longer than twice the deadline.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

from clock_check import Keeping
from kill_check import CHECK, EXPECTED, JUDGES, WEARS, Diver

from assistant.app import Conversation, Parts
from assistant.check.turns import Start
from assistant.errors import VoiceFailed
from assistant.language.replies import shipped_replies
from assistant.mouth import ShownMouth, SpokenMouth
from assistant.record import Log
from audio.play import SilentSpeaker
from audio.voice import Voice

DEADLINE_S = 1.0
WRONG = ("lost", "doubled", "unverified", "no advice", "not finished", "too long", "broke")
# a stand-in for the synthesiser's process: a beep for each line, but at the k-th start of a line it misbehaves
WORKER = """
import json, math, pathlib, struct, sys, time, wave
count = pathlib.Path(sys.argv[1]); place, how, lasting = int(sys.argv[2]), sys.argv[3], sys.argv[4] == "lasting"
for line in sys.stdin:
    number = int(count.read_text() or 0) + 1; count.write_text(str(number))
    if number == place or (lasting and number > place):
        if how == "hangs": time.sleep(60)
        if how == "dies": sys.exit(1)
    with wave.open(json.loads(line)["path"], "wb") as file:
        file.setnchannels(1); file.setsampwidth(2); file.setframerate(22050)
        silent = how == "silent" and (number == place or (lasting and number > place))
        file.writeframes(b"".join(struct.pack("<h", 0 if silent else int(9000 * math.sin(n / 8))) for n in range(400)))
    print(json.dumps({"done": True}), flush=True)
"""


def run_one(folder: Path, place: int, how: str, lasting: str, counts: Counter[str]) -> None:
    """A check with that voice, what became of it, and the next start with a voice that works."""
    worker, count = folder / "worker.py", folder / "count"
    worker.write_text(WORKER)
    count.write_text("0")
    command = (sys.executable, str(worker), str(count), str(place), how, lasting)
    kept, counts["runs"] = Keeping(), counts["runs"] + 1
    with Log(folder / "r.db", device="victim", wall=lambda: datetime.now(UTC), monotonic=time.monotonic) as log:
        begun_s = time.monotonic()
        try:
            with Voice(deadline_s=DEADLINE_S, worker=command) as voice:
                conversation(log, SpokenMouth(voice, SilentSpeaker()), kept).run()
            counts["went on"] += 1
        except VoiceFailed as problem:
            counts["ended with advice"] += bool(problem.mend)
            counts["no advice"] += not problem.mend
            counts["too long"] += time.monotonic() - begun_s > 60
        except Exception as error:  # noqa: BLE001  whatever breaks is what is looked for
            print(f"{how}, {lasting}, line {place}: {error!r}", file=sys.stderr)
            counts["broke"] += 1
        judge(log, kept, counts)


def conversation(log: Log, mouth: SpokenMouth | ShownMouth, kept: Keeping) -> Conversation:
    parts = Parts(log, Diver(log, lambda point: None), mouth, kept, EXPECTED, shipped_replies("en"), judges=JUDGES)
    return Conversation(CHECK, "s", Start(WEARS, "4", "typed"), parts)


def judge(log: Log, kept: Keeping, counts: Counter[str]) -> None:
    stored = [(e.facts["step"], e.facts["outcome"]) for e in log.entries("s") if e.kind == "answered"]
    counts["acknowledged"] += len(kept.answers)
    counts["lost"] += len(stored) < len(kept.answers)
    counts["doubled"] += stored[: len(kept.answers)] != kept.answers
    if log.unfinished() or not stored:
        counts["not finished"] += not conversation(log, ShownMouth(), Keeping()).run().ready
    counts["unverified"] += not log.verify().ok


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--places", type=int, default=3)
    options, counts = parser.parse_args(), Counter[str]()
    for number in range(options.places):
        for how in ("hangs", "dies", "silent"):
            with tempfile.TemporaryDirectory() as name:
                lasting = "lasting" if number % 2 else "once"
                run_one(Path(name), 1 + 3 * number, how, lasting, counts)
    print(json.dumps({**counts, **{each: counts[each] for each in WRONG}}))
    return int(any(counts[each] for each in WRONG))


if __name__ == "__main__":
    sys.exit(main())
