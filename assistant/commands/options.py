"""Options that several commands share, and how they end: refusals as sentences, JSON where a program reads."""

from __future__ import annotations

import functools
import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

import click
from rich.console import Console

from assistant.check.steps import Check
from assistant.errors import KitcallError
from assistant.language.commands import Commands, shipped_commands
from assistant.language.expected import Expected
from assistant.language.sequence import load
from assistant.language.soundalikes import keep_soundalikes
from assistant.places import sequence_path, soundalikes_folder
from audio import model
from audio.recognise import Recogniser

Command = TypeVar("Command", bound=Callable[..., Any])

sequence_option = click.option(
    "--sequence", "sequence", metavar="FILE", help="Sequence file to use instead of the shipped one."
)
model_option = click.option(
    "--model", "model_path", metavar="PATH", help="The recogniser's model: a folder or an archive."
)
microphone_option = click.option(
    "--microphone", metavar="NAME", envvar="KITCALL_MICROPHONE", help="Microphone, by its name or a part of it."
)
speaker_option = click.option(
    "--speaker", metavar="NAME", envvar="KITCALL_SPEAKER", help="Speaker, by its name or a part of it."
)
store_option = click.option("--store", metavar="FILE", help="The record to use instead of the one in the data folder.")
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")


@dataclass(frozen=True, slots=True)
class Loaded:
    """A check with the recogniser that can hear it."""

    check: Check
    recogniser: Recogniser
    expected: Expected


def load_check(sequence: str | None, model_path: str | None) -> Loaded:
    """The model and the sequence, or the refusal of one of them."""
    recogniser = Recogniser(model.find(model_path))
    check = load(sequence_path(sequence), recogniser.knows)
    return make_ready(check, recogniser, shipped_commands())


def make_ready(check: Check, recogniser: Recogniser, commands: Commands) -> Loaded:
    """A check and its commands, with what sounds alike kept in kitcall's data folder."""
    find = functools.partial(keep_soundalikes, folder=soundalikes_folder(), language=check.language)
    return Loaded(check, recogniser, Expected(check, commands, recogniser.knows, find))


def console() -> Console:
    """The screen, without wrapping by guessed widths when it is a file or a pipe."""
    return Console(soft_wrap=True)


def print_json(value: object) -> None:
    """One JSON value on one line."""
    click.echo(json.dumps(value, ensure_ascii=False, default=str))


def refusing(command: Command) -> Command:
    """Turns kitcall's errors into two sentences on the error output and exit status 2."""

    @functools.wraps(command)
    def run(*args: Any, **kwargs: Any) -> Any:
        try:
            return command(*args, **kwargs)
        except KitcallError as problem:
            click.echo(f"kitcall: {problem}", err=True)
            if problem.mend:
                click.echo(f"         {problem.mend}", err=True)
            sys.exit(2)

    return run  # type: ignore[return-value]
