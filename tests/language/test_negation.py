"""Negated forms: rows of what people say who mean the opposite, and laws of the builder."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.language.negation import Kind, negations

# No published source: the ways of negating named in the findings of trials with everyday speech.
FORMS = [
    ("needle is steady", "needle isn't steady", Kind.CONTRACTED),
    ("needle is steady", "needle is unsteady", Kind.PREFIXED),
    ("needle is steady", "needle is not steady", Kind.INSERTED),
    ("still and steady", "still unsteady", Kind.PREFIXED),
    ("adds gas and stops", "adds gas and doesn't stop", Kind.CONTRACTED),
    ("adds gas and stops", "adds gas but won't stop", Kind.CONTRACTED),
    ("adds gas and stops", "adds gas and never stops", Kind.INSERTED),
    ("opens and closes", "opens and does not close", Kind.CONTRACTED),
    ("purged and stopped", "purged and didn't stop", Kind.CONTRACTED),
    ("strap carries", "strap doesn't carry", Kind.CONTRACTED),
    ("all hoses look sound", "not all hoses look sound", Kind.INSERTED),
    ("all hoses look sound", "no hoses look sound", Kind.EXCHANGED),
    ("all hoses look sound", "all hoses look unsound", Kind.PREFIXED),
    ("all hoses look sound", "all hoses look sound except one", Kind.APPENDED),
    ("both purge and stop", "neither purge and stop", Kind.EXCHANGED),
    ("stamp in date", "stamp out of date", Kind.EXCHANGED),
    ("battery full and charged", "battery full discharged", Kind.PREFIXED),
    ("adds gas and stops", "adds gas and sticks", Kind.OPPOSITE),
    ("date stamp good", "date stamp no good", Kind.OPPOSITE),
    ("no cuts", "know cuts", Kind.EXCHANGED),
    ("no cuts", "cuts", Kind.EXCHANGED),
    ("unbroken seal", "broken seal", Kind.PREFIXED),
]


@pytest.mark.parametrize(("phrase", "form", "kind"), FORMS, ids=[row[1].replace(" ", "_") for row in FORMS])
def test_a_form_is_built_with_its_kind(phrase: str, form: str, kind: Kind) -> None:
    assert (tuple(form.split()), kind) in list(negations(tuple(phrase.split()), lambda word: True))


def test_every_form_of_a_short_phrase() -> None:
    known = {"holds", "hold", "not", "won't", "un", "except", "one"}
    assert [(" ".join(words), str(kind)) for words, kind in negations(("holds",), known.__contains__)] == [
        ("won't hold", "contracted"),
        ("not holds", "inserted"),
        ("won't holds", "inserted"),
        ("holds not", "appended"),
        ("holds except one", "appended"),
    ]


WORDS = st.sampled_from(["all", "hoses", "is", "and", "steady", "no", "never", "stops", "unclean", "gas", "in"])


@given(st.lists(WORDS, min_size=1, max_size=6).map(tuple), st.sets(WORDS))
def test_forms_are_new_single_and_known(phrase: tuple[str, ...], unknown: set[str]) -> None:
    forms = [form for form, _kind in negations(phrase, lambda word: word not in unknown)]
    assert phrase not in forms
    assert len(forms) == len(set(forms))
    assert not [form for form in forms if unknown & set(form)]


@pytest.mark.parametrize(
    ("phrase", "never"),
    [
        ("still all quiet", "still no quiet"),
        ("still all quiet", "still all unquiet"),
        ("adds gas", "adds doesn't ga"),
        ("one hundred bar", "one hundred unbar"),
    ],
    ids=["no_before_an_adjective", "no_word_of_today", "gas_is_no_verb", "another_meaning"],
)
def test_what_nobody_means_is_not_built(phrase: str, never: str) -> None:
    assert tuple(never.split()) not in {form for form, _kind in negations(tuple(phrase.split()), lambda word: True)}
