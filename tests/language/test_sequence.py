"""Sequence files: the shipped one as it is read, and one row for every refusal with its place and mend."""

from __future__ import annotations

import hashlib
from importlib.resources import files
from pathlib import Path

import pytest

from assistant.check.steps import Fault, Item, Number, Reading, Remedy, Step
from assistant.errors import GrammarError
from assistant.language.sequence import load

RENTAL = Path(str(files("grammars") / "en/checks/rental.toml"))

SMALL = """[check]
id = "small"
title = "A small check"
language = "en"
valid_minutes = 90
caution = "Certifies nothing."
closing = "Enjoy."
start = ["start [the] check"]

[rules]
tank = "tank | cylinder"

[[item]]
id = "tank"
name = "cylinder"

[[item]]
id = "jacket"
name = "jacket"

[[step]]
id = "band"
name = "Band"
item = "jacket"
also = ["tank"]
critical = true
prompt = "Lift it and look."
explain = "It must not slip."
pass = ["$tank firm in band"]
examples = ["tank firm, in band", "it slips"]

[[step.fault]]
code = "slips"
name = "band slips"
item = "tank"
phrases = ["[it] slips", "$tank slips"]
say = "Tighten it."
remedy = "repeat"

[[step]]
id = "pressure"
name = "Pressure"
item = "tank"
critical = true
absent = true
after = ["band"]
prompt = "Read the pressure."
explain = "Under the needle."
examples = ["one ninety bar", "too low"]

[step.reading]
judge = "starting_pressure"
phrases = ["$pressure bar"]
number = [{ name = "pressure", kind = "pressure", low = 1, high = 330 }]
faults = { low = "low" }

[[step.fault]]
code = "low"
name = "pressure low"
phrases = ["too low"]
say = "Take a full one."
remedy = "swap"
"""


def knows_all(word: str) -> bool:
    return True


def write(folder: Path, text: str) -> Path:
    path = folder / "small.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_small_file_as_read(tmp_path: Path) -> None:
    path = write(tmp_path, SMALL)
    check = load(path, knows_all)
    assert (check.id, check.title, check.language, check.valid_s) == ("small", "A small check", "en", 5400.0)
    assert (check.caution, check.closing, check.start) == ("Certifies nothing.", "Enjoy.", ("start [the] check",))
    assert check.digest == hashlib.sha256(path.read_bytes()).hexdigest()
    assert check.items == (Item("tank", "cylinder"), Item("jacket", "jacket"))
    assert check.rules == {"tank": "tank | cylinder"}
    assert check.steps == (
        Step(
            id="band", name="Band", item="jacket", touches=("jacket", "tank"), prompt="Lift it and look.",
            explain="It must not slip.", critical=True, may_be_absent=False, after=(), passes=("$tank firm in band",),
            faults=(Fault("slips", "band slips", "tank", ("[it] slips", "$tank slips"), "Tighten it.", Remedy.REPEAT),),
            examples=("tank firm, in band", "it slips"),
        ),
        Step(
            id="pressure", name="Pressure", item="tank", touches=("tank",), prompt="Read the pressure.",
            explain="Under the needle.", critical=True, may_be_absent=True, after=("band",), passes=(),
            faults=(Fault("low", "pressure low", "tank", ("too low",), "Take a full one.", Remedy.SWAP),),
            examples=("one ninety bar", "too low"),
            reading=Reading("starting_pressure", ("$pressure bar",), (Number("pressure", "pressure", "bar", 1, 330),),
                            {"low": "low"}),
        ),
    )  # fmt: skip


# name, text to replace, replacement, what the message says after the file's name, a part of the mend
REFUSALS = [
    ("toml broken", 'title = "A small check"', "title = A small check", ":3: not TOML", "quotation marks"),
    ("key unknown", "absent = true", "abssent = true", ': step[1] "pressure".abssent: is no key', "spelling"),
    ("key missing", 'prompt = "Lift it and look."\n', "", ': step[0] "band".prompt: is missing', "Add it"),
    ("wrong type", "critical = true\nprompt", 'critical = "yes"\nprompt', ': step[0] "band".critical: ', "right"),
    ("number as text", "low = 1,", 'low = "1",', ': step[1] "pressure".reading.number[0].low: ', "right"),
    ("no validity", "valid_minutes = 90", "valid_minutes = 0", ": check.valid_minutes: ", "right"),
    ("step twice", 'id = "pressure"', 'id = "band"', ': step[1] "band": "band" is there twice', "another name"),
    ("item twice", 'id = "jacket"', 'id = "tank"', ': item[1] "tank": "tank" is there twice', "another name"),
    ("item unknown", 'item = "jacket"', 'item = "coat"', ': step[0] "band".item: no item "coat"', "tank, jacket"),
    ("also unknown", 'also = ["tank"]', 'also = ["fin"]', ': step[0] "band".item: no item "fin"', "tank, jacket"),
    ("fault item unknown", 'item = "tank"\nphrases', 'item = "hat"\nphrases',
     ': step[0] "band".fault[0] "slips".item: no item "hat"', "tank, jacket"),
    ("after unknown", 'after = ["band"]', 'after = ["bend"]', ': step[1] "pressure".after: no step "bend"', "band"),
    ("after itself", 'after = ["band"]', 'after = ["pressure"]',
     ': step[1] "pressure".after: can never be reached', "pressure"),
    ("after in a circle", 'also = ["tank"]', 'also = ["tank"]\nafter = ["pressure"]',
     ': step[0] "band".after: can never be reached', "band, pressure"),
    ("no instruction", 'say = "Tighten it."', 'say = " "',
     ': step[0] "band".fault[0] "slips".say: a fault without an instruction', "what the diver does"),
    ("remedy unknown", 'remedy = "repeat"', 'remedy = "mend"',
     ': step[0] "band".fault[0] "slips".remedy: no remedy "mend"', "swap, repeat, hold"),
    ("no pass", 'pass = ["$tank firm in band"]', "pass = []", ': step[0] "band".pass: a step that nothing', "phrase"),
    ("no fault phrase", 'phrases = ["too low"]', "phrases = []", ': step[1] "pressure".fault[0] "low".phrases: ', "r"),
    ("kind unknown", 'kind = "pressure"', 'kind = "force"',
     ': step[1] "pressure".reading.number[0].kind: no kind of number "force"', "pressure, pressure_psi"),
    ("number twice", 'high = 330 }', 'high = 330 }, { name = "pressure", kind = "pressure", low = 1, high = 9 }',
     ': step[1] "pressure".reading.number[1]: "pressure" is there twice', "another name"),
    ("fault of a finding unknown", 'faults = { low = "low" }', 'faults = { low = "empty" }',
     ': step[1] "pressure".reading.faults.low: no fault "empty"', "low"),
    ("bounds out of order", "low = 1,", "low = 340,", ': step[1] "pressure".reading.number[0]: low is above', "lowest"),
    ("first reading unknown", 'faults = {', 'since = "band"\nfaults = {',
     ': step[1] "pressure".reading.since: no reading of a step in after, "band"', "Add it"),
    ("phrase without its number", '["$pressure bar"]', '["$pressure bar", "enough"]',
     ': step[1] "pressure".reading.phrases: "enough" holds no number', "$pressure"),
    ("pass without its number", 'examples = ["one', 'pass = ["enough"]\nexamples = ["one',
     ': step[1] "pressure".pass: "enough" holds no number', "$pressure"),
    ("nothing passes", 'faults = { low = "low" }', "needed = false", ': step[1] "pressure".pass: a step that nothing',
     "phrase"),
    ("notation", '"[it] slips"', '"[it slips"', ":36: line 1, column 10: expected ']'", "Close the option"),
    ("notation of a rule", "tank | cylinder", "tank |", ":11: line 1, column 7: nothing stands", "[ ]"),
    ("rule unknown", '"$tank slips"', '"$bottle slips"', ":36: no rule $bottle", "$tank"),
    ("rule in a circle", "tank | cylinder", "tank | $tank", ": rules: a rule uses itself: $tank -> $tank", "repeat"),
    ("number rule redefined", "tank = ", "digit = ", ": rules.digit: is the name of a number rule", "another name"),
    ("example is no pass", "tank firm, in band", "tank is firm",
     ': step[0] "band".examples[0]: "tank is firm" is no pass', "pass phrases"),
    ("example is no fault", '"it slips"]', '"tank firm in band"]',
     ': step[0] "band".examples[1]: "tank firm in band" is no fault', "fault phrases"),
    ("one example", '["one ninety bar", "too low"]', '["one ninety bar"]', ': step[1] "pressure".examples: ', "right"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "message", "mend"), [r[1:] for r in REFUSALS], ids=[r[0] for r in REFUSALS])
def test_refusals(tmp_path: Path, old: str, new: str, message: str, mend: str) -> None:
    assert SMALL.count(old) == 1 or "item = " in old or "id = " in old
    path = write(tmp_path, SMALL.replace(old, new, 1))
    with pytest.raises(GrammarError) as caught:
        load(path, knows_all)
    assert str(caught.value).removeprefix(str(path)).startswith(message), str(caught.value)
    assert mend in caught.value.mend


def test_all_words_the_model_lacks_are_named_at_once(tmp_path: Path) -> None:
    path = write(tmp_path, SMALL.replace("[it] slips", "[ferrule] slips").replace("too low", "bcd"))
    with pytest.raises(GrammarError) as caught:
        load(path, lambda word: word not in ("ferrule", "bcd"))
    assert str(caught.value) == f'{path}:49: the recogniser does not know "bcd", "ferrule"'
    assert "b c d" in caught.value.mend


def test_number_words_are_asked_of_the_model_too(tmp_path: Path) -> None:
    with pytest.raises(GrammarError, match='does not know "oh"'):
        load(write(tmp_path, SMALL), lambda word: word != "oh")


def test_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(GrammarError, match="cannot be read") as caught:
        load(tmp_path / "none.toml", knows_all)
    assert caught.value.where == str(tmp_path / "none.toml")


def test_file_that_is_not_text(tmp_path: Path) -> None:
    path = tmp_path / "latin.toml"
    path.write_bytes(b"[check]\nid = \"\xe9\"\n")
    with pytest.raises(GrammarError, match=r"latin\.toml:2: not UTF-8"):
        load(path, knows_all)


def test_shipped_sequence_is_whole() -> None:
    check = load(RENTAL, knows_all)
    assert [item.id for item in check.items] == [
        "cylinder", "regulator", "jacket", "mask", "fins", "weights", "computer", "marker",
    ]  # fmt: skip
    assert {item for step in check.steps for item in step.touches} == {item.id for item in check.items}
    order = [step.id for step in check.steps]
    assert all(order.index(need) < at for at, step in enumerate(check.steps) for need in step.after)
