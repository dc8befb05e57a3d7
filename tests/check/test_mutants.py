"""Each rule of the conversation broken on purpose, one at a time: the exploration must notice.

A mutant that the exploration lets through is a rule that nothing guards.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import pytest

from assistant.check import (
    answers,
    corrections,
    doubts,
    meaning,
    moves,
    progress,
    readings,
    replacements,
    swaps,
    verdict,
)
from assistant.check.draft import Draft, ask_next
from assistant.check.meaning import Said
from assistant.check.steps import Check
from assistant.check.table import TABLE, Row, Sign, State
from assistant.events import Match

Patch = pytest.MonkeyPatch


def swap_asks_nothing_again(patch: Patch) -> None:
    patch.setattr(swaps, "reopened", lambda check, item, faulted=(): ())


def swap_forgets_what_else_it_touches(patch: Patch) -> None:
    def own_steps(check: Check, item: str, faulted: Any = ()) -> tuple[str, ...]:
        return tuple(step.id for step in check.steps if step.item == item)

    patch.setattr(swaps, "reopened", own_steps)


def swap_takes_what_was_set_apart(patch: Patch) -> None:
    patch.setattr(swaps, "refused", lambda apart, item, number: False)


def steps_of_a_missing_item_are_asked(patch: Patch) -> None:
    patch.setattr(swaps, "worn", lambda step, off: True)


def steps_are_asked_before_what_they_stand_on(patch: Patch) -> None:
    patch.setattr(progress, "askable", lambda now, step, needs: swaps.worn(step, now.off))


def verdict_forgets_swaps(patch: Patch) -> None:
    patch.setattr(verdict, "predates", lambda step, standing, place: False)


def verdict_never_grows_old(patch: Patch) -> None:
    patch.setattr(verdict, "fresh", lambda at_s, valid_s, now_s: at_s <= now_s)


def verdict_believes_the_future(patch: Patch) -> None:
    patch.setattr(verdict, "fresh", lambda at_s, valid_s, now_s: now_s - at_s <= valid_s)


def verdict_takes_faults(patch: Patch) -> None:
    patch.setattr(verdict, "passing", lambda step, record: True)


def verdict_forgets_withdrawals(patch: Patch) -> None:
    patch.setattr(verdict, "strike", lambda live, facts: None)


def verdict_is_always_ready(patch: Patch) -> None:
    patch.setattr(verdict, "judge_step", lambda step, standing, valid_s, now_s: None)


def bookkeeping_forgets_withdrawals(patch: Patch) -> None:
    patch.setitem(progress.UNDO, "answered", lambda now, facts: now)


def bookkeeping_forgets_a_swap_taken_back(patch: Patch) -> None:
    patch.setitem(progress.UNDO, "replaced", lambda now, facts: now)


def crash_forgets_the_awaited_replacement(patch: Patch) -> None:
    def without_pending(check: Check, now: Any, facts: Any, at_s: float) -> Any:
        return replace(now, pending=None)

    patch.setitem(progress.CHANGES, "continued", without_pending)


def doubt_passes(patch: Patch) -> None:
    patch.setitem(moves.MOVES, "doubt", answers.take_pass)


def third_doubt_passes(patch: Patch) -> None:
    def pass_it(draft: Draft) -> None:
        draft.add("answered", step=draft.step.id, outcome="passed", heard="", by="voice")
        ask_next(draft)

    patch.setattr(doubts, "give_up", pass_it)


def silence_passes(patch: Patch) -> None:
    patch.setitem(moves.MOVES, "silence", answers.take_pass)


def silence_names_a_replacement(patch: Patch) -> None:
    def unmarked_or_asked(draft: Draft) -> None:
        if draft.progress.pending:
            replacements.replace_item(draft, None)
        else:
            doubts.silence(draft)

    patch.setitem(moves.MOVES, "silence", unmarked_or_asked)


def decoy_passes(patch: Patch) -> None:
    true = meaning.read_match

    def deaf_to_not(match: Match, by: str) -> Said:
        return Said(Sign.PASSED, by=by) if match.meaning.startswith("doubt") else true(match, by)

    patch.setattr(meaning, "read_match", deaf_to_not)


def pause_takes_answers(patch: Patch) -> None:
    row = Row(State.WAITING, Sign.PASSED, (State.ASKING, State.CLOSED), "take_pass")
    patch.setitem(TABLE, (State.WAITING, Sign.PASSED), row)


def absent_closes_any_step(patch: Patch) -> None:
    patch.setattr(answers, "may_be_absent", lambda step: True)


def no_spare_counts_as_a_swap(patch: Patch) -> None:
    patch.setitem(moves.MOVES, "take_no_spare", lambda draft: replacements.replace_item(draft, None))


def fault_sets_nothing_apart(patch: Patch) -> None:
    true: Callable[..., None] = Draft.add

    def but_not_apart(draft: Draft, kind: str, **facts: Any) -> None:
        if kind != "set_apart":
            true(draft, kind, **facts)

    patch.setattr(Draft, "add", but_not_apart)


def fault_passes(patch: Patch) -> None:
    patch.setitem(moves.MOVES, "take_fault", answers.take_pass)


def correct_leaves_the_item_apart(patch: Patch) -> None:
    def half(draft: Draft) -> None:
        if draft.progress.pending is not None:
            corrections.withdraw_answer(draft, draft.progress.pending.step)

    patch.setitem(moves.MOVES, "take_back_fault", half)


def bad_reading_passes(patch: Patch) -> None:
    patch.setattr(readings, "is_good", lambda judged: True)


def only_bad_readings_fail(patch: Patch) -> None:
    patch.setattr(readings, "is_good", lambda judged: judged.outcome != "bad")


def early_reading_passes(patch: Patch) -> None:
    patch.setattr(readings, "is_good", lambda judged: judged.outcome in ("good", "later"))


def finding_without_a_fault_passes(patch: Patch) -> None:
    patch.setattr(readings, "is_good", lambda judged: judged.finding != "low")


def odd_reading_is_taken(patch: Patch) -> None:
    patch.setattr(readings, "plausible", lambda number, value: True)


def unclear_reading_is_guessed(patch: Patch) -> None:
    patch.setattr(readings, "unclear", lambda others: False)


def refused_reading_passes(patch: Patch) -> None:
    true = readings.refuse_answer

    def take(draft: Draft, key: str, *rest: Any, **names: Any) -> None:
        if key == "reading_refused":
            ask_next(draft_with_pass(draft))
        else:
            true(draft, key, *rest, **names)

    patch.setattr(readings, "refuse_answer", take)


def agreed_reading_passes_unjudged(patch: Patch) -> None:
    patch.setitem(moves.MOVES, "agree", lambda draft: ask_next(draft_with_pass(draft)))


def second_reading_forgets_the_first(patch: Patch) -> None:
    patch.setattr(readings, "earlier", lambda draft, reading: None)


def draft_with_pass(draft: Draft) -> Draft:
    draft.add("answered", step=draft.step.id, outcome="passed", judged="good", settings="5e7", heard="", by="voice")
    return draft


def unclear_item_number_is_guessed(patch: Patch) -> None:
    patch.setattr(replacements, "unclear", lambda others: False)


def bare_pass_answers_a_reading(patch: Patch) -> None:
    def take(draft: Draft) -> None:
        draft.add("answered", step=draft.step.id, outcome="passed", heard="", by="voice")
        ask_next(draft)

    patch.setitem(moves.MOVES, "take_pass", take)


def half_heard_pass_is_taken(patch: Patch) -> None:
    patch.setitem(moves.MOVES, "take_pass", answers.pass_step)


def half_heard_fault_is_taken(patch: Patch) -> None:
    def take(draft: Draft) -> None:
        codes = {fault.code for fault in draft.step.faults}
        answers.note_fault(draft, draft.said.code) if draft.said.code in codes else doubts.doubt(draft)

    patch.setitem(moves.MOVES, "take_fault", take)


def half_heard_not_fitted_is_taken(patch: Patch) -> None:
    def take(draft: Draft) -> None:
        (answers.close_absent if draft.step.may_be_absent else doubts.doubt)(draft)

    patch.setitem(moves.MOVES, "take_absent", take)


def undenied_fault_is_forgotten(patch: Patch) -> None:
    patch.setattr(answers, "is_undenied", lambda draft: False)


def agreed_fault_passes(patch: Patch) -> None:
    patch.setattr(replacements, "note_read_back", answers.pass_step)


def denied_pass_passes(patch: Patch) -> None:
    patch.setitem(moves.MOVES, "deny", replacements.agree)


MUTANTS: tuple[tuple[Callable[[Patch], None], str], ...] = (
    (swap_asks_nothing_again, "talk"),
    (swap_forgets_what_else_it_touches, "talk"),
    (swap_takes_what_was_set_apart, "numbers"),
    (steps_of_a_missing_item_are_asked, "talk"),
    (steps_are_asked_before_what_they_stand_on, "talk"),
    (verdict_forgets_swaps, "talk"),
    (verdict_never_grows_old, "times"),
    (verdict_believes_the_future, "times"),
    (verdict_takes_faults, "talk"),
    (verdict_forgets_withdrawals, "talk"),
    (verdict_is_always_ready, "numbers"),
    (bookkeeping_forgets_withdrawals, "talk"),
    (bookkeeping_forgets_a_swap_taken_back, "numbers"),
    (crash_forgets_the_awaited_replacement, "numbers"),
    (doubt_passes, "numbers"),
    (third_doubt_passes, "talk"),
    (silence_passes, "pauses"),
    (silence_names_a_replacement, "numbers"),
    (decoy_passes, "talk"),
    (pause_takes_answers, "pauses"),
    (absent_closes_any_step, "talk"),
    (no_spare_counts_as_a_swap, "talk"),
    (fault_sets_nothing_apart, "talk"),
    (fault_passes, "talk"),
    (correct_leaves_the_item_apart, "talk"),
    (bad_reading_passes, "readings"),
    (only_bad_readings_fail, "readings"),
    (finding_without_a_fault_passes, "readings"),
    (refused_reading_passes, "readings"),
    (agreed_reading_passes_unjudged, "readings"),
    (second_reading_forgets_the_first, "leaks"),
    (early_reading_passes, "leaks"),
    (odd_reading_is_taken, "readings"),
    (unclear_reading_is_guessed, "readings"),
    (unclear_item_number_is_guessed, "numbers"),
    (bare_pass_answers_a_reading, "readings"),
    (half_heard_pass_is_taken, "numbers"),
    (half_heard_fault_is_taken, "halves"),
    (half_heard_not_fitted_is_taken, "halves"),
    (agreed_fault_passes, "halves"),
    (undenied_fault_is_forgotten, "halves"),
    (denied_pass_passes, "numbers"),
)


@pytest.mark.parametrize(("mutate", "name"), MUTANTS, ids=[mutate.__name__ for mutate, _ in MUTANTS])
def test_exploration_notices(
    mutate: Callable[[Patch], None], name: str, explorers: Mapping[str, Any], violated: type[Exception],
    monkeypatch: Patch,
) -> None:  # fmt: skip
    mutate(monkeypatch)
    with pytest.raises(violated) as caught:
        explorers[name].explore(limit=10000)
    assert isinstance(caught.value.__cause__, AssertionError), f"it broke instead of being noticed: {caught.value}"
