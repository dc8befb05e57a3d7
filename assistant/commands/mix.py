"""kitcall mix: judge a mix against its label, depth and time. Parse, call, print; no sums here."""

from __future__ import annotations

from pathlib import Path

import click

from assistant.commands.sums import AS_JSON, SETTINGS, Refusing, gauge_of, show
from assistant.errors import BadInput
from assistant.sums import analyser
from assistant.sums.limits import O2_PERCENT
from assistant.sums.mix import judge


@click.command(cls=Refusing)
@click.option("--label-percent", type=float, required=True, help="Oxygen on the label, percent.")
@click.option("--analysed-percent", type=float, required=True, help="Oxygen as the analyser read it, percent.")
@click.option("--air-after-percent", type=float, help="What the analyser shows in air afterwards, percent.")
@click.option("--warmer-degc", type=float, help="How much warmer it is than at its calibration, degrees Celsius.")
@click.option("--depth-m", type=float, help="Planned depth, metres.")
@click.option("--minutes", type=float, help="Time at that depth, minutes.")
@SETTINGS
@AS_JSON
def mix(
    label_percent: float,
    analysed_percent: float,
    air_after_percent: float | None,
    warmer_degc: float | None,
    depth_m: float | None,
    minutes: float | None,
    settings: Path | None,
    as_json: bool,
) -> None:
    """Judge a mix: analysis against label, deepest depth, equivalent air depth, oxygen exposure."""
    centre, _ = gauge_of(settings, None)
    if air_after_percent is not None or warmer_degc is not None:
        shows = analyser.CALIBRATED_PERCENT if air_after_percent is None else air_after_percent
        analysis = analyser.correct(analysed_percent, shows, warmer_degc or 0.0, practice=centre.mix)
        if not analysis.usable:
            raise BadInput(analysis.reason, "Calibrate the analyser in dry air and analyse again.")
        analysed_percent = analysis.percent
    shares = (O2_PERCENT.check(label_percent) / 100, O2_PERCENT.check(analysed_percent) / 100)
    show(judge(*shares, depth_m, minutes, centre.mix), as_json)
