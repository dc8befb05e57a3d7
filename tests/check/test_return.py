"""A return check after the dive: a fault sets its item apart for the shop, nothing replaces it, READY is never said.

And what another diver has, or what is set apart elsewhere, cannot be a replacement.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import pytest

from assistant.check.session import Session
from assistant.check.steps import Check, Remedy
from assistant.check.turns import Record

Opener = Callable[[Check], Session]


@pytest.fixture
def back(kits: Mapping[str, Check]) -> Check:
    """The reduced sequence as a return check: every fault is for the shop."""
    steps = tuple(
        replace(step, touches=step.touches[:1], after=(),
                faults=tuple(replace(fault, remedy=Remedy.SHOP) for fault in step.faults))
        for step in kits["swaps"].steps
    )  # fmt: skip
    return replace(kits["swaps"], steps=steps, after_dive=True)


def lead(session: Session, facts: Mapping[str, Any], names: Sequence[str], **options: Any) -> list[Record]:
    """Run the named facts; gives all records."""
    records: list[Record] = []
    for name in names:
        turn = session.decide(facts[name], 0.0, **options)
        records += turn.records
        for record in turn.records:
            session.apply(record, 0.0)
    return records


def of(records: Sequence[Record], *kinds: str) -> list[tuple[str, Any]]:
    keys = ("item", "step", "verdict", "new", "because")
    return [(r.kind, " ".join(str(r.facts[k]) for k in keys if r.facts.get(k))) for r in records if r.kind in kinds]


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        (("start", "pass", "pass", "pass"), [("verdict_given", "sound")]),
        (("start", "cut", "pass", "pass"), [("set_apart", "set hoses"), ("verdict_given", "faulty")]),
        (
            ("start", "pass", "sticks", "stiff"),
            [("set_apart", "jacket inflator"), ("verdict_given", "faulty")],
        ),
        (("start", "cut", "command correct", "pass", "pass", "pass"),
         [("set_apart", "set hoses"), ("withdrawn", "set hoses correct"), ("verdict_given", "sound")]),
    ],
    ids=["nothing wrong", "set apart, no replacement asked", "one item twice is set apart once", "taken back"],
)  # fmt: skip
def test_a_return_check(
    back: Check, facts: Mapping[str, Any], open_session: Opener, names: tuple[str, ...], expected: list[Any]
) -> None:
    if names[2] == "sticks":  # the dump's item stays askable, so that its fault comes while the jacket is apart
        back = replace(back, steps=(*back.steps[:2], replace(back.steps[2], item="set", touches=("set",))))
    session = open_session(back)
    records = lead(session, facts, names)
    assert of(records, "set_apart", "withdrawn", "no_spare", "replaced", "verdict_given") == expected
    assert "replacement" not in [r.facts.get("what") for r in records if r.kind == "asked"]


@pytest.mark.parametrize(
    ("taken", "expected"),
    [
        ({}, [("replaced", "set 2")]),
        ({("set", "2"): "three"}, []),
        ({("set", "2"): ""}, []),
        ({("jacket", "2"): "three"}, [("replaced", "set 2")]),
    ],
    ids=["free", "on another diver", "set apart elsewhere", "another item of that number"],
)
def test_what_is_taken_is_no_replacement(
    kits: Mapping[str, Check], facts: Mapping[str, Any], open_session: Opener, taken: Any, expected: list[Any]
) -> None:
    session = open_session(kits["swaps"])
    records = lead(session, facts, ("start", "cut", "swapped two"), taken=taken)
    assert of(records, "replaced") == expected
    assert session.expects.kind == ("step" if expected else "replacement")
