"""The shop's pages over real HTTP, with 10,000, 100,000 and 1,000,000 answers in the store, in one run.

    python tests/bench/bench_page.py [--answers 10000 100000 1000000] [--visits 60] [--season 200000] [--folder DIR]

For each page the 95th percentile in milliseconds, on the wall and of processor time, its ratio to a page that
reads nothing (the style sheet) in the same run, and how it grew from the smallest store to the largest. Before
that a season's export is imported into a new record, with progress. What the pages count is compared with what
was made. Stores made in a folder that is named stay there, and serve the next run.
"""

from __future__ import annotations

import argparse
import http.client
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterable
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

import many_answers
import uvicorn

from assistant.page import Shop, build
from assistant.page.verifying import Verifying
from assistant.record import Ledger, Log, Reader, export_lines, import_lines
from assistant.record.season_rows import faults_by_age, read_months
from assistant.sums.settings import defaults

ZONE = ZoneInfo("UTC")
PORT = 18490
WARM = 3
Figures = dict[str, tuple[float, float]]
Visits = dict[str, Callable[[Random, int], str]]
VISITS: Visits = {
    "style sheet": lambda random, days: "/style.css",
    "day": lambda random, days: f"/day?of={day(random, days)}",
    "newest day": lambda random, days: f"/day?of={many_answers.FIRST.date() + timedelta(days=days - 1)}",
    "day sheet": lambda random, days: f"/sheet?of={day(random, days)}",
    "check": lambda random, days: f"/check?id={random.randrange(days):05}-{random.randrange(40):02}",
    "item": lambda random, days: f"/item?kind=jacket&number={random.randint(1, 60)}",
    "items": lambda random, days: "/items",
    "set apart": lambda random, days: "/apart",
    "due": lambda random, days: "/due",
    "faults": lambda random, days: "/faults",
    "picture kinds": lambda random, days: "/picture/kinds.svg",
    "picture again": lambda random, days: "/picture/again.svg",
    "find diver": lambda random, days: f"/find?diver=Diver%20{random.randint(1, 900)}",
    "find item": lambda random, days: f"/find?item=mask&number={random.randint(1, 60)}",
    "find fault": lambda random, days: f"/find?fault=step_{random.randrange(25):02}:fault_1",
    "find days": lambda random, days: f"/find?since={day(random, days)}",
    "record": lambda random, days: "/record",
}


def day(random: Random, days: int) -> date:
    return many_answers.FIRST.date() + timedelta(days=random.randrange(days))


def serve(path: Path) -> tuple[uvicorn.Server, threading.Thread, Verifying]:
    """The page of that store on PORT."""
    now, numbers = lambda: datetime.now(UTC), iter(range(1, 1 << 30))
    verifying = Verifying(path, now)
    shop = Shop(
        path, ZONE, lambda: Log(path, device="bench", wall=now, monotonic=time.monotonic), now, time.monotonic,
        lambda: f"{next(numbers):064x}", defaults(), frozenset({f"localhost:{PORT}"}), verifying,
    )  # fmt: skip
    config = uvicorn.Config(
        build(shop), port=PORT, log_level="error", lifespan="off", ws="none", loop="asyncio", http="h11"
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        thread.join(0.01)
    return server, thread, verifying


def visit(wire: http.client.HTTPConnection, path: str, cookie: str) -> tuple[float, float, int, str]:
    start_s, start_cpu_s = time.perf_counter(), time.process_time()
    wire.request("GET", path, headers={"Host": f"localhost:{PORT}", **({"Cookie": cookie} if cookie else {})})
    got = wire.getresponse()
    got.read()
    took_ms, cpu_ms = (time.perf_counter() - start_s) * 1000, (time.process_time() - start_cpu_s) * 1000
    return took_ms, cpu_ms, got.status, (got.getheader("set-cookie") or "").split(";")[0]


def measure(path: Path, days: int, visits: int) -> Figures:
    """The 95th percentile of each page, in milliseconds on the wall and of processor time (server and client).

    Pages take turns, so that a busy machine hits all alike.
    """
    server, thread, verifying = serve(path)
    random, taken = Random(7), {name: list[tuple[float, float]]() for name in VISITS}
    with closing(http.client.HTTPConnection("localhost", PORT, timeout=60)) as wire:
        _, _, _, cookie = visit(wire, "/record", "")
        for turn in range(visits + WARM):
            for name, address in VISITS.items():
                took_ms, cpu_ms, status, _ = visit(wire, address(random, days), cookie)
                assert status == 200, (name, status)
                if turn >= WARM:
                    taken[name].append((took_ms, cpu_ms))
    server.should_exit = True
    thread.join()
    verifying.close()
    return {name: (last_twentieth(v[0] for v in values), last_twentieth(v[1] for v in values))
            for name, values in taken.items()}  # fmt: skip


def last_twentieth(values: Iterable[float]) -> float:
    """The 95th percentile."""
    return statistics.quantiles(values, n=20)[-1]


def make(folder: Path, answers: int) -> tuple[Path, int]:
    """A store with its ledger; gives it and how many days it has. The figures must be those that were made."""
    path = folder / f"{answers}.db"
    start_s = time.perf_counter()
    many = many_answers.count(answers) if path.exists() else many_answers.write(path, answers)
    written_s = time.perf_counter()
    with Ledger(path, ZONE) as ledger:
        ledger.follow()
        faults = sum(count for counts in faults_by_age(ledger).values() for count in counts.values())
        found = (sum(line.checks for line in read_months(ledger)), faults, ledger.note("damage"))
    assert found == (many.checks, many.faults, ""), found
    read_s = time.perf_counter() - written_s
    print(f"{answers:>9,} answers: {many.checks:,} checks, {many.faults:,} faults; made in {written_s - start_s:.0f} s,"
          f" verified and posted in {read_s:.0f} s", flush=True)  # fmt: skip
    return path, max(1, many.checks // many_answers.A_DAY)


def show(figures: dict[int, Figures]) -> None:
    """Both times of each page by size, ratio to the style sheet, growth from the smallest store to the largest."""
    sizes = sorted(figures)
    heads = [f"{size:,}" for size in sizes] + [f"{size:,} cpu" for size in sizes]
    print("\n| page, 95 % in ms | " + " | ".join(heads) + " | cpu to style sheet | cpu growth |")
    print("|---|" + "--:|" * (len(heads) + 2))
    for name in VISITS:
        row = [figures[size][name][which] for which in (0, 1) for size in sizes]
        ratio, growth = row[-1] / figures[sizes[-1]]["style sheet"][1], row[-1] / row[len(sizes)]
        print(f"| {name} | {' | '.join(f'{value:.1f}' for value in row)} | {ratio:.1f} | {growth:.2f} |")


def import_season(folder: Path, answers: int) -> None:
    """An export of that many answers into a new record, beside its plain reading as JSON."""
    source, target, lines = folder / "season.db", folder / "imported.db", folder / "season.jsonl"
    many_answers.write(source, answers)
    with Reader(source) as reader, lines.open("w", encoding="utf-8") as out:
        count = sum(out.write(line + "\n") > 0 for line in export_lines(reader))
    start_s = time.perf_counter()
    with lines.open(encoding="utf-8") as each:
        plain = sum(len(line) for line in each)
    plain_s = time.perf_counter() - start_s
    log = Log(target, device="bench", wall=lambda: datetime.now(UTC), monotonic=time.monotonic)
    start_s, at = time.perf_counter(), 0
    with closing(log), lines.open(encoding="utf-8") as each:

        def tell(events: int) -> None:
            nonlocal at
            if events - at >= 100_000:
                at = events
                print(f"  {events:,} events after {time.perf_counter() - start_s:.1f} s", flush=True)

        start_cpu_s = time.process_time()
        added = import_lines(log, each, tell)
        took_s, cpu_s = time.perf_counter() - start_s, time.process_time() - start_cpu_s
    with Reader(source) as one, Reader(target) as other:
        same = one.last_seq() == other.last_seq() and all(
            a == b for a, b in zip(export_lines(one), export_lines(other), strict=True)
        )
    print(f"import of {answers:,} answers: {added:,} events, {count:,} lines, {plain / 1e6:.0f} MB in {took_s:.1f} s,"
          f" {cpu_s:.1f} s of processor, {took_s / plain_s:.0f} times plain reading;"
          f" {'the same record' if same else 'NOT THE SAME'}")  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--answers", type=int, nargs="*", default=[10_000, 100_000, 1_000_000])
    parser.add_argument("--visits", type=int, default=60)
    parser.add_argument("--season", type=int, default=200_000)
    parser.add_argument("--folder", type=Path)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = given.folder or Path(name)
        if given.season:
            import_season(folder, given.season)
        figures = {}
        for answers in given.answers:
            path, days = make(folder, answers)
            figures[answers] = measure(path, days, given.visits)
        if figures:
            show(figures)


if __name__ == "__main__":
    main()
