"""The transcript on the screen: who says what, as it happens. Reads well without colour."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.markup import escape

from assistant.check.steps import Check
from assistant.check.turns import Fact, Record
from assistant.events import Broken, Doubted, Heard, Silent

WHO_WIDTH = 10


class Transcript:
    """Prints lines such as `diver     inflator sticks` to a console."""

    def __init__(self, console: Console, check: Check) -> None:
        self._console, self._check = console, check

    def line(self, who: str, text: str, style: str = "") -> None:
        """One line of the transcript."""
        label = f"{who:<{WHO_WIDTH}}"
        self._console.print(f"[bold]{label}[/bold] [{style or 'default'}]{escape(text)}[/]", highlight=False)

    def said(self, text: str) -> None:
        """kitcall speaks."""
        self.line("kitcall", text)

    def spoken(self, text: str) -> None:
        """What somebody says, before anything was heard (the rehearsal knows it)."""
        self.line("diver", text, "cyan")

    def heard(self, fact: Fact) -> None:
        """What the ear made of it."""
        match fact:
            case Heard():
                delay_s = fact.evidence.decided_s - (fact.evidence.speech_end_s or fact.evidence.decided_s)
                after = f"  ({delay_s:.2f} s after the voice)" if fact.evidence.decided_s else ""
                self.line("  heard", f'"{fact.match.text}"{after}', "dim")
            case Doubted():
                text = f' "{fact.text}"' if fact.text else ""
                self.line("  unclear", f"{fact.why.value}{text}", "dim")
            case Silent():
                if fact.waited_s:
                    self.line("  silence", f"{fact.waited_s:.0f} s", "dim")
            case Broken():
                self.line("  broken", f"{fact.part}: {fact.problem}", "bold")

    def recorded(self, records: Sequence[Record]) -> None:
        """What went into the record."""
        for record in records:
            text = self._words(record)
            if text:
                self.line("  record", text, "green" if record.facts.get("outcome") == "passed" else "yellow")

    def _words(self, record: Record) -> str:
        facts = record.facts
        name = self._check.step(str(facts["step"])).name if facts.get("step") else ""
        match record.kind:
            case "answered":
                return f"{name}: {facts['outcome']}" + (f" ({facts['code']})" if facts.get("code") else "")
            case "set_apart":
                return f"set apart: {self._check.item(str(facts['item'])).name} {facts.get('number') or 'unmarked'}"
            case "replaced":
                return f"replaced: {self._check.item(str(facts['item'])).name} {facts.get('new') or 'unmarked'}"
            case "withdrawn" | "left_open":
                return f"{record.kind.replace('_', ' ')}: {name}"
            case "verdict_given":
                return f"verdict: {facts['verdict']}"
        return ""
