"""What the computer itself reports: supply and throttling flags, temperature, clock. Read from files and one command.

Sources: Raspberry Pi documentation, "vcgencmd", get_throttled (the bits below; 0x50005 is its own example); Linux
kernel documentation, "thermal sysfs" (temp in thousandths of a degree) and "RTC". On other machines the flags are
missing, and that is what is said.
"""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

FLAGS = {
    0: "supply too low now", 1: "slowed by its cap now", 2: "throttled now", 3: "near its heat limit now",
    16: "supply was too low", 17: "was slowed by its cap", 18: "was throttled", 19: "was near its heat limit",
}  # fmt: skip
UNDER_VOLTAGE = 1 << 0 | 1 << 16
SYNCED = Path("/run/systemd/timesync/synchronized")
CLOCK_CHIP = Path("/sys/class/rtc/rtc0")
TEMPERATURE = Path("/sys/class/thermal/thermal_zone0/temp")
MODEL = Path("/proc/device-tree/model")


@dataclass(frozen=True, slots=True)
class Flags:
    """The bits of get_throttled; None where the machine has none."""

    bits: int | None

    @property
    def words(self) -> str:
        """Every flag in words."""
        if self.bits is None:
            return "no supply flags on this machine"
        return ", ".join(words for bit, words in FLAGS.items() if self.bits >> bit & 1) or "supply as it should be"

    @property
    def is_low(self) -> bool:
        """The supply is, or was since the start, too low: the next answer may be the last."""
        return bool(self.bits and self.bits & UNDER_VOLTAGE)


def vcgencmd() -> str:
    """What the firmware says, `throttled=0x0`; empty where there is none to ask."""
    try:
        done = subprocess.run(["vcgencmd", "get_throttled"], capture_output=True, text=True, timeout=5, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout


def read_flags(ask: Callable[[], str] = vcgencmd) -> Flags:
    """The supply and throttling flags."""
    name, equals, digits = ask().strip().partition("=")
    try:
        return Flags(int(digits, 16) if name == "throttled" and equals else None)
    except ValueError:
        return Flags(None)


def read_temperature_degc(path: Path = TEMPERATURE) -> float | None:
    """The chip's temperature in degrees Celsius; None where it is not told."""
    try:
        return int(path.read_text()) / 1000
    except (OSError, ValueError):
        return None


def is_clock_vouched_for(synced: Path = SYNCED, chip: Path = CLOCK_CHIP) -> bool:
    """True when a time server has set the clock since the start, or a clock chip keeps it."""
    return synced.exists() or chip.exists()


def clock_source(synced: Path = SYNCED, chip: Path = CLOCK_CHIP) -> str:
    """Who vouches for the clock."""
    if synced.exists():
        return "set by a time server"
    return "kept by a clock chip" if chip.exists() else "kept by nobody: right only since it was last set"


def machine(path: Path = MODEL) -> str:
    """The board's own name; empty when it has none."""
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip("\0\n ")
    except OSError:
        return ""
