"""A trip's roster read from the record, and the boat's verdict on it, as the record keeps it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assistant.boat_gas import GasFound, GasPlan, gas_facts, group_gas
from assistant.check.diver import Found, Standing
from assistant.check.rail import Rail
from assistant.check.roster import Roster
from assistant.check.steps import Check
from assistant.check.turns import Facts, Record
from assistant.record import Log, day_entries, rail_entries


@dataclass(frozen=True, slots=True)
class Outing:
    """Which trip of which planned day is led, before or after the dive, by which sequences."""

    day: str
    trip: int
    before: Check
    after: Check
    after_dive: bool = False

    @property
    def check(self) -> Check:
        """The sequence that is led now."""
        return self.after if self.after_dive else self.before


def read_roster(log: Log, outing: Outing) -> Roster:
    """Who wears what and who stands where on that trip, from the record."""
    rail = Rail.of((entry.session, Record(entry.kind, entry.facts)) for entry in rail_entries(log, outing.day))
    told = ((entry.session, Record(entry.kind, entry.facts), entry.wall_s) for entry in day_entries(log, outing.day))
    return Roster.of(outing.before, outing.after, outing.trip, rail, told)


def boat_verdict(roster: Roster, now_s: float, plan: GasPlan | None) -> tuple[bool, GasFound | None, list[str]]:
    """Whether the boat is ready at `now_s` (wall seconds): everybody is, and no gas is short; with the gas, and
    whose is not known."""
    if not roster.is_ready(now_s):
        return False, None, []
    gas, unknown = group_gas(roster, plan)
    return not (gas and gas.short), gas, unknown


def boat_facts(roster: Roster, standings: Mapping[int, Found], ready: bool, gas: GasFound | None) -> Facts:
    """The facts of `boat_judged` but for how it was asked (record/days.py describes them)."""
    places = {each.value: [at for at, found in standings.items() if found.standing is each] for each in Standing}
    verdict = "ready" if ready else "hold"
    return {"trip": roster.trip, "verdict": verdict, "gas": gas_facts(roster, gas), **places}


def judge_unasked(log: Log, outing: Outing, now_s: float, plan: GasPlan | None, by: str) -> Facts:
    """The facts of a `boat_judged` that nobody asked for, from the record as it is at `now_s` (wall seconds)."""
    roster = read_roster(log, outing)
    ready, gas, _ = boat_verdict(roster, now_s, plan)
    return {**boat_facts(roster, roster.standings(now_s), ready, gas), "heard": "", "by": by}
