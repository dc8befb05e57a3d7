"""The group's gas from the pressures read out. The sums are passed in: check and sums do not know each other."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from assistant.check.roster import Roster
from assistant.check.turns import Facts
from assistant.judges import bar_of

STARTING = "starting_pressure"  # the judge whose readings are used


@dataclass(frozen=True, slots=True)
class GasFound:
    """What the gas of a group allows: who has least, for how many minutes, and who has too little for the dive."""

    limited_by: str
    minutes: float
    short: tuple[str, ...]


GasPlan = Callable[[Mapping[str, tuple[float, float]], float, float], GasFound]  # name: litres, bar; depth_m, minutes


def group_gas(roster: Roster, plan: GasPlan | None) -> tuple[GasFound | None, list[str]]:
    """The group's gas, and whose pressure or cylinder is not known; nothing where no dive is planned."""
    if plan is None or roster.depth_m is None or roster.minutes is None:
        return None, []
    on_trip = [diver for diver in roster.divers.values() if not diver.is_off]
    read = {diver.name: (diver.water_l, roster.reading(diver.place, STARTING)) for diver in on_trip}
    known = {name: (litres, bar_of(numbers)) for name, (litres, numbers) in read.items() if litres and numbers}
    unknown = [name for name in read if name not in known]
    return (None, unknown) if unknown or not known else (plan(known, roster.depth_m, roster.minutes), [])


def gas_facts(roster: Roster, gas: GasFound | None) -> Facts | None:
    """The same for the record, divers by their places."""
    places = {diver.name: diver.place for diver in roster.divers.values()}
    if gas is None:
        return None
    return {"place": places[gas.limited_by], "minutes": gas.minutes, "short": [places[name] for name in gas.short]}
