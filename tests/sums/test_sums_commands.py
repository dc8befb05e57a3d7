"""The commands of the sums: exit status, JSON fields, refusals, and a unit in the name or help of every number."""

from __future__ import annotations

import json
import re
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from assistant.__main__ import main

NAMES = ("gas", "breathing", "leak", "plan", "rate", "mix", "dates", "service")
CONTEXT = click.Context(main)
COMMANDS = [command for name in NAMES if (command := main.get_command(CONTEXT, name)) is not None]
GAS = "--water-l 12 --pressure-bar 200"
BREATHED = "--before-bar 200 --after-bar 200 --water-l 12"
UK = "--region uk --today 2026-11-25"


def run(name: str, options: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, [name, *options.split()])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.exit_code, result.output


@pytest.mark.parametrize(
    ("name", "options", "status", "said"),
    [
        ("gas", GAS, 0, "12 l at 200 bar and 20 degC hold 2318 free litres"),
        ("gas", "--rated-cuft 77.4 --working-psi 3000 --pressure-psi 3000 --temp-degf 70", 0, "11 l at 207 bar"),
        ("breathing", f"{BREATHED} --lowest-bar 200", 0, "the valve feeds these breaths"),
        ("breathing", f"{BREATHED} --lowest-bar 180", 1, "dipped 20 bar and came back 20"),
        ("leak", "--valve shut --reading 0:200:20 --reading 5:200:20", 0, "No leak that this gauge could show"),
        ("leak", "--valve shut --reading 0:200:20 --reading 5:190:20", 1, "It loses 2 bar/min"),
        ("leak", "--valve shut --reading 0:200 --reading 1:200", 1, "wait 3 min in all"),
        ("plan", "--diver ana:12:200 --depth-m 18 --bottom-min 25", 0, "turn at 130 bar"),
        ("plan", "--diver ana:12:200 --depth-ft 59 --bottom-min 25", 0, "for 25 min at 18 m"),
        ("plan", "--diver ana:12:200 --diver bo:10:190:25 --depth-m 18 --bottom-min 25", 1, "Not this dive: bo"),
        ("plan", "--diver ana:12:200 --diver bo:12:200:15 --depth-m 18 --bottom-min 20", 0, "ana has the smallest"),
        ("rate", "--water-l 12 --start-bar 200 --end-bar 50 --minutes 55 --mean-depth-m 12", 0, "l/min at the surface"),
        ("breathing", "--before-bar 200 --lowest-bar 180 --water-l 12", 1, "back again means"),
        ("mix", "--label-percent 32 --analysed-percent 32 --warmer-degc 8", 0, "Analysed 32.0 %"),
        ("mix", "--label-percent 32 --analysed-percent 31.8", 0, "deepest 33 m"),
        ("mix", "--label-percent 32 --analysed-percent 36", 1, "not this cylinder"),
        ("mix", "--label-percent 32 --analysed-percent 31.6 --air-after-percent 20.7", 0, "Analysed 31.8 %"),
        ("dates", f"{UK} --tested 03/2026", 0, "EN ISO 18119"),
        ("dates", f"{UK} --tested 11/21", 1, "was good through 2022-11-30"),
        ("service", "--item regulator --serviced 2026-05-03 --today 2026-11-25", 0, "good through 2027-05-03"),
        ("service", "--item regulator --serviced 2026-05-03 --dives 120 --today 2026-11-25", 1, "120 dives since"),
    ],
)
def test_status_and_reason(name: str, options: str, status: int, said: str) -> None:
    found, output = run(name, options)
    assert (found, said in output) == (status, True), output


@pytest.mark.parametrize(
    ("name", "options", "said"),
    [
        ("gas", GAS, "ideal error: 2.704 %"),
        ("breathing", f"{BREATHED} --lowest-bar 200", "model error: 0.2 %"),
        ("breathing", f"{BREATHED} --lowest-bar 200 --o2-percent 32", "model error: 0.3 %"),
        ("leak", "--valve shut --reading 0:200:20 --reading 5:200:20", "model error: 0.2 %"),
        ("plan", "--diver ana:12:200 --depth-m 18 --bottom-min 25", "reserve ideal error: "),
        ("plan", "--diver ana:12:200 --depth-m 18 --bottom-min 25", "model error: 0.2 %"),
        ("rate", "--water-l 12 --start-bar 200 --end-bar 50 --minutes 55 --mean-depth-m 12", "ideal error: 4.099 %"),
        ("mix", "--label-percent 32 --analysed-percent 32", "rule error: 0.3058 m"),
        ("mix", "--label-percent 32 --analysed-percent 32 --depth-m 30 --minutes 40", "exposure: 22 % of the single"),
    ],
)
def test_each_result_states_its_error_beside_it(name: str, options: str, said: str) -> None:
    output = run(name, options)[1]
    assert said in output, output


@pytest.mark.parametrize(
    ("name", "options", "said"),
    [
        ("gas", "--water-l 12 --pressure-bar 3000", "If psi was meant, that is 206.8 bar."),
        ("gas", "--water-l 12", "For the pressure, nothing was understood."),
        ("gas", f"{GAS} --pressure-psi 2900", "Give --pressure-bar or --pressure-psi, one of them."),
        ("gas", f"{GAS} --o2-percent 210", "The oxygen was understood as 210 %."),
        ("gas", f"{GAS} --o2-percent 2.1", "If ten times that was meant, that is 21 %."),
        ("gas", "--rated-cuft 80 --pressure-bar 200", "Give --working-psi too."),
        ("breathing", f"{BREATHED} --lowest-bar 210", "the lowest is not the lowest"),
        ("leak", "--valve shut --reading 0:200:20", "A leak needs two readings or more"),
        ("leak", "--valve shut --reading 0:200:20 --reading 5", "Expected is MIN:BAR or MIN:BAR:DEGC."),
        ("leak", "--valve shut --reading 0:200:20 --reading 5:full", "which are no numbers"),
        ("plan", "--diver ana:12:3000 --depth-m 18 --bottom-min 25", "3000 bar"),
        ("plan", "--diver ana --depth-m 18 --bottom-min 25", "which are no numbers"),
        ("plan", "--diver a:12:200 --diver a:12:200 --depth-m 18 --bottom-min 25", "the same name"),
        ("plan", "--diver ana:12:0 --depth-m 18 --bottom-min 25", "start was understood as 0 bar. Expected is 1 "),
        ("plan", "--diver ana:12:200 --depth-ft 660 --bottom-min 25", "understood as 660 ft. Expected is 4 to 196 ft."),
        ("gas", "--water-l 12 --pressure-psi -5", "understood as -5 psi. Expected is 0 to 4930 psi."),
        ("gas", "--rated-cuft 80 --working-psi 207 --pressure-psi 3000", "If bar was meant, that is 3002 psi."),
        ("gas", f"{GAS} --temp-degf 293", "understood as 293 degF. Expected is -4 to 176 degF."),
        ("rate", "--water-l 12 --start-bar 200 --end-bar 50 --minutes 5 --mean-depth-m 12", "A diver breathes 5 to 90"),
        ("rate", "--water-l 1.2 --start-bar 200 --end-bar 50 --minutes 55 --mean-depth-m 12", "1.4 l/min at the "),
        ("rate", "--water-l 12 --start-bar 50 --end-bar 200 --minutes 55 --mean-depth-m 12", "start first"),
        ("mix", "--label-percent 32 --analysed-percent 32 --warmer-degc 40", "Calibrate the analyser"),
        ("mix", "--label-percent 0.32 --analysed-percent 32", "If a fraction was meant, that is 32 %."),
        ("mix", "--label-percent 32 --analysed-percent 36 --air-after-percent 19.5", "Calibrate the analyser"),
        ("dates", f"{UK} --tested 12/26", "2026-12"),
        ("dates", f"{UK} --material carbon --tested 03/24", "Known for uk"),
        ("service", "--item mask --serviced 2026-05-03 --today 2026-11-25", "Expected is one of regulator, jacket."),
        ("service", "--item regulator --serviced 2026-12-03 --today 2026-11-25", "a day up to today"),
        ("service", "--item regulator --serviced 1926-05-03 --today 2026-11-25", "understood as 1926-05-03"),
        ("dates", f"{UK} --tested 03/1924", "If the century is wrong, 2024 may be meant."),
        ("dates", f"{UK} --tested 2023-02-29", "2023-02-29, which is no date"),
        ("mix", "--label-percent 32 --analysed-percent 32 --settings nowhere.toml", "nowhere.toml cannot be read"),
    ],
)
def test_refusals_have_status_two_and_say_what_to_do(name: str, options: str, said: str) -> None:
    found, output = run(name, options)
    assert (found, said in output) == (2, True), output


# Every option that takes a number; the numbers stand where one bad number is put in turn.
WHOLE = (
    ("gas", "--water-l 12 --pressure-bar 200 --temp-degc 20 --o2-percent 32"),
    ("gas", "--rated-cuft 80 --working-psi 3000 --pressure-psi 3000 --temp-degf 70"),
    ("breathing", f"{BREATHED} --lowest-bar 200 --temp-degc 20 --division-bar 10 --o2-percent 32"),
    ("leak", "--valve open --water-l 12 --division-bar 10 --o2-percent 32 --reading 0:200:20 --reading 5:200:20"),
    ("plan", "--diver ana:12:200:20 --depth-m 18 --bottom-min 25 --altitude-m 9 --deck-degc 20 --water-degc 20"),
    ("plan", "--diver ana:12:200 --depth-ft 59 --bottom-min 25 --o2-percent 32"),
    ("rate", "--water-l 12 --start-bar 200 --end-bar 50 --minutes 55 --mean-depth-m 12 --o2-percent 32"),
    ("mix", "--label-percent 32 --analysed-percent 32 --air-after-percent 20.9 --warmer-degc 5"),
    ("mix", "--label-percent 32 --analysed-percent 32 --depth-m 18 --minutes 9"),
    ("service", "--item regulator --serviced 2026-05-03 --today 2026-11-25 --dives 20"),
)
NUMBER = re.compile(r"(?<![\w.-])\d+(?:\.\d+)?(?![\w.-])")
ONE_BAD = [
    (name, f"{options[: number.start()]}{bad}{options[number.end() :]}")
    for name, options in WHOLE
    for number in NUMBER.finditer(options)
    for bad in ("-500", "nan", "1e9", *(("0", "2.1", "210") if options[: number.start()].endswith("percent ") else ()))
]


@pytest.mark.parametrize(("name", "options"), ONE_BAD, ids=[" ".join(row) for row in ONE_BAD])
def test_one_bad_number_among_good_ones_is_refused(name: str, options: str) -> None:
    """Negative, absurd, no number, and for oxygen also nothing, 2.1 and 210: what was understood, what is expected."""
    found, output = run(name, options)
    assert found == 2, output
    assert "understood as" in output or "is not a valid integer" in output


def test_the_good_numbers_are_good_and_every_number_is_tried() -> None:
    assert [run(name, options)[0] for name, options in WHOLE] == [0, 0, 0, 1, 0, 0, 0, 0, 0, 0]  # an open valve hides
    tried = {word for _, options in WHOLE for word in options.split() if word.startswith("--")}
    numbers = {o.opts[0] for c in COMMANDS for o in c.params if o.type in (click.FLOAT, click.INT)}
    assert numbers <= tried


@pytest.mark.parametrize(
    ("name", "options", "fields"),
    [
        ("gas", GAS, {"real_l", "ideal_l", "ideal_error_share", "real_error_share", "mass_kg"}),
        ("breathing", f"{BREATHED} --lowest-bar 200", {"needle", "expected_low_bar", "smallest_bar"}),
        ("leak", "--valve shut --reading 0:200 --reading 5:200", {"rate_bar_min", "bound_l_min", "wait_min"}),
        ("plan", "--diver ana:12:200 --depth-m 18 --bottom-min 25", {"reserve_bar", "turn_bar", "margin_l"}),
        ("mix", "--label-percent 32 --analysed-percent 32 --depth-m 30 --minutes 40", {"mod_m", "ead_m", "exposure"}),
        ("dates", f"{UK} --tested 03/2026", {"results", "rules", "worst", "parts"}),
    ],
)
def test_json(name: str, options: str, fields: set[str]) -> None:
    _, output = run(name, f"{options} --json")
    assert fields | {"passes", "reason", "caution"} <= json.loads(output).keys()


def test_a_picture_is_written(tmp_path: Path) -> None:
    target = tmp_path / "gas.svg"
    assert run("plan", f"--diver ana:12:200 --depth-m 18 --bottom-min 25 --svg {target}")[0] == 0
    assert target.read_text(encoding="utf-8").startswith("<svg")


def test_a_centres_settings_count(tmp_path: Path) -> None:
    own = tmp_path / "centre.toml"
    own.write_text("[mix]\nlabel_percent = 0.1\n", encoding="utf-8")
    assert run("mix", f"--label-percent 32 --analysed-percent 31.8 --settings {own}")[0] == 1


UNITS = {"bar", "psi", "l", "cuft", "degc", "degf", "m", "ft", "min", "minutes", "percent", "dives"}


def test_every_number_names_its_unit() -> None:
    bare = [
        f"{command.name} {option.name}"
        for command in COMMANDS
        for option in command.params
        if option.type in (click.FLOAT, click.INT) and (option.name or "").split("_")[-1] not in UNITS
    ]
    assert [command.name for command in COMMANDS] == list(NAMES)
    assert bare == []


def test_help_says_what_is_out_of_scope() -> None:
    assert "Buoyancy and weights are out of scope." in run("plan", "--help")[1]
