"""kitcall device: is this machine fit to lead a check? One line and one remedy for each part, spoken if wanted."""

from __future__ import annotations

import sys
from dataclasses import asdict

import click
from rich.table import Table

from assistant.commands.options import (
    console,
    json_option,
    microphone_option,
    model_option,
    print_json,
    refusing,
    sequence_option,
    speaker_option,
    store_option,
)
from assistant.fitness import Finding, Gear, look
from assistant.language.box import BoxWords, shipped_box_words
from assistant.places import voice_cache
from audio.play import Speaker
from audio.voice import Voice


@click.command()
@microphone_option
@speaker_option
@click.option("--aloud", is_flag=True, help="Say the result too.")
@click.option("--no-sound", is_flag=True, help="Leave microphone and speaker out; for a machine without them.")
@sequence_option
@model_option
@store_option
@json_option
@refusing
def device(
    microphone: str | None, speaker: str | None, aloud: bool, no_sound: bool, sequence: str | None,
    model_path: str | None, store: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Test supply, temperature, clock, disk, model, record, hearing, microphone and speaker.

    Plays three tones and listens for them. Exit status 1 when a part is not fit.
    """
    findings = list(look(Gear(microphone, speaker, model_path, store, sequence, not no_sound)))
    if as_json:
        print_json([asdict(each) for each in findings])
    else:
        console().print(table_of(findings))
    if aloud:
        with Voice(folder=voice_cache()) as own, Speaker(speaker) as out:
            for line in spoken(findings, shipped_box_words()):
                out.play(*own.render(line))
    sys.exit(0 if all(each.fit for each in findings) else 1)


def table_of(findings: list[Finding]) -> Table:
    """The findings as a table for people."""
    table = Table("part", "", "found", "what to do")
    for each in findings:
        table.add_row(each.part, "fit" if each.fit else "NOT FIT", each.found, each.mend)
    return table


def spoken(findings: list[Finding], words: BoxWords) -> list[str]:
    """What to say: that everything works, or of each trouble what is wrong and what to do."""
    troubles = [words.troubles[each.trouble] for each in findings if not each.fit]
    return [words.say("unfit", say=each.say, do=each.do) for each in troubles] or [words.say("fit")]
