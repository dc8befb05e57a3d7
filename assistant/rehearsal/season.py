"""An invented season as data: grammars/en/season.toml, and the kit whose faults come by its stated rates.

Chance is passed in as a seeded generator. What an item has wrong is drawn when it is put on a diver and stays
until its repair; the check knows nothing of it and must find it by asking.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from random import Random

from assistant.check.steps import Check
from assistant.errors import GrammarError
from assistant.language.files import Place, Strict, grammar_file, read_shape


class RateShape(Strict):
    """One kind of fault: its step and code, and how often it comes."""

    step: str
    code: str
    per_1000: float
    ageing: float = 0.0
    damp: bool = False


class SeasonShape(Strict):
    """The whole file."""

    title: str
    first_day: str
    seed: int
    divers: list[str]
    staff: list[str]
    trips: list[str]
    seats: int
    litres: float
    depth_m: float
    minutes: float
    number_share: float
    doubt_share: float
    no_spare_share: float
    bench_share: float
    repair_days: int
    swap_words: str
    unclear_words: str
    yes_words: str
    no_words: str
    on_words: str
    settled_words: str
    found_words: str
    done_words: str
    stock: dict[str, int]
    damp: dict[str, float]
    rate: list[RateShape]


def load_season(check: Check, path: Place | None = None) -> SeasonShape:
    """The shipped season; GrammarError names a fault that the check does not know."""
    place = path or grammar_file("season.toml", check.language)
    shape = read_shape(place, SeasonShape)
    known = {(step.id, fault.code) for step in check.steps for fault in step.faults}
    for rate in shape.rate:
        if (rate.step, rate.code) not in known:
            raise GrammarError(f'the check has no fault "{rate.step}: {rate.code}"', "Use one it has.", str(place))
    return shape


@dataclass(slots=True)
class Thing:
    """One numbered item: when it was bought, what is wrong with it, and whether it is off the rail."""

    item: str
    number: str
    bought: date
    wrong: dict[str, str] = field(default_factory=dict)  # step: code
    apart_since: date | None = None

    def years(self, today: date) -> int:
        """Whole years since it was bought."""
        return today.year - self.bought.year - ((today.month, today.day) < (self.bought.month, self.bought.day))


class Store:
    """All numbered items of the season."""

    def __init__(self, shape: SeasonShape, check: Check, first: date, random: Random) -> None:
        self._shape, self._random = shape, random
        self._item_of = {(step.id, fault.code): fault.item for step in check.steps for fault in step.faults}
        self.things = {
            (item, str(number)): Thing(item, str(number), first.replace(year=first.year - random.randrange(6)))
            for item, count in shape.stock.items()
            for number in range(1, count + 1)
        }

    def take(self, item: str, today: date, worn: set[tuple[str, str]]) -> Thing | None:
        """One of the kind that is on the rail and on nobody, with whatever is wrong with it today; None when gone."""
        free = [each for key, each in self.things.items()
                if each.item == item and each.apart_since is None and key not in worn]  # fmt: skip
        if not free:
            return None
        found = self._random.choice(free)
        self._age(found, today)
        worn.add((found.item, found.number))
        return found

    def _age(self, thing: Thing, today: date) -> None:
        for rate in self._shape.rate:
            if self._item_of[rate.step, rate.code] != thing.item:
                continue
            damp = self._shape.damp.get(f"{today:%m}", 1.0) if rate.damp else 1.0
            if self._random.random() * 1000 < (rate.per_1000 + rate.ageing * thing.years(today)) * damp:
                thing.wrong.setdefault(rate.step, rate.code)

    def apart(self) -> list[Thing]:
        """What is off the rail."""
        return [each for each in self.things.values() if each.apart_since is not None]
