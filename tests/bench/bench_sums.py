"""Time of each sum, and a million cylinders by the vectorised path against the plain one.

Run: python tests/bench/bench_sums.py. The plain path is timed on a part of the million and scaled.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from datetime import date

import numpy as np

from assistant.sums import (
    analyser,
    breathing,
    content,
    dates,
    dive,
    fleet,
    group,
    inspection,
    leak,
    mix,
    oxygen,
    picture,
    rate,
    settings,
)
from assistant.sums.stamps import Stamp, parse

TODAY = date(2026, 11, 25)
REPEATS = 200
MILLION = 1_000_000
PLAIN = 20_000
DIVER, DIVE = dive.Diver(12, 200), dive.Dive(18, 25)
PLANNED = dive.plan(DIVER, DIVE)
SIX = {str(number): PLANNED for number in range(6)}
SERVICE = settings.defaults().service["regulator"]

SUMS: dict[str, Callable[[], object]] = {
    "content": lambda: content.measure(12, 200, 15, 0.32),
    "pressure after cooling": lambda: content.after_temperature(230, 40, 15),
    "breathing test": lambda: breathing.judge(breathing.Readings(200, 180, 200), 12),
    "leak test, two readings": lambda: leak.judge(
        [leak.Reading(0, 200, 20), leak.Reading(5, 195, 19)], leak.Valve.SHUT
    ),
    "leak test, eight readings": lambda: leak.judge(
        [leak.Reading(m, 200 - m / 5, 20) for m in range(8)], leak.Valve.SHUT
    ),
    "plan of one diver": lambda: dive.plan(DIVER, DIVE),
    "mix with exposure": lambda: mix.judge(0.32, 0.318, 30, 40),
    "analyser": lambda: analyser.correct(32.1, 20.5, 5),
    "dates": lambda: inspection.inspect("uk", "steel", inspection.History(tested=Stamp(2023, 3)), TODAY),
    "stamp": lambda: parse("03/24", TODAY),
    "service": lambda: dates.judge_service("regulator", date(2026, 5, 3), TODAY, SERVICE, 60),
    "rate": lambda: rate.measure(12, 200, 50, 55, 12),
    "group of six": lambda: group.limit(SIX),
    "oxygen exposure": lambda: oxygen.expose([(1.4, 30), (1.2, 20)]),
}


def time_ms(sum_: Callable[[], object]) -> tuple[float, float]:
    """Median and worst of single calls."""
    sum_()
    taken = []
    for _ in range(REPEATS):
        begun = time.perf_counter()
        sum_()
        taken.append((time.perf_counter() - begun) * 1000)
    return statistics.median(taken), max(taken)


def cylinders(count: int) -> fleet.Fleet:
    chance = np.random.default_rng(7)
    return fleet.Fleet(
        water_l=chance.choice([10.0, 12.0, 15.0], count),
        gauge_bar=chance.uniform(0, 300, count),
        temp_degc=chance.uniform(0, 45, count),
        working_bar=chance.choice([200.0, 232.0, 300.0], count),
        last_good_day=chance.integers(TODAY.toordinal() - 400, TODAY.toordinal() + 1200, count),
    )


def compare_fleet() -> None:
    many = cylinders(MILLION)
    begun = time.perf_counter()
    passing = int(fleet.judge(many, 1800, TODAY).passes.sum())
    vector_s = time.perf_counter() - begun
    columns = (many.water_l, many.gauge_bar, many.temp_degc, many.working_bar, many.last_good_day)
    rows = list(zip(*(column[:PLAIN].tolist() for column in columns), strict=True))
    begun = time.perf_counter()
    for row in rows:
        fleet.judge_one(*row, needed_l=1800, today=TODAY)
    plain_s = (time.perf_counter() - begun) * MILLION / PLAIN
    print(f"{MILLION:,} cylinders, {passing:,} pass: vectorised {vector_s:.2f} s")
    print(f"plain {plain_s:.1f} s (from {PLAIN:,}); ratio {plain_s / vector_s:.0f}")


def main() -> None:
    for name, sum_ in SUMS.items():
        median, worst = time_ms(sum_)
        print(f"{name:26} median {median:7.4f} ms   worst {worst:7.4f} ms")
    median, worst = time_ms(lambda: picture.draw(DIVER, DIVE, PLANNED))
    print(f"{'picture (SVG)':26} median {median:7.4f} ms   worst {worst:7.4f} ms")
    compare_fleet()


if __name__ == "__main__":
    main()
