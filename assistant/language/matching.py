"""Matching: is a word string, as a whole, one of many phrases, and may it still become one?

The phrases together become one automaton, made deterministic as it is walked, so that asking costs
a dictionary look-up for each word: the ear asks every 100 ms. Nothing is written out, so phrases that
stand for millions of strings cost no more. Rules are put in where they are used; circular ones are refused.
"""

from __future__ import annotations

from array import array
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from assistant.errors import PhraseError
from assistant.language.nodes import Choice, Node, Repeat, Rule, Rules, Token, Words, check_rules, look_up
from assistant.language.nodes import Sequence as Parts
from assistant.language.slots import fill

STATES_LIMIT = 50_000
STATE = "I"  # a state's number in an array


@dataclass(slots=True)
class _Arcs:
    """One state of the automaton as built: silent moves and moves by a word."""

    silent: tuple[int, ...] = ()  # tuples, since there are thousands of states and nearly all have one move
    by_word: tuple[tuple[str, int], ...] = ()


@dataclass(slots=True)
class Stand:
    """A place where words have led: which phrases end here, and to which place each next word leads."""

    ends: tuple[int, ...]  # indexes of the phrases that are complete here, in order
    nexts: dict[str, int]


class Matcher:
    """All phrases of one listening, asked together.

    phrases: the Nodes, in order of preference; rules: those that they use.
    Raises PhraseError for unknown or circular rules, and for phrases with too many states.
    """

    def __init__(self, phrases: Sequence[Node], rules: Rules) -> None:
        check_rules(rules)
        self._phrases, self._rules = tuple(phrases), rules
        self._arcs: list[_Arcs] = []
        self._owners = [0]  # the phrase of each state; the start, the first of them, is everybody's
        # some states together are a place; these in order, as bytes, which take a tenth of a set's memory
        self._places: dict[bytes, int] = {}
        self._stands: dict[int, Stand] = {}  # by place
        self._states: list[bytes] = []  # by place
        self._phrases_at: list[frozenset[int]] = []  # by place: those that lead through it or end there
        self._same: dict[frozenset[int], frozenset[int]] = {}  # one object for each set of phrases
        start = self._add()
        self._ends: dict[int, int] = {}
        for index, phrase in enumerate(self._phrases):
            self._ends[self._build(phrase, start)] = index
            self._owners += [index] * (len(self._arcs) - len(self._owners))
        self._start = self._closure({start})

    def match(self, words: Words) -> int | None:
        """The index of the first phrase that these words are as a whole, else None. No words match nothing."""
        stand = self._walk(words)
        return stand.ends[0] if words and stand and stand.ends else None

    @property
    def may_be_silence(self) -> tuple[int, ...]:
        """The phrases that no words at all would satisfy."""
        return self._stand(self._start).ends

    def ahead(self, words: Words) -> frozenset[int]:
        """The indexes of the phrases that begin with these words and are longer."""
        stand = self._walk(words)
        places = stand.nexts.values() if stand else ()
        return frozenset().union(*(self._phrases_at[place] for place in places))

    def follows(self, words: Words) -> frozenset[str]:
        """The words that may come next."""
        stand = self._walk(words)
        return frozenset(stand.nexts) if stand else frozenset()

    def slots(self, index: int, words: Words) -> dict[str, str]:
        """What the rules of phrase `index` took, as slots.fill gives it."""
        return fill(self._phrases[index], words, self._rules)

    def clashes(self) -> Iterator[tuple[Words, tuple[int, ...]]]:
        """Word strings that are several phrases at once, the shortest for each such set of phrases."""
        seen: set[tuple[int, ...]] = set()
        for words, stand in self._tour():
            if len(stand.ends) > 1 and stand.ends not in seen:
                seen.add(stand.ends)
                yield words, stand.ends

    def cover(self, strolls: int = 400) -> list[Words]:
        """A short list of whole phrases in which every two words that may follow each other do, and every
        first and last word is first and last.

        The recogniser builds a model of word pairs from its list, so this list lets it hear every phrase; and
        because each word is followed by each of its next words in turn, none is made unlikely by being listed
        late. strolls: the most phrases taken in turn before the pairs still missing are added one by one.
        The same phrases always give the same list.
        """
        whole: dict[Words, None] = {}
        pairs: set[tuple[str, str]] = set()
        turns: dict[int, int] = {}
        for _ in range(strolls):
            whole[self._stroll(turns)] = None
        for words in whole:
            pairs |= _pairs(words)
        for words in self._shortest_covers():
            if not _pairs(words) <= pairs:
                pairs |= _pairs(words)
                whole[words] = None
        return [words for words in whole if words]

    def _stroll(self, turns: dict[int, int]) -> Words:
        """One phrase; wherever a choice stands, the next option in turn."""
        words: Words = ()
        stand = self._stand(self._start)
        while True:
            ways = list(stand.nexts.items())
            turn = turns.get(id(stand), 0)
            turns[id(stand)] = turn + 1
            way = turn % (len(ways) + bool(stand.ends)) if ways or stand.ends else 0
            if way >= len(ways):
                return words
            words, stand = (*words, ways[way][0]), self._stand(ways[way][1])

    def _shortest_covers(self) -> Iterator[Words]:
        """For every two moves that may follow each other a short phrase that makes both."""
        stands = list(self._tour())
        tails = self._tails([stand for _, stand in stands])
        for words, stand in stands:
            for word, target in stand.nexts.items():
                after = self._stand(target)
                if after.ends:
                    yield (*words, word)
                for each, to in after.nexts.items():
                    yield (*words, word, each, *tails[id(self._stand(to))])

    def _tour(self) -> Iterator[tuple[Words, Stand]]:
        """Every stand that can be reached, nearest first, with the first shortest words that lead there."""
        queue: deque[tuple[Words, int]] = deque([((), self._start)])
        seen = {self._start}
        while queue:
            words, place = queue.popleft()
            stand = self._stand(place)
            yield words, stand
            for word, target in stand.nexts.items():
                if target not in seen:
                    seen.add(target)
                    queue.append(((*words, word), target))
        # every stand has been drawn from them: they would only fill memory
        self._arcs, self._owners, self._places, self._states, self._same = [], [], {}, [], {}

    def _tails(self, stands: list[Stand]) -> dict[int, Words]:
        """For each stand the first shortest words that end a phrase from there."""
        tails: dict[int, Words] = {id(stand): () for stand in stands if stand.ends}
        while len(tails) < len(stands):
            found: dict[int, Words] = {}
            for stand in stands:
                if id(stand) not in tails:
                    for word, target in stand.nexts.items():
                        tail = tails.get(id(self._stand(target)))
                        if tail is not None and id(stand) not in found:
                            found[id(stand)] = (word, *tail)
            if not found:
                break  # there is no phrase at all
            tails.update(found)
        return tails

    def _walk(self, words: Words) -> Stand | None:
        stand = self._stand(self._start)
        for word in words:
            target = stand.nexts.get(word)
            if target is None:
                return None
            stand = self._stand(target)
        return stand

    def _stand(self, place: int) -> Stand:
        stand = self._stands.get(place)
        if stand is None:
            stand = self._stands[place] = self._look(self._states[place])
        return stand

    def _look(self, together: bytes) -> Stand:
        moves: dict[str, set[int]] = {}
        states = array(STATE, together)
        for state in states:
            for word, target in self._arcs[state].by_word:
                moves.setdefault(word, set()).add(target)
        ends = tuple(sorted(self._ends[state] for state in states if state in self._ends))
        return Stand(ends, {word: self._closure(targets) for word, targets in moves.items()})

    def _closure(self, states: Iterable[int]) -> int:
        open_states, closed = list(states), set(states)
        while open_states:
            for target in self._arcs[open_states.pop()].silent:
                if target not in closed:
                    closed.add(target)
                    open_states.append(target)
        together = array(STATE, sorted(closed)).tobytes()
        if together not in self._places:
            self._places[together] = len(self._states)
            self._states.append(together)
            phrases = frozenset(self._owners[state] for state in closed)
            self._phrases_at.append(self._same.setdefault(phrases, phrases))
        return self._places[together]

    def _add(self) -> int:
        if len(self._arcs) >= STATES_LIMIT:
            raise PhraseError("these phrases are too large to listen for", "Use fewer or shorter repeats.")
        self._arcs.append(_Arcs())
        return len(self._arcs) - 1

    def _build(self, node: Node, start: int) -> int:
        """Adds the node's states after `start`; gives the state where it ends."""
        match node:
            case Token(word):
                end = self._add()
                self._arcs[start].by_word += ((word, end),)
                return end
            case Rule(name):
                return self._build(look_up(name, self._rules), start)
            case Parts(parts):
                for part in parts:
                    start = self._build(part, start)
                return self._pass(start)
            case Choice(options):
                end = self._add()
                for option in options:
                    self._arcs[self._build(option, self._pass(start))].silent += (end,)
                return end
            case Repeat(part, low, high):
                return self._build_repeat(part, low, high, start)

    def _build_repeat(self, part: Node, low: int, high: int | None, start: int) -> int:
        for _ in range(low):
            start = self._build(part, start)
        end = self._add()
        start = self._pass(start)
        self._arcs[start].silent += (end,)
        if high is None:
            self._arcs[self._build(part, start)].silent += (start,)
        for _ in range(low, high or 0):
            start = self._pass(self._build(part, start))
            self._arcs[start].silent += (end,)
        return end

    def _pass(self, start: int) -> int:
        """A fresh state reached in silence, so that a loop or an end never touches what came before."""
        fresh = self._add()
        self._arcs[start].silent += (fresh,)
        return fresh


def _pairs(words: Words) -> set[tuple[str, str]]:
    return set(zip(("<", *words), (*words, ">"), strict=True))
