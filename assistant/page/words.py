"""Words of the page for what the record holds: verdicts, states, reasons, doings, times. Used by the templates."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any
from urllib.parse import quote

STATES = {
    "apart": "waiting for repair",
    "worked": "repaired, bench check to do",
    "failed": "bench check failed",
    "passed": "bench check passed, may go back",
    "back": "back in rental",
    "undone": "taken back on deck",
    "": "on the rail",
}
DOINGS = {
    "set_apart": "set apart",
    "work_noted": "repair written down",
    "bench_checked": "bench check",
    "returned_to_rental": "back in rental",
    "date_noted": "date noted",
    "point_settled": "point settled",
    "point_carried": "carried over",
    "day_signed": "day signed off",
}
REASONS = {"open_critical": "left open, and critical", "open": "left open"}
WHATS = {"service": "service", "test": "pressure test", "visual": "visual inspection", "bought": "bought"}
VERDICTS = {"ready": "READY", "hold": "HOLD", "sound": "SOUND", "faulty": "FAULTY", "": "not finished"}


def verdict_word(verdict: str) -> str:
    """READY, HOLD, or that the check came to no end."""
    return VERDICTS.get(verdict, verdict)


def long_day(day: str) -> str:
    """`Tuesday 24 November 2026` of `2026-11-24`."""
    found = date.fromisoformat(day)
    return f"{found:%A} {found.day} {found:%B %Y}"


def short_month(month: str) -> str:
    """`Nov 2026` of `2026-11`."""
    return f"{date.fromisoformat(month + '-01'):%b %Y}"


def clock(local: str) -> str:
    """Hours and minutes of a local time."""
    return local[11:16]


def minutes(seconds: float | None) -> str:
    """Seconds as minutes for a table; empty where there are none."""
    return "" if seconds is None else f"{seconds / 60:.1f}"


def percent(share: float | None) -> str:
    """A share as whole percent."""
    return "" if share is None else f"{share * 100:.0f} %"


def spelled(moment: datetime | None) -> str:
    """A moment to the minute."""
    return "" if moment is None else f"{moment:%Y-%m-%d %H:%M}"


def many(count: int, one: str) -> str:
    """`1 fault`, `2 faults`, `2 days`."""
    return f"{count} {one}{'' if count == 1 else 's'}"


def diver(who: str) -> str:
    """`Diver 4`, `Ann`, or that nobody was named."""
    return f"Diver {who}" if who.isdecimal() else who or "Diver not named"


def reason(facts: Mapping[str, Any], names: Any) -> str:
    """One reason of a HOLD as words: `Inflator sticks`, `Deflate hose: left open`, `Jacket: no spare`."""
    step, code, kind = (str(facts.get(name) or "") for name in ("step", "code", "kind"))
    if code:
        return str(names.fault(step, code))
    of = names.step(step) if step else names.item(str(facts["item"])) if facts.get("item") else ""
    said = REASONS.get(kind) or kind.replace("_", " ") or "not said why"
    return f"{of}: {said}" if of else said


def link(path: str, **query: object) -> str:
    """An address of this page; whatever stands in the query is quoted."""
    kept = "&".join(f"{name}={quote(str(value), safe='')}" for name, value in query.items() if value not in ("", None))
    return f"{path}?{kept}" if kept else path


FILTERS: dict[str, Callable[..., Any]] = {
    "verdict": verdict_word,
    "long_day": long_day,
    "short_month": short_month,
    "clock": clock,
    "minutes": minutes,
    "percent": percent,
    "spelled": spelled,
    "reason": reason,
    "many": many,
    "diver": diver,
    "link": link,
    "state": lambda state: STATES.get(state, state),
    "doing": lambda kind: DOINGS.get(kind, kind.replace("_", " ")),
    "what": lambda what: WHATS.get(what, what),
}
