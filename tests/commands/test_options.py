"""Options that a service's settings may give: the environment names microphone and speaker, the command line wins."""

from __future__ import annotations

import click
import pytest
from click.testing import CliRunner

from assistant.commands.options import microphone_option, speaker_option


@click.command()
@microphone_option
@speaker_option
def told(microphone: str | None, speaker: str | None) -> None:
    click.echo(f"{microphone} {speaker}")


@pytest.mark.parametrize(
    ("words", "settings", "names"),
    [
        ([], {}, "None None"),
        ([], {"KITCALL_MICROPHONE": "USB", "KITCALL_SPEAKER": "I2S"}, "USB I2S"),
        (["--microphone", "mic"], {"KITCALL_MICROPHONE": "USB"}, "mic None"),
    ],
)
def test_microphone_and_speaker_by_name(words: list[str], settings: dict[str, str], names: str) -> None:
    assert CliRunner().invoke(told, words, env=settings).output == f"{names}\n"
