"""kitcall sequence: is this sequence file fit for a check?"""

from __future__ import annotations

import sys

import click

from assistant.commands.options import console, json_option, model_option, print_json, refusing
from assistant.judges import refuse_unjudged
from assistant.language.checker import judge
from assistant.language.sequence import load
from assistant.places import sequence_path
from audio import model
from audio.recognise import Recogniser


@click.command()
@click.argument("file", required=False)
@model_option
@json_option
@refusing
def sequence(file: str | None, model_path: str | None, as_json: bool) -> None:
    """Judge a sequence FILE (the shipped one when none is named).

    Refuses what could be misheard or never ends, with place and what to do, and shows the pairs of phrases that
    sound most alike. Exit status 1 when it is refused. To make your own, copy the shipped file, change it, judge
    it here, then run: kitcall check --sequence FILE.
    """
    path, knows = sequence_path(file), Recogniser(model.find(model_path)).knows
    report = judge(path, knows)
    refuse_unjudged(load(path, knows))
    if as_json:
        print_json(report.to_dict())
    else:
        for remark in (*report.refusals, *report.warnings):
            console().print(str(remark), markup=False, highlight=False)
        console().print(report.closest())
        console().print("This sequence is fit to use." if report.sound else "This sequence is refused.")
    sys.exit(0 if report.sound else 1)
