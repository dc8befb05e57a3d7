"""What a pressure gauge can show: its divisions and how finely an eye reads between them.

Between two marks an eye tells a part of a division (read_share); that part is the smallest change
the gauge can show, and each reading is known to half of it either way. A constant error of the whole
scale falls out of differences and is not judged here. Common practice, no source.
Checked by tests/sums/test_breathing.py and test_leak.py.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.errors import BadInput
from assistant.sums.limits import PRESSURE, Limit

DIVISION = Limit("one division of the gauge", "bar", 0.1, 50.0, ((0.0689475729, "psi"),))
FULL_SCALE = Limit("the gauge's full scale", "bar", 100.0, 600.0, ((0.0689475729, "psi"),))
READ_SHARE = Limit("the part of a division an eye reads", "(a fraction)", 0.1, 1.0, ((0.01, "percent"),))


@dataclass(frozen=True, slots=True)
class Gauge:
    """A gauge of full_scale_bar with marks every division_bar; read_share 1 is a digital one."""

    division_bar: float = 10.0
    read_share: float = 0.5
    full_scale_bar: float = 360.0

    def __post_init__(self) -> None:
        DIVISION.check(self.division_bar)
        READ_SHARE.check(self.read_share)
        FULL_SCALE.check(self.full_scale_bar)

    @property
    def smallest_bar(self) -> float:
        """The smallest change of pressure this gauge can show."""
        return self.division_bar * self.read_share

    @property
    def half_width_bar(self) -> float:
        """How far a reading may be from the needle's true place on the scale."""
        return self.smallest_bar / 2

    def check(self, reading_bar: float, name: str) -> float:
        """A reading on this scale, else BadInput: read the gauge again, in bar."""
        PRESSURE.check(reading_bar)
        if reading_bar > self.full_scale_bar:
            raise BadInput(
                f"{name} was understood as {reading_bar:g} bar.",
                f"This gauge ends at {self.full_scale_bar:g} bar; read it again.",
            )
        return reading_bar
