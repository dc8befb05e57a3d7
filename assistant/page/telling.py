"""A check told in full: its events, in order, as questions with what was said, heard and decided."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from assistant.page.shop import Names
from assistant.record import Entry


@dataclass(slots=True)
class Turn:
    """One question and what became of it. `fault` marks the turns that a busy person looks for."""

    seq: int
    at: str
    step: str
    said: str
    heard: list[str] = field(default_factory=list)
    decided: list[str] = field(default_factory=list)
    clips: list[str] = field(default_factory=list)
    fault: bool = False


def tell(entries: Iterable[Entry], local: Callable[[str], datetime], names: Names) -> list[Turn]:
    """The turns of one check; what comes before the first question stands in a turn of its own."""
    turns: list[Turn] = []
    for entry in entries:
        facts = entry.facts
        said = " ".join(str(line) for line in _list(facts.get("said")))
        is_new = facts.get("what") == "confirm" and not facts.get("because")  # else it is only said once more
        if turns and is_new and (understood := _understood(facts)):
            turns[-1].heard.append(f"{understood}, and read it back")
        if entry.kind in ("asked", "verdict_given", "paused") or not turns:
            step = names.step(str(facts["step"])) if facts.get("step") else ""
            turns.append(Turn(entry.seq, f"{local(entry.wall_utc):%H:%M:%S}", step, said))
        _add(turns[-1], entry.kind, facts, names)
    return turns


def _list(value: object) -> list[object]:
    return value if isinstance(value, list) else []


def _understood(facts: Mapping[str, Any]) -> str:
    """What is read back: the numbers, else the words."""
    numbers = facts.get("numbers")
    if isinstance(numbers, dict) and numbers:
        return ", ".join(f"{each:g}" for each in numbers.values())
    return f"“{facts['value']}”" if facts.get("step") and facts.get("value") else ""


def _add(turn: Turn, kind: str, facts: Mapping[str, Any], names: Names) -> None:
    heard = facts.get("heard") or facts.get("phrase")
    if heard:
        by = f" ({facts['by']})" if facts.get("by") not in (None, "voice") else ""
        turn.heard.append(f"“{facts.get('agreed') or heard}”{by}")
    if kind == "noted" and facts.get("clip"):
        turn.clips.append(str(facts["clip"]))
    turn.fault = turn.fault or facts.get("outcome") == "fault" or facts.get("verdict") == "hold"
    decided = _decided(kind, facts, names)
    if decided:
        turn.decided.append(decided)


def _decided(kind: str, facts: Mapping[str, Any], names: Names) -> str:
    item = names.item(str(facts.get("item") or ""))
    step = str(facts.get("step") or "")
    match kind:
        case "asked" | "noted" | "paused" | "continued":
            return {"asked": "", "noted": "voice note kept"}.get(kind, kind)
        case "answered":
            return _answer(facts, names)
        case "doubted":
            return f"not understood: {str(facts.get('why') or '').replace('_', ' ')}"
        case "set_apart":
            return f"{item} {_number(facts.get('number'))} set apart"
        case "replaced":
            return f"{item} {_number(facts.get('old'))} replaced by {_number(facts.get('new'))}"
        case "no_spare":
            return f"{item}: no spare"
        case "withdrawn":
            return f"{names.step(step) if step else item}: taken back"
        case "verdict_given":
            return str(facts.get("verdict") or "").upper()
        case _:
            return kind.replace("_", " ")


def _answer(facts: Mapping[str, Any], names: Names) -> str:
    step, code = str(facts.get("step") or ""), facts.get("code")
    value = f", {facts['value']:g} {facts.get('unit') or ''}" if isinstance(facts.get("value"), int | float) else ""
    value = f": {facts['reason']}" if facts.get("reason") else value
    outcome = str(facts.get("outcome") or "no outcome")
    words = {"passed": "passed", "absent": "not fitted", "fault": f"FAULT: {names.fault(step, code)}"}
    return words.get(outcome, outcome) + value


def _number(value: object) -> str:
    return "unmarked" if value is None else str(value)
