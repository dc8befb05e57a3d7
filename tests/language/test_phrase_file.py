"""Free phrase files: their own meanings and slots, a domain of millions of sentences, refusals by place."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from assistant.errors import GrammarError
from assistant.events import Care, Listening
from assistant.language.phrase_file import load_phrases
from assistant.language.phrases import spoken_words

SHARED = Path(__file__).resolve().parents[3] / "shared"


def heard(listening: Listening, said: str) -> tuple[str, Care, dict[str, str]] | None:
    match = listening.match(spoken_words(said))
    return (match.meaning, match.care, dict(match.slots)) if match else None


ORDERS = """
slots = ["size", "roast", "numberOfShots", "coffeeDrink", "milkAmount", "sugarAmount"]

[rules]
opening = "brew | can I get | can I have | I want | get me | give me | I'd like | make me | may I have"
size = "small | medium | large | (eight | twelve | sixteen | twenty) ounce"
roast = "(light | medium | dark) roast"
numberOfShots = "(single | double | triple) shot"
coffeeDrink = "americano | cappuccino | espresso | iced mocha | latte | mocha | [drip | house | iced] coffee"
amount = "a [little] bit of | some | a lot of | lots of"
milkAmount = "[$amount] ([skim | whole | soy | almond] milk | cream)"
sugarAmount = "[$amount] ([brown] sugar | sweetener)"
extra = "$milkAmount [and $sugarAmount] | $sugarAmount [and $milkAmount]"
sort = "$size | $roast | $numberOfShots"

[[phrase]]
means = "orderDrink"
phrases = ["$opening [a | an] $sort<0-3> $coffeeDrink [with $extra]"]
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "free.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_free_file_reports_its_own_meanings_and_slots(tmp_path: Path) -> None:
    orders = load_phrases(write(tmp_path, ORDERS))
    said = "can i get a large dark roast house coffee with a bit of soy milk and brown sugar"
    assert heard(orders, said) == (
        "orderDrink",
        Care.PLAIN,
        {"size": "large", "roast": "dark roast", "coffeeDrink": "house coffee", "milkAmount": "a bit of soy milk",
         "sugarAmount": "brown sugar"},
    )  # fmt: skip
    assert heard(orders, "can i get a coffee with") is None
    assert len(orders.phrases) < 1000


@pytest.mark.skipif(not (SHARED / "speech/orders/labels.csv").exists(), reason="no ../shared/speech/orders here")
def test_free_file_holds_every_slot_of_the_recorded_orders(tmp_path: Path) -> None:
    orders = load_phrases(write(tmp_path, ORDERS))
    with (SHARED / "speech/orders/labels.csv").open(encoding="utf-8") as labels:
        rows = [json.loads(row["slots"]) for row in csv.DictReader(labels)]
    assert [(slots, heard(orders, sentence(slots))) for slots in rows
            if heard(orders, sentence(slots)) != ("orderDrink", Care.PLAIN, slots)] == []  # fmt: skip


def sentence(slots: dict[str, str]) -> str:
    before = [slots[name] for name in ("size", "roast", "numberOfShots") if name in slots]
    after = " and ".join(slots[name] for name in ("milkAmount", "sugarAmount") if name in slots)
    return " ".join(["give me a", *before, slots["coffeeDrink"], f"with {after}" if after else ""])


FREE_REFUSALS = [
    ("slot unknown", 'slots = ["tea"]\n[[phrase]]\nmeans = "x"\nphrases = ["y"]', ': slots[0]: no rule "tea"'),
    ("care unknown", '[[phrase]]\nmeans = "x"\nphrases = ["y"]\ncare = "some"', ': phrase[0] "x".care: no care "some"'),
    ("no phrase", "phrase = []", ": phrase: "),
    ("notation", '[[phrase]]\nmeans = "x"\nphrases = ["y ("]', ":3: line 1, column 4: "),
    ("rule unknown", '[[phrase]]\nmeans = "x"\nphrases = ["$y"]', ":3: no rule $y"),
    ("two meanings", '[[phrase]]\nmeans = "x"\nphrases = ["y"]\n[[phrase]]\nmeans = "z"\nphrases = ["y"]',
     ': "y" would mean both x'),
    ("word unknown", '[[phrase]]\nmeans = "x"\nphrases = ["gribble"]', ':3: the recogniser does not know "gribble"'),
]  # fmt: skip


@pytest.mark.parametrize(("text", "message"), [row[1:] for row in FREE_REFUSALS], ids=[r[0] for r in FREE_REFUSALS])
def test_free_file_refusals(tmp_path: Path, text: str, message: str) -> None:
    path = write(tmp_path, text)
    with pytest.raises(GrammarError) as caught:
        load_phrases(path, lambda word: word != "gribble")
    assert str(caught.value).startswith(f"{path}{message}")
    assert caught.value.mend


def test_number_rules_may_be_used_in_a_free_file(tmp_path: Path) -> None:
    free = load_phrases(write(tmp_path, 'slots = ["number"]\n[[phrase]]\nmeans = "kit"\nphrases = ["kit $number"]'))
    assert heard(free, "kit one four") == ("kit", Care.PLAIN, {"number": "one four"})
