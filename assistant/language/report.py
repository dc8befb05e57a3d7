"""What the checker found in a sequence file: refusals, warnings and the closest pairs, as values and as a table.

A report judges nothing itself; it shows the same facts to a person (rich) and to a program (to_dict).
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from rich.table import Table


@dataclass(frozen=True, slots=True)
class Remark:
    """One refusal or warning: where (`file: key`), which rule, what is wrong, what to do."""

    where: str
    rule: str
    message: str
    mend: str

    def __str__(self) -> str:
        return f"{self.where}: {self.message} {self.mend}"


@dataclass(frozen=True, slots=True)
class Pair:
    """A pass phrase and another that means something else, `distance` phonemes apart.

    meaning: "fault:<code>", "command:<id>", or "negation:<kind>"; standing: "refused", "warned" or "apart".
    """

    step: str
    key: str
    phrase: str
    other: str
    meaning: str
    distance: int
    standing: str


@dataclass(frozen=True, slots=True)
class Report:
    """The judgement of one file. `pairs` are sorted, the closest first; only near ones are kept."""

    source: str
    refusals: tuple[Remark, ...]
    warnings: tuple[Remark, ...]
    pairs: tuple[Pair, ...]

    @property
    def sound(self) -> bool:
        """True when nothing is refused."""
        return not self.refusals

    def to_dict(self) -> dict[str, Any]:
        """Everything as plain values, for a program to read."""
        return {"sound": self.sound, **asdict(self)}

    def closest(self, rows: int = 20) -> Table:
        """The closest pairs as a table for a terminal, at most `rows` of them."""
        table = Table(title="Closest pairs by sound", caption="distance in phonemes")
        for heading in ("step", "pass phrase", "other phrase", "which means"):
            table.add_column(heading, overflow="fold")
        table.add_column("distance", justify="right")
        table.add_column("")
        for pair in self.pairs[:rows]:
            table.add_row(pair.step, pair.phrase, pair.other, pair.meaning, str(pair.distance), pair.standing)
        return table
