"""Each kind of limit from sheet to spoken verdict, typed; what is doubtful or cannot be is asked, never recorded."""

from __future__ import annotations

import pytest

from bench_voice.core import events as ev
from bench_voice.reckon import ReckonError, reckon
from bench_voice.sheets.load import load_text
from bench_voice.testing import Bench

# kind -> (entries under `readings`, ids asked for at the step)
KINDS: dict[str, tuple[str, str]] = {
    "at least": ("lining: {limit: {at least: 4.0, unit: mm}}", "lining"),
    "at most": ("drum: {limit: {at most: 203.0, unit: mm}}", "drum"),
    "between": ("gap: {limit: {between: [0.20, 0.60], unit: mm}}", "gap"),
    "doubtful": ("lining: {limit: {at least: 2.00, unit: mm}, instrument: calliper}", "lining"),
    "left and right": (
        "left-wear: {limit: {at least: 1.0, unit: mm}, pair: right-wear, pair within: 0.5}\n"
        "  right-wear: {limit: {at least: 1.0, unit: mm}, pair: left-wear, pair within: 0.5}",
        "left-wear, right-wear",
    ),
    "spread": ("pad: {limit: {at least: 1.0, unit: mm}, points: 3, spread: 0.4}", "pad"),
    "percent": ("charge: {limit: {at least: 75, unit: percent}}", "charge"),
    "count": ("strands: {limit: {at most: 1, unit: count}}", "strands"),
    "marked": (
        "largest: {limit: {unit: mm}, marking: yes}\n"
        "  drum: {limit: {at most: 203.0, unit: mm, marked on the part: largest}}",
        "largest, drum",
    ),
    "by class": (
        "strength: {limit: {unit: count}, marking: yes}\n"
        "  bolt: {limit: {unit: N*m, marked on the part: strength, table: [{for: 8.8, between: [20, 28]},"
        " {for: 10.9, between: [30, 40]}]}}",
        "strength, bolt",
    ),
    "nominal": ("shim: {limit: {nominal: 2.50, within: 0.05, unit: mm}}", "shim"),
    "percent of new": ("stone: {limit: {percent of new: 75, new: 40.0, unit: mm}}", "stone"),
    "torque": ("nut: {limit: {between: [80, 90], unit: N*m}}", "nut"),
    "temperature": ("head: {limit: {at most: 110, unit: degC}}", "head"),
    "pressure": ("tyre: {limit: {at least: 240, unit: kPa}}", "tyre"),
}
SHEET = """
sheet: kinds
title: Kinds
version: "1"
language: en
machine: {{name: test rig, id: rig}}
source: Invented for this test.
note: All figures are invented.
{instruments}
readings:
  {readings}
steps:
  - id: measure
    say: Measure it.
    readings: [{asked}]
  - id: end
    say: Write the day on the plate.
    final gate: yes
"""
CALLIPER = "instruments:\n  calliper: {name: callipers, uncertainty: 0.02}"


def bench(kind: str) -> Bench:
    readings, asked = KINDS[kind]
    instruments = CALLIPER if "calliper" in readings else ""
    return Bench(load_text(SHEET.format(readings=readings, asked=asked, instruments=instruments), "kinds.yaml"))


# kind, lines, what the last answer must hold. The margin is in the unit that was said, rounded toward less margin.
SAID = [
    ("at least", ["four point six millimetres"], "Good, zero point six millimetres left."),
    ("at least", ["four"], "Good, zero point zero millimetres left."),
    # 3.96 rounded to the limit's digits would be 4.0 and pass: it is out, by at least 0.1.
    ("at least", ["three point nine six"],
     "Out of limits by zero point zero four millimetres: at least four point zero millimetres."),
    ("at least", ["three point nine nine six"],
     "Out of limits by zero point zero one millimetres: at least four point zero millimetres."),
    # 5 mm is 0.19685 in, the limit 0.15748 in.
    ("at least", ["zero point one nine seven inches"], "Good, zero point zero three nine inches left."),
    ("at least", ["zero point one five seven inches"],
     "Out of limits by zero point zero zero zero five inches: at least four point zero millimetres."),
    ("at most", ["two hundred and two point four"], "Good, zero point six millimetres left."),
    ("at most", ["two hundred and three point zero four"],
     "Out of limits by zero point zero four millimetres: at most two hundred and three point zero millimetres."),
    ("between", ["zero point two five"], "Good, zero point zero five millimetres left."),
    ("between", ["zero point six one"],
     "Out of limits by zero point zero one millimetres: at most zero point six zero millimetres."),
    # 10 thou is 0.254 mm: 0.054 mm above the lower limit, 2.1 thou.
    ("between", ["ten thou"], "Good, two thou left."),
    ("doubtful", ["two point zero two"], "Good, zero point zero two millimetres left."),
    ("doubtful", ["two point zero one"],
     "Borderline, zero point zero one millimetres from the limit of at least two point zero zero millimetres."),
    ("doubtful", ["one point nine eight"],
     "Borderline, zero point zero two millimetres from the limit of at least two point zero zero millimetres."),
    ("doubtful", ["one point nine seven"],
     "Out of limits by zero point zero three millimetres: at least two point zero zero millimetres."),
    ("left and right", ["left wear four point six", "right wear four point one"], "Good, three point one"),
    ("left and right", ["left wear four point six", "right wear four point zero"],
     "differ by zero point six millimetres. At most zero point five millimetres is allowed."),
    ("spread", ["four point six", "four point five", "four point two"], "Lowest four point two, highest"),
    ("spread", ["four point six", "four point five", "four point one"],
     "The points of the pad differ by zero point five millimetres, from four point one to four point six. "
     "At most zero point four millimetres is allowed."),
    ("percent", ["eighty"], "Good, five percent left."),
    ("percent", ["seventy four point nine"], "Out of limits by zero point one percent: at least seventy five percent."),
    ("count", ["one"], "Good, zero left."),
    ("count", ["two"], "Out of limits by one: at most one."),
    ("marked", ["largest two hundred and four", "drum two hundred and three point five"], "Good, zero point five"),
    ("marked", ["largest two hundred and two", "drum two hundred and two point five"], "Out of limits by"),
    ("by class", ["strength ten point nine", "bolt thirty five"], "Good, five newton metres left."),
    ("by class", ["strength eight point eight", "bolt thirty five"],
     "Out of limits by seven newton metres: at most twenty eight newton metres."),
    ("nominal", ["two point five three"], "Good, zero point zero two millimetres left."),
    ("nominal", ["two point four four"],
     "Out of limits by zero point zero one millimetres: at least two point four five millimetres."),
    # 75 % of 40 mm is 30 mm.
    ("percent of new", ["thirty"], "Good, zero point zero millimetres left."),
    ("percent of new", ["twenty nine point nine"],
     "Out of limits by zero point one millimetres: at least thirty point zero millimetres."),
    # 65 lbf·ft is 88.13 N·m, 1.87 N·m below the upper limit: 1.38 lbf·ft (factor of NIST SP 811, B.8).
    ("torque", ["sixty five foot pounds"], "Good, one foot pound left."),
    ("torque", ["sixty seven foot pounds"],
     "Out of limits by zero point seven foot pounds: at most ninety newton metres."),
    # 230 °F is 110 °C; a difference of 1 °F is 5/9 °C.
    ("temperature", ["two hundred and twenty nine degrees fahrenheit"], "Good, one degree fahrenheit left."),
    ("temperature", ["two hundred and thirty one degrees fahrenheit"],
     "Out of limits by one degree fahrenheit: at most one hundred and ten degrees celsius."),
    # 36 psi is 248.2 kPa, 8.2 kPa above: 1.19 psi.
    ("pressure", ["thirty six p s i"], "Good, one p s i left."),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "lines", "wanted"), SAID, ids=[f"{k}: {lines[-1]}" for k, lines, _ in SAID])
def test_verdict(kind: str, lines: list[str], wanted: str) -> None:
    talk = bench(kind)
    for line in lines:
        said = " ".join(talk.type(line))
    assert wanted in said, said


def recorded(talk: Bench) -> list[ev.ReadingRecorded | ev.ReadingCorrected]:
    return [e for e in talk.journal.events if isinstance(e, ev.ReadingRecorded | ev.ReadingCorrected)]


# The bad input, at the bench. kind, line, what is asked or said; nothing is recorded.
ASKED = [
    ("at least", "four hundred millimetres", "far off for that part"),  # a 400 mm lining
    ("at least", "minus four point six", "far off for that part"),
    ("at least", "four point six bar", "The lining is in millimetres"),
    ("at least", "sixty five foot pounds", "The lining is in millimetres"),
    ("torque", "eighty five millimetres", "The nut is in newton metres"),
    ("torque", "minus eighty five", "far off for that part"),
    ("torque", "eighty five thousand", "far off for that part"),
    ("count", "minus one", "far off for that part"),
    ("temperature", "eighty volts", "The head is in degrees celsius"),
    ("pressure", "two hundred and fifty newton metres", "The tyre is in kilopascals"),
    ("by class", "strength nine point nine", "eight point eight"),  # a class that the table lacks
    ("by class", "bolt thirty five", "strength"),  # the row isn't known yet
    ("at least", "chain five twenty zero pitches three hundred millimetres", "The count of pitches cannot be zero"),
    ("at least", "extension twelve inches plus four, forty foot pounds at one hundred degrees", "points backward"),
    ("at least", "what is minus four millimetres in inches", "cannot be"),
    ("at least", "what is four bar in newton metres", "bar is a unit of pressure"),
    ("at least", "what is minus three hundred degrees celsius in fahrenheit", "below absolute zero"),
    ("at least", "extension twelve metres plus four, forty foot pounds", "hard to believe"),
    ("at least", "is nine hundred thousand newton metres too much for m ten eight point eight", "more than a bench"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "line", "wanted"), ASKED, ids=[line for _, line, _ in ASKED])
def test_asked_with_the_reason_and_never_recorded(kind: str, line: str, wanted: str) -> None:
    talk = bench(kind)
    said = " ".join(talk.type(line))
    assert wanted in said, said
    assert not recorded(talk)


def test_an_absurd_value_is_taken_only_on_affirm() -> None:
    talk = bench("at least")
    talk.type("four hundred millimetres")
    talk.type("negative")
    assert not recorded(talk)
    talk.type("four hundred millimetres")
    talk.type("affirm")
    assert [str(event.value) for event in recorded(talk)] == ["400"]


@pytest.mark.parametrize(
    ("words", "reason"),
    # The list through `reckon`; the same sentences that the session asks with.
    [
        ("what is four bar in newton metres", "unit of pressure"),
        ("what is minus four millimetres in inches", "cannot be"),
        ("what is minus three hundred degrees celsius in fahrenheit", "absolute zero"),
        ("chain five twenty zero pitches three hundred millimetres", "cannot be zero"),
        ("extension twelve inches plus four, forty foot pounds at ninety one degrees", "points backward"),
        ("what is nine hundred thousand newton metres in foot pounds", "more than a bench"),
        ("extension twelve metres plus four, forty foot pounds", "hard to believe"),
        ("wear from five millimetres to four hundred millimetres", "far more than"),
        ("mix zero to one in five litres", "zero"),
        ("battery sixty volts", "no twelve volt battery"),
    ],
)
def test_bad_questions_are_asked_with_the_reason(words: str, reason: str) -> None:
    with pytest.raises(ReckonError, match=reason):
        reckon(words)


def test_a_question_answers_at_every_turn_and_changes_nothing() -> None:
    """At a reading, over a failed one, at the end: the state is as it was."""
    talk = bench("at least")
    question = "what is sixty five foot pounds in newton metres"
    answer = "Sixty five foot pounds is eighty eight point one newton metres, by NIST SP 811."
    for line in ("", "three", "measure again", "five", "next"):
        if line:
            talk.type(line)
        before = talk.state.with_(seq=0, at_ms=0, clock_ms=0)
        assert answer in talk.type(question)
        assert talk.state.with_(seq=0, at_ms=0, clock_ms=0) == before
    assert "at least four point zero millimetres" in " ".join(bench("at least").type("what is the limit"))


def test_an_answer_that_stands_for_a_limit_says_so() -> None:
    said = " ".join(bench("torque").type("extension twelve inches plus four, forty foot pounds"))
    assert "set thirty foot pounds for forty foot pounds" in said
    assert "From: US Army TM 9-2350-277-40&P." in said
    assert "Check against the machine's manual." in said
