"""Listening for the group between checks: one fact, a plain yes, and who or what was meant. Keeps nothing."""

from __future__ import annotations

from assistant.app import Parts
from assistant.boat_words import BoatWords
from assistant.check.roster import Roster
from assistant.check.steps import Check, Item
from assistant.check.turns import Expects, Fact, Taken
from assistant.errors import BadInput, MicrophoneLost
from assistant.events import Heard, Match, Silent
from assistant.language.expected import value_of
from assistant.language.group import DIVER, ITEM
from assistant.language.phrases import spoken_words

CONFIRM_S = 20.0
TIMES = 2  # a question is asked so often; then nothing is done


class Talk:
    """What is asked and understood outside a check."""

    def __init__(self, parts: Parts, words: BoatWords) -> None:
        self._parts, self._words = parts, words

    def listen(self, expects: Expects) -> Fact:
        """The next fact; a microphone that is gone is waited for. Raises AudioError when it stays away."""
        try:
            return self._parts.hear(expects)
        except MicrophoneLost as problem:
            self._parts.wait_for_microphone(problem)
            return Silent(0.0)

    def confirm(self, line: str) -> bool:
        """Ask before something that would be wrong if misheard; only a plain yes counts."""
        for _ in range(TIMES):
            self._parts.say(line)
            fact = self.listen(Expects("confirm", window_s=CONFIRM_S))
            self._parts.witness.heard(fact)
            meaning = fact.match.meaning if isinstance(fact, Heard) else ""
            if meaning == "yes":
                return True
            if meaning == "no":
                break
        self._say("kept")
        return False

    def identify(self, match: Match, roster: Roster) -> int:
        """The place of the diver named; 0, after saying why, when that is nobody or could be two."""
        places = {diver.name.lower(): diver.place for diver in roster.divers.values()}
        said = match.slots[DIVER]
        if said in places:
            return places[said]
        value, others = value_of("number", said)
        name, *alike = (str(int(each)) for each in (value, *others))
        if name not in places:
            self._say("unknown_diver", diver=self._words.diver(name))
            return 0
        for other in alike:
            if other in places:
                self._say("two_divers", diver=self._words.diver(name), other=self._words.diver(other))
                return 0
        return places[name]

    def agree(self, match: Match, diver: str) -> bool:
        """Whether the diver named stands: read back where another reads nearly as well."""
        return not match.is_unsure or self.confirm(self._words.line("diver_sure", diver=self._words.diver(diver)))

    def item(self, match: Match, check: Check) -> str:
        """The id of the item named; an empty string when all kit was meant."""
        said = match.slots.get(ITEM, "")
        return next((item.id for item in check.items if " ".join(spoken_words(item.name)) == said), "")

    def number(self, match: Match, item: Item, taken: Taken) -> str:
        """The number of a free item, read back where it could be another; an empty string after saying why not."""
        try:
            value, others = value_of("number", match.slots["number"])
        except BadInput:
            self._say("gap_number")
            return ""
        number = str(int(value))
        named = self._words.item(item.id, number)
        if (others or match.is_unsure) and not self.confirm(self._parts.replies.say("confirm", reading=named)):
            return ""
        holder = taken.get((item.id, number))
        if holder is None:
            return number
        if holder:
            self._say("gap_taken", holder=holder, item=named)
        else:
            self._say("gap_apart", item=named)
        return ""

    def _say(self, key: str, **names: object) -> None:
        self._parts.say(self._words.line(key, **names))
