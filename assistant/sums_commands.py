"""The sums from the command line, for __main__ to add: gas, breathing, leak, plan, rate, mix, dates, service.

Every option names its unit. `--json` prints the result's fields as they are named in assistant/sums.
Exit status: 0 when it passes, 1 when it does not, 2 for input that cannot be meant.
Results are advice to qualified people. Buoyancy and weights are out of scope.
"""

from __future__ import annotations

import click

from assistant.cylinder_commands import breathing_test, gas, leak_test
from assistant.dates_commands import dates_check, service_check
from assistant.dive_commands import mix_check, plan, rate

COMMANDS: tuple[click.Command, ...] = (
    gas,
    breathing_test,
    leak_test,
    plan,
    rate,
    mix_check,
    dates_check,
    service_check,
)
