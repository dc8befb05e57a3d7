"""From rows to tables: counts by class, bounds, delays, voices. Pure: rows in, lines of Markdown out.

Bounds are one-sided 95 % Clopper-Pearson upper bounds on the rate; for no event in n trials that is
1 - 0.05^(1/n), the "rule of three". They treat trials as independent, which clips of one sentence in
five noises are not: read them with the number of sentences beside them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

Row = dict[str, Any]
CONDITIONS = ("clean", "24 dB", "18 dB", "12 dB", "6 dB")
NEAR = ("near_bad", "near_else")
WITH_VOICES = ("crowd", "deck")  # kinds of noise in which people talk
LEVELS_DBFS = (-50, -40, -30, -20)
RIGHT = ("pass", "fault", "command", "reading")
CLOSING = ("pass", "reading", "command:absent")  # what an outcome must be to close a step


def is_pass(row: Row) -> bool:
    """True when the system took this for what closes a step: a pass, the number that stands for one, not fitted."""
    return row["outcome"] in CLOSING


def is_false_pass(row: Row) -> bool:
    """True when something that was no pass was taken as one."""
    return is_pass(row) and not _closes(row)


def _closes(row: Row) -> bool:
    """Whether it was meant to close a step."""
    return row["cls"] in ("pass", "reading") or row["expected"] in CLOSING


def is_false_answer(row: Row) -> bool:
    """True when a meaning was taken that the sentence does not have."""
    return is_answer(row) and row["outcome"] != row["expected"]


def is_answer(row: Row) -> bool:
    """True when the system took anything at all."""
    return not row["outcome"].startswith(("doubted", "back ")) and row["outcome"] not in ("silent", "broken")


def is_false_read_back(row: Row) -> bool:
    """True when something that was no pass was read back as one; it counts only if the diver then agrees."""
    return row["outcome"].removeprefix("back ") in CLOSING and not is_pass(row) and not _closes(row)


def is_read_back(row: Row) -> bool:
    """True when an answer was read back as what it is: it takes a yes more."""
    return bool(row["outcome"] == f"back {row['expected']}")


def is_right(row: Row) -> bool:
    """True when an answer was taken as what it is, its number included."""
    if row["outcome"] != row["expected"]:
        return False
    return bool(row["cls"] != "reading" or row["slots"].get("pressure") == _number_in(row["text"]))


def _number_in(text: str) -> str:
    """The number of a spoken reading, without the words that frame it."""
    framing = ("gauge", "reads", "we", "have", "bar")
    return " ".join(word for word in text.split() if word not in framing)


def upper_bound(events: int, count: int, level: float = 0.95) -> float:
    """One-sided Clopper-Pearson upper bound on a rate, 0..1; 1.0 when nothing was tried.

    Source: Clopper and Pearson, Biometrika 26 (1934), 404-413; checked in tests/bench/test_figures.py.
    """
    if count == 0 or events >= count:
        return 1.0
    low, high = events / count, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if _at_most(events, count, middle) > 1 - level:
            low = middle
        else:
            high = middle
    return high


def _at_most(events: int, count: int, rate: float) -> float:
    logs = (
        math.lgamma(count + 1) - math.lgamma(k + 1) - math.lgamma(count - k + 1)
        + k * math.log(rate) + (count - k) * math.log1p(-rate)
        for k in range(events + 1)
    )  # fmt: skip
    return sum(math.exp(value) for value in logs)


def table(head: Sequence[str], lines: Iterable[Sequence[str]]) -> list[str]:
    """A Markdown table."""
    rule = ["---"] + ["--:"] * (len(head) - 1)
    return ["| " + " | ".join(cells) + " |" for cells in [list(head), rule, *map(list, lines)]]


def wrong_table(rows: Sequence[Row], classes: Sequence[str], event: Callable[[Row], bool], what: str) -> list[str]:
    """Events among the classes: each system's count, bound and, against plain, ratio."""
    names = list(dict.fromkeys(row["system"] for row in rows))
    head = [what, "trials", "sentences"] + [f"{name}" for name in names] + [f"{names[0]}: 95 % below"]
    lines = []
    for cls in [*classes, "all"]:
        mine = [row for row in rows if row["cls"] in ([cls] if cls != "all" else classes)]
        by_name = {name: [row for row in mine if row["system"] == name] for name in names}
        count = len(by_name[names[0]])
        if count:
            events = {name: sum(map(event, found)) for name, found in by_name.items()}
            bound = upper_bound(events[names[0]], count)
            texts = len({(row["step"], row["text"]) for row in by_name[names[0]]})
            lines.append([cls, f"{count}", f"{texts}", *(f"{events[name]}" for name in names), f"{bound:.3%}"])
    return table(head, lines)


def right_table(rows: Sequence[Row], name: str, title: str = "") -> list[str]:
    """Right, asked again and misheard for one system, by class and condition; `title` says of which rows."""
    lines = []
    for cls in (*RIGHT, "all"):
        cells = [cls]
        for condition in CONDITIONS:
            mine = [
                row for row in rows
                if row["system"] == name and condition_of(row) == condition
                and row["cls"] in ([cls] if cls != "all" else RIGHT)
            ]  # fmt: skip
            right, misheard = sum(map(is_right, mine)), sum(is_answer(row) and not is_right(row) for row in mine)
            back = sum(map(is_read_back, mine))
            after_yes = f" + {back / len(mine):.1%} after a yes" if back else ""
            cells.append(f"{right / len(mine):.1%}{after_yes} of {len(mine)}, misheard {misheard}" if mine else "-")
        lines.append(cells)
    return table([f"right, {name}{title}", *CONDITIONS], lines)


def condition_of(row: Row) -> str:
    """The column: clean, or the ratio in dB."""
    return "clean" if row["snr_db"] is None else f"{row['snr_db']:g} dB"


def kinds_table(rows: Sequence[Row], name: str) -> list[str]:
    """Right answers by kind of noise."""
    right = [row for row in rows if row["system"] == name and row["cls"] in RIGHT]
    lines = []
    for kind in dict.fromkeys(row["kind"] for row in right):
        cells = [kind]
        for condition in CONDITIONS:
            mine = [row for row in right if row["kind"] == kind and condition_of(row) == condition]
            cells.append(f"{sum(map(is_right, mine)) / len(mine):.1%} of {len(mine)}" if mine else "-")
        lines.append(cells)
    return table([f"right by noise, {name}", *CONDITIONS], lines)


def voices_table(rows: Sequence[Row], name: str) -> list[str]:
    """Right answers by voice, the worst at 12 dB first; and false passes of all its trials."""
    mine = [row for row in rows if row["system"] == name]
    lines = []
    for voice in dict.fromkeys(row["voice"] for row in mine if row["cls"] in RIGHT):
        cells, rates = [voice], []
        for condition in ("clean", "12 dB", "6 dB"):
            by_voice = [row for row in mine if row["voice"] == voice and row["cls"] in RIGHT]
            found = [row for row in by_voice if condition_of(row) == condition]
            rates.append(sum(map(is_right, found)) / len(found) if found else 1.0)
            cells.append(f"{rates[-1]:.1%} of {len(found)}")
        cells.append(str(sum(is_false_pass(row) for row in mine if row["voice"] == voice)))
        lines.append((rates[1], cells))
    ordered = [cells for _, cells in sorted(lines, key=lambda line: line[0])]
    return table([f"voice, {name}", "clean", "12 dB", "6 dB", "false passes"], ordered)


def delay_table(rows: Sequence[Row]) -> list[str]:
    """Seconds from the end of speech to the decision, over answers taken right, and computing."""
    names = list(dict.fromkeys(row["system"] for row in rows))
    groups = [("all right answers", RIGHT), *((cls, (cls,)) for cls in RIGHT)]
    lines = []
    for title, classes in groups:
        for name in names:
            found = sorted(r["delay_s"] for r in rows if r["system"] == name and r["cls"] in classes and is_right(r))
            if found:
                values = (at(found, 0.5), at(found, 0.95), found[-1])
                lines.append([f"{title}, {name}", *(f"{value:.2f}" for value in values)])
    return table(["delay, s", "median", "95 %", "longest"], lines)


def at(ordered: Sequence[float], part: float) -> float:
    """The value below which `part` of an ordered list lies."""
    return ordered[min(len(ordered) - 1, int(part * len(ordered)))]


def computing_table(rows: Sequence[Row]) -> list[str]:
    """Processor time over audio time: while somebody speaks, and with noise alone at its four levels."""
    lines = []
    for name in dict.fromkeys(row["system"] for row in rows):
        mine = [row for row in rows if row["system"] == name]
        lines.append([f"{name}, speech trials", _real_time([row for row in mine if row["cls"] != "noise"]), *[""] * 3])
        for what, is_one in (("nobody speaks", False), ("a crowd talks", True)):
            noise = [row for row in mine if row["cls"] == "noise" and (row["kind"] in WITH_VOICES) == is_one]
            levels = [[row for row in noise if row["snr_db"] == level] for level in LEVELS_DBFS]
            lines.append([f"{name}, {what}", *map(_real_time, levels)])
    return table(["of real time", *(f"{level} dBFS" for level in LEVELS_DBFS)], lines)


def _real_time(rows: Sequence[Row]) -> str:
    audio_s = sum(row["audio_s"] for row in rows)
    return f"{sum(row['computing_s'] for row in rows) / audio_s:.3f}" if audio_s else "-"
