"""The agreement rule as a table: what two ears heard at a step, and what is done. Words from trials with voices."""
# ruff: noqa: E501  (a row of the table is read as one line)

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Asks, Expected, Kind
from bench_voice.core.sheet import Hold, Item, ItemKind, JobSheet, Limit, ReadingSpec, Step
from bench_voice.hearing.agree import Act, Decision, agree
from bench_voice.phonetics import letter_distance, sound_key
from bench_voice.ports import Heard

READING = ReadingSpec("lining", "lining", Limit("mm", low=Decimal("2.0")))
MEASURE = Step("measure", "Measure the lining.", readings=("lining",))
BLOCK = Step("block", "Block the wheels.", hold=Hold("blocked", "confirm both wheels are blocked"))
SHEET = JobSheet(
    "s", "S", "1", "generator engine", "one", (MEASURE, BLOCK),
    readings={"lining": READING}, items={"tape": Item("tape", "cable tape", ItemKind.TEMPORARY)},
)  # fmt: skip
AT = {step.id: Expected.at(SHEET, step) for step in SHEET.steps}
FIT, FORCED = {"per_frame": -0.5, "speech_s": 1.0}, {"per_frame": -2.0, "speech_s": 1.0}


def first(words: str, evidence: dict[str, float] = FIT) -> Heard:
    return Heard("pocketsphinx", words, evidence=evidence)


def second(words: str, free: str, weight: float = 0.9, **others: float) -> Heard:
    return Heard("whisper", words, weight, tuple(others.items()), {"speech_s": 1.0}, free)


def decide(step: str, *heard: Heard) -> Decision:
    return agree(AT[step], heard)


# step, first ear, second ear held to the words, its free text, act, kind of the intent
TABLE = [
    ("measure", "four point six", "four point six", "four point six", Act.RECORD, Kind.READING),
    ("measure", "lining four point six millimetres", "four point six", "lining four point six millimeters", Act.RECORD, Kind.READING),
    ("measure", "four five six", "four point six", "four point six", Act.ASK, Kind.AMBIGUOUS),  # "point" heard as "five"
    ("measure", "three zero zero", "three zero zero zero", "three zero zero zero", Act.ASK, Kind.AMBIGUOUS),  # a digit doubled
    ("measure", "six nine eight", "six point nine eight", "six point nine eight", Act.ASK, Kind.AMBIGUOUS),  # an invented "point"
    ("measure", "", "four point six", "four point six", Act.ASK, Kind.AMBIGUOUS),
    ("measure", "four point six", "four point six", "about four point six", Act.ASK, Kind.AMBIGUOUS),  # a hedge
    ("measure", "four point six", "four point six", "for point six", Act.RECORD, Kind.READING),  # sounds the same
    ("measure", "four point six", "four point six", "not four point six", Act.NOTHING, None),
    ("measure", "next", "next", "next", Act.RECORD, Kind.NEXT),
    ("measure", "next", "next", "next week we are going to the coast", Act.NOTHING, None),
    ("measure", "ten eight", "next", "next", Act.AGAIN, None),
    ("measure", "ten eight", "say again", "say again", Act.RECORD, Kind.REPEAT),  # changes nothing: one ear is enough
    ("measure", "affirm", "affirm", "a firm", Act.RECORD, Kind.AFFIRM),
    ("measure", "ten", "affirm", "affirm", Act.AGAIN, None),
    ("measure", "affirm", "", "a farm", Act.RECORD, Kind.AFFIRM),
    ("measure", "three four five", "eight", "i ought to call my brother about the car", Act.NOTHING, None),
    ("measure", "what is left", "and", "the weather is nice today", Act.NOTHING, None),
    ("measure", "note a scored", "note", "note the edge is scored", Act.RECORD, Kind.NOTE),
    ("measure", "remind me to grease", "remind me to", "remind me to grease the hitch", Act.RECORD, Kind.REMINDER),
    ("measure", "ten", "remind me to", "remind me to grease the hitch", Act.RECORD, Kind.REMINDER),
    ("measure", "ten", "ten", "remind me to grease the hitch", Act.AGAIN, None),
    ("measure", "took off cable tape", "took off cable tape", "took off cable tape", Act.RECORD, Kind.TAKEN_OFF),
    ("measure", "took off cable tape", "took off cable tape", "took off cable tap", Act.RECORD, Kind.TAKEN_OFF),
    ("measure", "took off cable tape", "took off the", "took off the blue rag", Act.AGAIN, None),
    ("measure", "took off blue", "took off the", "took off the blue rag", Act.RECORD, Kind.TAKEN_OFF),
    ("block", "confirm both wheels are blocked", "confirm both wheels are blocked", "confirm both wheels are blocked", Act.RECORD, Kind.CONFIRM),
    ("block", "confirm both wheels are not blocked", "confirm both wheels are blocked", "confirm both wheels are not blocked", Act.AGAIN, None),
    ("block", "confirm both wheels are blocked", "confirm both wheels are blocked", "confirm both wheels are not blocked", Act.NOTHING, None),
    ("block", "confirm both wheels are blocked", "confirm both wheels are blocked", "confirm both wheels or blocks", Act.NOTHING, None),
    ("block", "", "confirm one wheel is blocked", "confirm one wheel is blocked", Act.AGAIN, None),  # a wrong phrase is answered
    ("block", "next", "confirm both wheels are blocked", "confirm both wheels are blocked", Act.AGAIN, None),
    ("block", "confirm both wheels are blocked", "next", "next", Act.AGAIN, None),
    ("block", "confirm both wheels are blocked", "both wheels", "both wheels are on the floor", Act.NOTHING, None),
    ("measure", "confirm both wheels are blocked", "confirm both wheels are blocked", "confirm both wheels are blocked", Act.NOTHING, None),
]  # fmt: skip


@pytest.mark.parametrize(("step", "one", "two", "free", "act", "kind"), TABLE)
def test_two_ears(step: str, one: str, two: str, free: str, act: Act, kind: Kind | None) -> None:
    decision = decide(step, first(one), second(two, free))
    allowed = {act, Act.AGAIN} if act is Act.NOTHING else {act}
    assert decision.kind in allowed, decision
    assert (decision.intent.kind if decision.intent else None) is kind


@pytest.mark.parametrize("row", TABLE, ids=str)
def test_the_order_of_the_ears_does_not_matter(row: tuple[str, str, str, str, Act, Kind | None]) -> None:
    step, one, two, free, *_ = row
    a = decide(step, first(one), second(two, free))
    b = decide(step, second(two, free), first(one))
    assert (a.kind, a.intent) == (b.kind, b.intent)


def test_a_question_names_what_each_ear_heard() -> None:
    decision = decide("measure", first("four point eight"), second("four point six", "four point six"))
    assert decision.intent is not None
    assert flat_of(decision.intent).asks is Asks.WHICH_NUMBER
    assert [flat_of(option).value for option in decision.options] == [Decimal("4.6"), Decimal("4.8")]
    assert flat_of(decision.intent).offered is None


def test_one_reading_alone_is_offered() -> None:
    decision = decide("measure", first("ten oh", FORCED), second("four point six", "four point six"))
    assert decision.intent is not None
    assert flat_of(decision.intent).asks is Asks.CONFIRM_NUMBER
    offered = flat_of(decision.intent).offered
    assert offered is not None
    assert offered.value == Decimal("4.6")


def test_digits_keep_their_zeros() -> None:
    decision = decide("measure", first("four point six zero"), second("four point six", "four point six"))
    assert [str(flat_of(option).value) for option in decision.options] == ["4.6", "4.60"]


# words, evidence, act
ONE_EAR = [
    ("four point six", FIT, Act.ASK),
    ("next", FIT, Act.RECORD),
    ("next", {"per_frame": -1.0, "speech_s": 1.0}, Act.AGAIN),
    ("next", FORCED, Act.NOTHING),
    ("next", {"speech_s": 1.0}, Act.AGAIN),
    ("affirm", FIT, Act.AGAIN),
    ("affirm", {"per_frame": -0.2, "speech_s": 1.0}, Act.RECORD),
]


@pytest.mark.parametrize(("words", "evidence", "act"), ONE_EAR)
def test_one_ear_asks_more(words: str, evidence: dict[str, float], act: Act) -> None:
    assert decide("measure", first(words, evidence)).kind is act


def test_one_ear_needs_the_best_evidence_for_a_hold() -> None:
    phrase = "confirm both wheels are blocked"
    assert decide("block", first(phrase, FIT)).kind is Act.AGAIN
    assert decide("block", second(phrase, phrase, weight=0.6)).kind is Act.AGAIN
    assert decide("block", second(phrase, phrase, weight=0.95)).kind is Act.RECORD


def test_an_ear_that_failed_does_not_agree() -> None:
    lost = Heard("pocketsphinx", "", 0.0, evidence={"timeout": 1.0})
    assert decide("measure", lost).kind is Act.AGAIN
    assert decide("measure", lost, second("four point six", "four point six")).kind is Act.ASK
    phrase = "confirm both wheels are blocked"
    assert decide("block", lost, second(phrase, phrase)).kind is Act.AGAIN


def test_silence_is_nothing_and_muddled_numbers_are_asked_again() -> None:
    assert decide("measure", first(""), second("", "")).kind is Act.NOTHING
    assert decide("measure").kind is Act.NOTHING
    muddled = decide("measure", first("four", FORCED), second("point", "four point point six"))
    assert muddled.kind is Act.AGAIN
    short = decide("measure", *(replace(h, evidence={"speech_s": 0.1}) for h in (first(""), second("", "point point"))))
    assert short.kind is Act.NOTHING


@pytest.mark.parametrize(
    ("a", "b", "is_near"),
    [("four", "for", True), ("affirm", "a firm", True), ("metres", "meters", True), ("next", "the kettle", False),
     ("blocked", "blocks", False), ("four point six", "my brother", False), ("", "", True), ("", "next", False)],
)  # fmt: skip
def test_likeness(a: str, b: str, is_near: bool) -> None:
    assert (letter_distance(a, b) <= 0.15) is is_near
    assert letter_distance(a, b) == letter_distance(b, a)
    assert sound_key(a) == sound_key(a.upper())
