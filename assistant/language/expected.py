"""What may be heard at each moment of one check: the session's Expects in, a Listening out. The latest are kept."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from assistant.check.steps import Check
from assistant.check.turns import Expects
from assistant.errors import BadInput
from assistant.events import Listening
from assistant.language import listening
from assistant.language.commands import Commands
from assistant.language.decoys import Decoys, Find
from assistant.language.fillers import fillers, fillers_beside_figures
from assistant.language.numbers import read
from assistant.language.soundalikes import find_soundalikes

KEPT = 4  # listenings; each is 1 to 6 MB, and a tenth of a second or more to build again


class Expected:
    """The listenings of one check. `knows`: does the recogniser's model have a word; `find`: what sounds alike.

    Raises GrammarError when a phrase of the check would mean two things.
    """

    def __init__(
        self,
        check: Check,
        commands: Commands,
        knows: Callable[[str], bool],
        find: Find = find_soundalikes,
        kept: int = KEPT,
    ) -> None:
        self.check, self._commands = check, commands
        self._decoys = Decoys(check, commands, knows, find)
        self._built: dict[tuple[str, str], Listening] = {}  # the latest last
        self._kept = kept

    def at(self, expects: Expects) -> Listening:
        """What may be heard now."""
        key = (expects.kind, expects.step_id if expects.kind in ("step", "confirm") else "")
        built = self._built.pop(key, None)
        while self._built and len(self._built) >= self._kept:  # before another is built, so that both never stand
            del self._built[next(iter(self._built))]
        self._built[key] = built or self._build(*key)
        return self._built[key]

    def for_step(self, step_id: str) -> Listening:
        """What may be heard while that step is asked; BadInput when the check has no such step."""
        if step_id not in {step.id for step in self.check.steps}:
            known = ", ".join(step.id for step in self.check.steps)
            raise BadInput(f'the check "{self.check.id}" has no step "{step_id}"', f"Its steps are: {known}.")
        return self.at(Expects("step", step_id))

    def _build(self, kind: str, step_id: str) -> Listening:
        check, commands = self.check, self._commands
        if kind == "step":
            step = check.step(step_id)
            decoys, rivals = self._decoys.negated(step), self._decoys.rivals(step)
            return listening.for_step(check, step, commands, decoys, rivals, self._decoys.fillers(step))
        if kind == "confirm" and step_id:
            return listening.for_confirm(check, commands, fillers(check.language), check.step(step_id))
        build = {
            "start": listening.for_start,
            "replacement": listening.for_replacement,
            "number": listening.for_number,
            "confirm": listening.for_confirm,
            "waiting": listening.for_waiting,
            "nothing": listening.for_closed,
            "group": listening.for_group,
        }
        beside = fillers_beside_figures if kind in ("replacement", "number") else fillers
        return build[kind](check, commands, beside(check.language))


def value_of(kind: str, words: str) -> tuple[float, tuple[float, ...]]:
    """A spoken number's value, and what else it could have been; raises BadInput for words that are no number.

    Not bounded here: what a number may be, and with which words it is refused, is the step's business.
    """
    spoken = read(words, kind, -inf, inf)
    return spoken.value, spoken.ambiguous
