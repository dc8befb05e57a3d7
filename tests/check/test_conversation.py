"""What is recorded and said, turn by turn, for each rule of the conversation: whole lists compared.

The replies here are their own keys with what fills them, so that wording stays free.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest

from assistant.check.session import Session
from assistant.check.steps import Check
from assistant.check.turns import Judged, Record, Start
from assistant.errors import BadInput, GrammarError, UnknownTurn
from assistant.events import Doubted, Why

Kits = Mapping[str, Check]
Facts = Mapping[str, Any]
Opener = Callable[..., Session]
Told = list[tuple[tuple[str, ...], tuple[str, ...]]]
FIRST = ("Caution.", "Hoses?")
ENOUGH, LOW = "Starting_pressure_enough", "Starting_pressure_low"
JACKET, SET = "ask_replacement another jacket", "ask_replacement another regulator set"


def brief(record: Record) -> str:
    """A record as one word group: its kind and what it is about."""
    facts = record.facts
    keys = ("what", "outcome", "step", "code", "item", "old", "new", "number", "value", "why", "because", "clip",
            "verdict")  # fmt: skip
    about = [f"{facts[k]}" for k in keys if facts.get(k) not in (None, "")]
    about += [f"{value}" for value in facts.get("numbers", {}).values() if "value" not in facts]
    return " ".join([record.kind, *about])


@pytest.fixture
def talk(kits: Kits, facts: Facts, open_session: Opener) -> Callable[..., Told]:
    """Runs named facts on a reduced kit; gives records and words of each turn."""

    def run(kit: str, names: Sequence[str], now_s: float = 0.0) -> Told:
        session, told = open_session(kits[kit]), []
        for name in names:
            turn = session.decide(facts[name], now_s)
            for record in turn.records:
                session.apply(record, now_s)
            told.append((tuple(brief(r) for r in turn.records), turn.say))
        return told

    return run


START = "start"
ROWS: dict[str, tuple[str, tuple[str, ...], Told]] = {
    "a critical pass is echoed, the next step asked": (
        "swaps", (START, "pass"),
        [(("answered passed hoses", "asked step inflator jacket"), ("passed Hoses", "Inflator?"))],
    ),
    "a pass that was half heard is read back, and counts with a yes, in the words it was heard in": (
        "swaps", (START, "half pass", "yes"),
        [(("asked confirm hoses set pass",), ("confirm_pass Hoses",)),
         (("answered passed hoses", "asked step inflator jacket"), ("passed Hoses", "Inflator?"))],
    ),
    "without the yes it counts for nothing": (
        "swaps", (START, "half pass", "no"),
        [(("asked confirm hoses set pass",), ("confirm_pass Hoses",)),
         (("asked step hoses set denied",), ("denied_pass Hoses?",))],
    ),
    "what else is said then is a doubt, and at the third the step is left open": (
        "swaps", (START, "half pass", "pass", "doubt", "command absent"),
        [(("doubted confirm hoses set out_of_place", "asked confirm hoses set pass doubt"),
          ("out_of_place confirm_pass Hoses",)),
         (("doubted confirm hoses set no_phrase", "asked confirm hoses set pass doubt"),
          ("no_phrase", "confirm_pass Hoses")),
         (("doubted confirm hoses set out_of_place", "left_open hoses not_understood", "asked step dump jacket"),
          ("left_open", "Dump?"))],
    ),
    "a fault said then is taken: nobody has to say no before it": (
        "swaps", (START, "half pass", "cut"),
        [(("answered fault hoses cut", "set_apart hoses cut set 1", "asked replacement hoses set"),
          ("noted_fault cut Mend cut.", SET))],
    ),
    "a fault that was half heard is read back, and counts with a yes": (
        "swaps", (START, "half cut", "yes"),
        [(("asked confirm hoses set fault cut",), ("confirm_fault cut",)),
         (("answered fault hoses cut", "set_apart hoses cut set 1", "asked replacement hoses set"),
          ("noted_fault cut Mend cut.", SET))],
    ),
    "without the yes it is none": (
        "swaps", (START, "half cut", "no", "pass"),
        [(("asked step hoses set denied",), ("denied_pass Hoses?",)),
         (("answered passed hoses", "asked step inflator jacket"), ("passed Hoses", "Inflator?"))],
    ),
    "nor is a silence, or a pass, which is a doubt there": (
        "swaps", (START, "half cut", "silence", "pass"),
        [(("asked confirm hoses set fault cut silence",), ("silent confirm_fault cut",)),
         (("doubted confirm hoses set out_of_place", "asked confirm hoses set fault cut doubt"),
          ("out_of_place confirm_fault cut",))],
    ),
    "a third doubt takes it for said: a wrong fault costs less than a lost one": (
        "swaps", (START, "half cut", "doubt", "doubt", "doubt"),
        [(("doubted confirm hoses set no_phrase", "answered fault hoses cut", "set_apart hoses cut set 1",
           "asked replacement hoses set"), ("noted_fault cut Mend cut.", SET))],
    ),
    "undenied, no pass counts without a yes, not after a pause either": (
        "swaps", (START, "half cut", "command wait", "command carry_on", "pass", "yes"),
        [(("asked confirm hoses set pass",), ("confirm_pass Hoses",)),
         (("answered passed hoses", "asked step inflator jacket"), ("passed Hoses", "Inflator?"))],
    ),
    "not fitted that was half heard is read back, and counts with a yes": (
        "swaps", (START, "pass", "pass", "half absent", "yes"),
        [(("asked confirm dump jacket command absent",), ("confirm_absent Dump",)),
         (("answered absent dump", "verdict_given ready"), ("absent Dump", "verdict_ready 3", "Closing."))],
    ),
    "a fault of a needed reading too": (
        "readings", (START, "half low", "yes"),
        [(("asked confirm pressure set fault low",), ("confirm_fault low",)),
         (("answered fault pressure low", "set_apart pressure low set 1", "asked replacement pressure set"),
          ("noted_fault low Mend low.", SET))],
    ),
    "after a pause it is asked anew: a yes counts only right after the reading back": (
        "swaps", (START, "half pass", "command wait", "command carry_on", "yes"),
        [(("resumed", "asked step hoses set carry_on"), ("carrying_on Hoses?",)),
         (("doubted step hoses set out_of_place", "asked step hoses set doubt"), ("out_of_place Hoses?",))],
    ),
    "so is a number, which a pause makes old": (
        "readings", (START, "read alike", "command wait", "command carry_on"),
        [(("resumed", "asked step pressure set carry_on"), ("carrying_on Pressure?",))],
    ),
    "and what a note came between": (
        "swaps", (START, "half pass", "command note", "note kept", "yes"),
        [(("noted hoses set " + "c" * 64, "asked step hoses set note"), ("note_kept Hoses?",)),
         (("doubted step hoses set out_of_place", "asked step hoses set doubt"), ("out_of_place Hoses?",))],
    ),
    "a plain pass is not echoed, READY has the closing words": (
        "swaps", (START, "pass", "pass", "pass"),
        [(("answered passed dump", "verdict_given ready"), ("verdict_ready 3", "Closing."))],
    ),
    "not fitted closes where it may": (
        "swaps", (START, "pass", "pass", "command absent"),
        [(("answered absent dump", "verdict_given ready"), ("absent Dump", "verdict_ready 3", "Closing."))],
    ),
    "not fitted is refused elsewhere": (
        "swaps", (START, "command absent"),
        [(("doubted step hoses set cannot_be_absent", "asked step hoses set doubt"), ("cannot_be_absent Hoses?",))],
    ),
    "a fault is recorded and its item set apart at once": (
        "swaps", (START, "pass", "sticks"),
        [(("answered fault inflator sticks", "set_apart inflator sticks jacket 1", "asked replacement inflator jacket"),
          ("noted_fault sticks Mend sticks.", JACKET))],
    ),
    "swapped with its number asks from the first step touched": (
        "swaps", (START, "pass", "sticks", "swapped two"),
        [(("replaced jacket 1 2", "asked step inflator jacket"), ("replaced jacket 2", "Inflator?"))],
    ),
    "swapped without a number asks for it": (
        "swaps", (START, "cut", "swapped", "unmarked"),
        [(("asked number set",), ("ask_number",)),
         (("replaced set 1", "asked step hoses set"), ("replaced_unmarked regulator set", "Hoses?"))],
    ),
    "a number set apart is refused": (
        "swaps", (START, "cut", "swapped two", "cut", "swapped two"),
        [(("asked replacement hoses set refused",), ("same_again regulator set 2 another regulator set", SET))],
    ),
    "an unclear number is read back, no asks again": (
        "swaps", (START, "cut", "swapped three", "no"),
        [(("asked confirm set 3",), ("confirm regulator set 3",)),
         (("asked number set denied",), ("denied", "ask_number"))],
    ),
    "no spare: the rest is asked, then HOLD without closing words": (
        "swaps", (START, "pass", "sticks", "no spare"),
        [(("no_spare jacket", "verdict_given hold"),
          ("no_spare", "verdict_hold reason_fault_critical Inflator sticks, reason_no_spare jacket, reason_open Dump",
           "set_apart_list jacket 1"))],
    ),
    "a fault put right in place asks the step again": (
        "swaps", (START, "pass", "loose"),
        [(("answered fault inflator loose", "asked step inflator jacket fault"),
          ("noted_fault loose Mend loose.", "Inflator?"))],
    ),
    "the third time in a row it is the item": (
        "swaps", (START, "pass", "loose", "loose", "loose"),
        [(("answered fault inflator loose", "set_apart inflator loose jacket 1", "asked replacement inflator jacket"),
          ("noted_fault loose Mend loose.", "third_time jacket another jacket", JACKET))],
    ),
    "a fault that nothing mends stays, and holds": (
        "swaps", (START, "pass", "pass", "stiff"),
        [(("answered fault dump stiff", "verdict_given hold"),
          ("noted_fault stiff Mend stiff.", "verdict_hold reason_fault Dump stiff"))],
    ),
    "doubts: examples, other words, left open": (
        "swaps", (START, "doubt", "doubt", "doubt"),
        [(("doubted step hoses set no_phrase", "asked step hoses set doubt"),
          ("not_understood_1 hoses good hoses bad",)),
         (("doubted step hoses set no_phrase", "asked step hoses set doubt"),
          ("not_understood_2 hoses good hoses bad",)),
         (("doubted step hoses set no_phrase", "left_open hoses not_understood", "asked step dump jacket"),
          ("left_open", "Dump?"))],
    ),
    "a negation is no pass": (
        "swaps", (START, "decoy"),
        [(("doubted step hoses set negated", "asked step hoses set doubt"),
          ("known_wrong", "not_understood_1 hoses good hoses bad"))],
    ),
    "too early has its own words": (
        "swaps", (START, "early"),
        [(("doubted step hoses set early", "asked step hoses set doubt"), ("early", "Hoses?"))],
    ),
    "what is out of place is a doubt": (
        "swaps", (START, "unmarked"),
        [(("doubted step hoses set out_of_place", "asked step hoses set doubt"), ("out_of_place Hoses?",))],
    ),
    "left open is come back to, once, then HOLD": (
        "swaps", (START, "command leave_open", "pass", "command leave_open"),
        [(("left_open hoses asked", "asked step dump jacket"), ("left_open", "Dump?")),
         (("answered passed dump", "asked step hoses set"), ("coming_back", "Hoses?")),
         (("left_open hoses asked", "verdict_given hold"),
          ("left_open_last", "verdict_hold reason_open_critical Hoses, reason_open_critical Inflator"))],
    ),
    "doubt never names a replacement": (
        "swaps", (START, "cut", "doubt", "doubt", "doubt", "command carry_on"),
        [(("doubted replacement hoses set no_phrase", "paused not_understood"), ("waiting",)),
         (("resumed", "asked replacement hoses set carry_on"), ("carrying_on ask_replacement another regulator set",))],
    ),
    "silence: asked again, then waiting": (
        "swaps", (START, "silence", "silence", "pass", "command carry_on"),
        [(("asked step hoses set silence",), ("silent Hoses?",)),
         (("paused silence",), ("silent_waiting",)),
         ((), ("waiting",)),
         (("resumed", "asked step hoses set carry_on"), ("carrying_on Hoses?",))],
    ),
    "wait and carry on": (
        "swaps", (START, "command wait", "doubt", "command carry_on"),
        [(("paused asked",), ("waiting",)),
         ((), ()),
         (("resumed", "asked step hoses set carry_on"), ("carrying_on Hoses?",))],
    ),
    "repeat": (
        "swaps", (START, "command repeat"),
        [(("asked step hoses set repeat",), ("Hoses?",))],
    ),
    "explain": (
        "swaps", (START, "command explain"),
        [(("asked step hoses set explain",), ("About hoses.",))],
    ),
    "explain an awaited swap": (
        "swaps", (START, "cut", "command explain"),
        [(("asked replacement hoses set explain",), ("Mend cut.", SET))],
    ),
    "where": (
        "swaps", (START, "pass", "command where"),
        [(("asked step inflator jacket where",), ("where 2 3 Inflator 2", "Inflator?"))],
    ),
    "go back reopens the step answered last": (
        "swaps", (START, "pass", "command back"),
        [(("withdrawn answered hoses go_back", "asked step hoses set go_back"), ("went_back Hoses Hoses?",))],
    ),
    "go back at the first step": (
        "swaps", (START, "command back"),
        [(("asked step hoses set repeat",), ("at_first_step Hoses?",))],
    ),
    "correct withdraws a pass": (
        "swaps", (START, "pass", "command correct", "command correct"),
        [(("withdrawn answered hoses correct", "asked step hoses set correct"), ("corrected Hoses?",)),
         (("asked step hoses set repeat",), ("nothing_to_correct Hoses?",))],
    ),
    "correct withdraws a fault with what it set apart": (
        "swaps", (START, "cut", "command correct"),
        [(("withdrawn answered hoses set correct", "asked step hoses set correct"),
          ("corrected_fault regulator set Hoses?",))],
    ),
    "correct takes back a replacement, then the fault": (
        "swaps", (START, "cut", "swapped two", "command correct", "command correct"),
        [(("withdrawn replaced set correct", "asked replacement hoses set correct"),
          ("corrected ask_replacement another regulator set",)),
         (("withdrawn answered hoses set correct", "asked step hoses set correct"),
          ("corrected_fault regulator set Hoses?",))],
    ),
    "correct takes back a missing spare": (
        "swaps", (START, "cut", "no spare", "command correct"),
        [(("withdrawn no_spare set correct", "asked replacement hoses set correct"),
          ("corrected ask_replacement another regulator set",))],
    ),
    "correct reopens a verdict": (
        "swaps", (START, "pass", "pass", "pass", "command correct"),
        [(("withdrawn answered dump correct", "asked step dump jacket correct"), ("corrected Dump?",))],
    ),
    "stop is a HOLD, and can be taken back": (
        "swaps", (START, "pass", "command stop", "command correct"),
        [(("stopped", "verdict_given hold"),
          ("stopped", "verdict_hold reason_open_critical Inflator, reason_open Dump, reason_stopped")),
         (("withdrawn stopped correct", "asked step inflator jacket correct"), ("corrected Inflator?",))],
    ),
    "a note is kept with the step": (
        "swaps", (START, "command note", "note kept"),
        [(("asked note hoses set note",), ("note_speak",)),
         ((f"noted hoses set {'c' * 64}", "asked step hoses set note"), ("note_kept Hoses?",))],
    ),
    "an empty note": (
        "swaps", (START, "command note", "silence"),
        [(("asked step hoses set note",), ("note_empty Hoses?",))],
    ),
    "a broken part pauses without a word": (
        "swaps", (START, "broken"),
        [(("paused broken",), ())],
    ),
    "after a crash: said, and asked again": (
        "swaps", (START, "pass", "crash"),
        [(("continued", "asked step inflator jacket continued"), ("resumed Inflator", "Inflator?"))],
    ),
    "after a crash a replacement is awaited again": (
        "swaps", (START, "cut", "swapped", "crash"),
        [(("continued", "asked replacement hoses set continued"), ("resumed regulator set", SET))],
    ),
    "a reading is read back with its reason": (
        "readings", (START, "read good"),
        [(("answered passed pressure 200.0", "verdict_given ready"),
          (f"{ENOUGH} 200 bar 50 bar", "passed Pressure", "verdict_ready 1", "Closing."))],
    ),
    "a low reading is its fault, with its reason": (
        "readings", (START, "read low"),
        [(("answered fault pressure low 20.0", "set_apart pressure low set 1", "asked replacement pressure set"),
          (f"judged_fault {LOW} 20 bar 50 bar Mend low.", SET))],
    ),
    "a reading that cannot be is asked again": (
        "readings", (START, "read odd"),
        [(("doubted step pressure set reading_odd", "asked step pressure set doubt"),
          ("reading_odd 999 bar 0 bar 330 bar", "Pressure?"))],
    ),
    "a reading that could be in another unit is asked again with that unit": (
        "units", (START, "read odd"),
        [(("doubted step pressure set reading_unit", "asked step pressure set doubt"),
          ("reading_unit 999 bar 0 bar 330 bar 999 psi", "Pressure?"))],
    ),
    "a reading that its judge refuses is asked again, with why": (
        "readings", (START, "read refused"),
        [(("doubted step pressure set reading_refused", "asked step pressure set doubt"),
          ("reading_refused 90 bar Start was understood as lower. Say them again.", "Pressure?"))],
    ),
    "a reading that its judge wants again is asked again, with why": (
        "readings", (START, "read again"),
        [(("doubted step pressure set judged_again", "asked step pressure set doubt"),
          (f"judged_again {LOW} 100 bar 50 bar", "Pressure?"))],
    ),
    "a finding without a fault is asked again": (
        "readings", (START, "read strange"),
        [(("doubted step pressure set judged_again", "asked step pressure set doubt"),
          ("judged_again Starting_pressure_high 310 bar 50 bar", "Pressure?"))],
    ),
    "an unclear reading is read back before it counts": (
        "readings", (START, "read alike", "yes"),
        [(("asked confirm pressure set 150.0",), ("confirm 150 bar",)),
         (("answered passed pressure 150.0", "verdict_given ready"),
          (f"{ENOUGH} 150 bar 50 bar", "passed Pressure", "verdict_ready 1", "Closing."))],
    ),
    "a reading that the ear was unsure of is read back before it counts": (
        "readings", (START, "read unsure", "yes"),
        [(("asked confirm pressure set 200.0",), ("confirm 200 bar",)),
         (("answered passed pressure 200.0", "verdict_given ready"),
          (f"{ENOUGH} 200 bar 50 bar", "passed Pressure", "verdict_ready 1", "Closing."))],
    ),
    "an unclear reading is judged after it was agreed": (
        "readings", (START, "read alike low", "yes"),
        [(("asked confirm pressure set 30.0",), ("confirm 30 bar",)),
         (("answered fault pressure low 30.0", "set_apart pressure low set 1", "asked replacement pressure set"),
          (f"judged_fault {LOW} 30 bar 50 bar Mend low.", SET))],
    ),
    "correct at a read-back asks for the number again": (
        "readings", (START, "read alike", "command correct"),
        [(("asked step pressure set denied",), ("denied", "Pressure?"))],
    ),
    "correct withdraws a reading": (
        "two readings", (START, "read good", "command correct", "read low"),
        [(("withdrawn answered pressure correct", "asked step pressure set correct"), ("corrected Pressure?",)),
         (("answered fault pressure low 20.0", "set_apart pressure low set 1", "asked replacement pressure set"),
          (f"judged_fault {LOW} 20 bar 50 bar Mend low.", SET))],
    ),
    "where numbers are not needed, words pass": (
        "two readings", (START, "read good", "pass"),
        [(("answered passed breaths", "verdict_given ready"), ("passed Breaths", "verdict_ready 2", "Closing."))],
    ),
    "where numbers are not needed, they are judged all the same": (
        "two readings", (START, "read good", "read low"),
        [(("answered fault breaths low 20.0", "verdict_given hold"),
          (f"judged_fault {LOW} 20 bar 50 bar Mend low.", "verdict_hold reason_fault_critical Breaths low"))],
    ),
    "no number is asked again": (
        "readings", (START, "read nonsense"),
        [(("doubted step pressure set reading_unclear", "asked step pressure set doubt"),
          ("reading_unclear", "Pressure?"))],
    ),
    "a bare pass is no reading": (
        "readings", (START, "pass"),
        [(("doubted step pressure set out_of_place", "asked step pressure set doubt"),
          ("out_of_place Pressure?",))],
    ),
}  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_turns(row: str, talk: Callable[..., Told]) -> None:
    """The last turns of each row, records and words, as whole lists."""
    kit, names, told = ROWS[row]
    assert talk(kit, names)[-len(told):] == told


def test_begins_with_the_caution(talk: Callable[..., Told]) -> None:
    assert talk("swaps", ("doubt", "pass", START)) == [
        ((), ()), ((), ()), (("check_started", "asked step hoses set"), FIRST),
    ]  # fmt: skip


def test_whole_records(kits: Kits, facts: Facts, open_session: Opener) -> None:
    """Every fact of two turns' records, as they go into the log."""
    session = open_session(kits["swaps"])
    begun = session.decide(Start({"set": 7, "jacket": "9"}, "Kim", "key"), 1.0)
    assert [(r.kind, dict(r.facts)) for r in begun.records] == [
        ("check_started", {"check": "reduced", "digest": "0" * 64, "items": {"set": "7", "jacket": "9"}, "apart": [],
                           "diver": "Kim", "by": "key"}),
        ("asked", {"what": "step", "step": "hoses", "item": "set", "because": "", "turn": "started",
                   "said": ["Caution.", "Hoses?"]}),
    ]  # fmt: skip
    for record in begun.records:
        session.apply(record, 1.0)
    cut = session.decide(facts["cut"], 2.0, by="typed")
    assert [(r.kind, dict(r.facts)) for r in cut.records] == [
        ("answered", {"step": "hoses", "outcome": "fault", "code": "cut", "heard": "fault cut", "by": "typed"}),
        ("set_apart", {"item": "set", "number": "7", "step": "hoses", "code": "cut"}),
        ("asked", {"what": "replacement", "step": "hoses", "item": "set", "because": "", "turn": "faulted",
                   "said": ["noted_fault cut Mend cut.", SET]}),
    ]  # fmt: skip


def test_whole_record_of_a_reading(kits: Kits, facts: Facts, open_session: Opener) -> None:
    """What was judged, by whom, why and by which settings: a replay needs no judge."""
    session = open_session(kits["readings"])
    for record in session.decide(facts["start"], 0.0).records:
        session.apply(record, 0.0)
    record = session.decide(facts["read low"], 1.0).records[0]
    assert (record.kind, dict(record.facts)) == ("answered", {
        "step": "pressure", "outcome": "fault", "code": "low", "value": 20.0, "unit": "bar",
        "numbers": {"pressure": 20.0}, "judge": "starting_pressure", "judged": "bad", "finding": "low",
        "reason": "too low", "settings": "5e7", "heard": "reading", "by": "voice",
    })  # fmt: skip


def test_replay_asks_no_judge(kits: Kits, facts: Facts, open_session: Opener, plain: Mapping[str, str]) -> None:
    """The state after readings is the records' alone, also where a later reading needs the first."""
    def never(*_: Any) -> Any:
        raise AssertionError("asked while replaying")

    session = open_session(kits["two readings"])
    for name in (START, "read alike", "yes", "read low"):
        for record in session.decide(facts[name], 1.0).records:
            session.apply(record, 1.0)
    stored = [(Record(r.kind, json.loads(json.dumps(dict(r.facts), sort_keys=True))), at_s)
              for r, at_s in session.entries]  # fmt: skip
    again = Session.replay(kits["two readings"], plain, stored, never, never, never)
    assert (again.state, again.progress, again.verdict(1.0)) == (session.state, session.progress, session.verdict(1.0))


@pytest.mark.parametrize("why", list(Why))
def test_every_doubt_has_words(why: Why, kits: Kits, facts: Facts, open_session: Opener) -> None:
    session = open_session(kits["swaps"])
    for record in session.decide(facts["start"], 0.0).records:
        session.apply(record, 0.0)
    turn = session.decide(Doubted(why, "x"), 0.0)
    assert [r.kind for r in turn.records] == ["doubted", "asked"]
    assert turn.records[0].facts["why"] == why.value
    assert turn.say


def test_expired_answers_are_asked_again(kits: Kits, facts: Facts, open_session: Opener) -> None:
    """Nothing but age speaks against READY: the old answers are withdrawn and asked again."""
    session = open_session(kits["swaps"])
    for name, now_s in (("start", 0.0), ("pass", 0.0), ("pass", 0.0)):
        for record in session.decide(facts[name], now_s).records:
            session.apply(record, now_s)
    turn = session.decide(facts["pass"], 1001.0)
    assert [brief(r) for r in turn.records] == [
        "answered passed dump", "withdrawn answered hoses expired", "withdrawn answered inflator expired",
        "asked step hoses set expired",
    ]  # fmt: skip
    assert turn.say == ("expired Hoses", "Hoses?")


def test_start_on_an_item_set_apart_is_refused(kits: Kits, open_session: Opener) -> None:
    with pytest.raises(BadInput, match="the jacket 5 was set apart"):
        open_session(kits["swaps"]).decide(Start({"jacket": 5}, apart=(("jacket", "5"),)), 0.0)


def test_missing_reply_is_refused(kits: Kits, replies: Mapping[str, str]) -> None:
    some = {key: text for key, text in replies.items() if key not in ("passed", "silent")}
    with pytest.raises(GrammarError, match="no reply for passed, silent"):
        Session(kits["swaps"], some, lambda kind, words: (0.0, ()), lambda value, unit: "",
                lambda name, numbers, earlier, now_s: Judged("again", "low", ""))  # fmt: skip


@pytest.mark.parametrize(
    "record",
    [
        Record("sung"),
        Record("asked", {"what": "step", "step": "hoses", "item": "set", "turn": "passed"}),
        Record("asked", {"what": "step", "step": "hoses", "item": "set", "turn": "sung"}),
        Record("withdrawn", {"what": "replaced", "step": "", "item": "set"}),
        Record("withdrawn", {"what": "no_spare", "step": "", "item": "set"}),
    ],
    ids=["kind", "pair", "turn", "swap", "spare"],
)
def test_records_that_no_turn_made_are_refused(record: Record, kits: Kits, open_session: Opener) -> None:
    with pytest.raises(UnknownTurn):
        open_session(kits["swaps"]).apply(record, 0.0)
