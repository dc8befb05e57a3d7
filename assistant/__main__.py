"""The command line. Each word is a file of assistant/commands; none needs the network."""

from __future__ import annotations

import importlib

import click

WORDS = {
    "check": "Lead one diver through the kit check.",
    "plan-day": "Take over the day's plan: trips, divers, kit, spares.",
    "group": "Lead the divers of a trip, in any order.",
    "demo": "Rehearse a whole check with a synthetic diver.",
    "hear": "Hear recorded files against one step or a phrase file.",
    "practise": "Say each answer three times; see what is heard well.",
    "log": "Show the record, or verify it.",
    "record": "Take the record out, bring one in, remove a diver's words.",
    "shop": "Show the record in a browser: the day, faults, repairs, what is due.",
    "sequence": "Judge a sequence file.",
    "device": "Test microphone, speaker, model, store, disk and clock.",
    "box": "Run as the box on the rail: test, say so, lead check after check.",
    "panel": "Try button and lights; draw their wiring.",
    "measure": "Measure speed and memory here, as one table to send back.",
    "backup": "Copy the record to a memory stick, checked.",
    "restore": "Put a copy in place of the record.",
    "share": "Give the record to the shop's machine.",
    "fetch": "Fetch the record from a box.",
    "wheels": "Make the folder that a box is installed from.",
    "gas": "Gas in a cylinder, real and ideal.",
    "breathing": "Judge a breathing test.",
    "leak": "Judge a leak test.",
    "plan": "Gas for a dive and the reserve for two sharing.",
    "rate": "A diver's breathing rate from a dive.",
    "mix": "Judge a mix against its label.",
    "dates": "Judge a cylinder's inspection dates.",
    "service": "Judge a service by the centre's interval.",
}


class Words(click.Group):
    """Loads a command's file only when it is called, so that --help answers at once."""

    def list_commands(self, context: click.Context) -> list[str]:
        """The words, in the order a newcomer needs them."""
        return list(WORDS)

    def format_commands(self, context: click.Context, formatter: click.HelpFormatter) -> None:
        """Each word with its whole sentence, from the table above; click would load every file and cut sentences."""
        with formatter.section("Commands"):
            formatter.write_dl(list(WORDS.items()))

    def get_command(self, context: click.Context, name: str) -> click.Command | None:
        """The command of that word, or None."""
        if name not in WORDS:
            return None
        word = name.replace("-", "_")
        found = getattr(importlib.import_module(f"assistant.commands.{word}"), word)
        assert isinstance(found, click.Command)
        return found


FIRST_STEPS = "First: kitcall device. Then: kitcall check. Each has its own --help, such as kitcall check --help."


@click.group(cls=Words, context_settings={"help_option_names": ["-h", "--help"]}, epilog=FIRST_STEPS)
@click.version_option(package_name="kitcall")
def main() -> None:
    """kitcall leads divers through the check of their rental kit by voice, offline.

    It supports a check and certifies nothing: local rules, makers' manuals and qualified people come first.
    Results of gas sums are advice to qualified people.
    """


if __name__ == "__main__":
    main(prog_name="kitcall")
