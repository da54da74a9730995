"""Spoken questions: the right number, or asked with the reason. Expected values are exact arithmetic or published."""

from __future__ import annotations

import json
import re
import time
from decimal import Decimal
from pathlib import Path

import pytest

from bench_voice import cli
from bench_voice.reckon import MANUAL, ReckonError, as_json, reckon, said, text
from bench_voice.reckon.questions import EXAMPLES, vocabulary

# words, kind, what is shown first, its unit
ANSWERED = [
    ("what is sixty five foot pounds in newton metres", "conversion", "88.1", "N*m"),
    ("how much is one hundred and ten newton metres in foot pounds", "conversion", "81.13", "lbf*ft"),
    ("convert thirty two p s i to bar", "conversion", "2.21", "bar"),
    ("what is two point five bar in p s i", "conversion", "36.3", "psi"),
    ("what is three eighths of an inch in millimetres", "conversion", "9.525", "mm"),
    ("what is five sixteenths of an inch in millimetres", "conversion", "7.9375", "mm"),
    ("what is twelve thou and millimeters", "conversion", "0.305", "mm"),
    ("what is two point five bar and psi", "conversion", "36.3", "psi"),
    ("mix fifty to one and five liters", "mix", "100", "mL"),
    ("what is twelve thou in microns", "conversion", "305", "um"),
    ("what is one hundred kilometres in miles", "conversion", "62.14", "mile"),
    ("what is eighty degrees celsius in fahrenheit", "conversion", "176", "degF"),
    ("what is twenty degrees in fahrenheit", "conversion", "68", "degF"),
    ("what is a difference of ten degrees celsius in fahrenheit", "conversion", "18", "degF"),
    ("how many litres in two us gallons", "conversion", "7.57", "L"),
    ("how many millilitres in one imperial pint", "conversion", "568", "mL"),
    ("what is five horsepower in kilowatts", "asked", "reckon-which", ""),
    ("what is five metric horsepower in kilowatts", "conversion", "3.68", "kW"),
    ("what is twenty pounds in kilograms", "conversion", "9.07", "kg"),
    ("what is two point zero bar in kilopascals", "conversion", "200", "kPa"),
    ("extension twelve inches plus four, forty foot pounds", "extension", "30", "lbf*ft"),
    ("extension twelve inches plus four forty foot pounds", "extension", "30", "lbf*ft"),
    ("extension twelve inches plus four, forty foot pounds at ninety degrees", "extension", "40", "lbf*ft"),
    ("what do i set the wrench to for eighty newton metres with a forty centimetre wrench and a five centimetre "
     "extension", "extension", "71.1", "N*m"),
    ("forty newton metres plus three newton metres drag", "prevailing torque", "43", "N*m"),
    ("castle nut thirty to forty newton metres at thirty five", "castle nut", "30", "N*m"),
    ("preload of m ten class eight point eight at fifty newton metres", "preload", "25", "kN"),
    ("is fifty newton metres too much for m ten eight point eight", "preload", "25", "kN"),
    ("torque for m ten class eight point eight", "usual torque", "51", "N*m"),
    ("stress area of m ten by one point two five", "stress area", "61.2", "mm**2"),
    ("stress area of M10x1.25", "stress area", "61.2", "mm**2"),
    ("proof load for m twelve class ten point nine", "proof load", "70000", "N"),
    ("what drill for m eight", "tapping drill", "6.8", "mm"),
    ("drill for m ten by one", "tapping drill", "9", "mm"),
    ("wrench tolerance at twenty five newton metres", "wrench deviation", "24", "N*m"),
    ("tyre date two three zero six", "tyre date", "23", "count"),
    ("tyre code twenty three oh six", "tyre date", "23", "count"),
    ("load index fifty eight", "load index", "236", "kg"),
    ("speed symbol h", "speed symbol", "210", "km/h"),
    ("voltage drop of two metres of one point five square millimetre cable at ten amps", "voltage drop", "0.532", "V"),
    ("voltage drop of three metres of eighteen gauge wire at five amps", "voltage drop", "0.628", "V"),
    ("battery twelve point three volts", "battery", "25", "percent"),
    ("mix fifty to one in five litres", "mix", "100", "mL"),
    ("mix four litres at one to one", "mix", "2", "L"),
    ("chain five twenty twenty pitches three hundred and twenty two point three millimetres", "chain", "1.51",
     "percent"),
    ("wear from five millimetres to four millimetres", "wear", "20", "percent"),
    ("difference left four point six right four point four millimetres", "difference", "0.2", "mm"),
    ("spread of four point six millimetres and four point five millimetres", "spread", "0.1", "mm"),
    ("out of round, 55.2 mm, 55.0 mm", "two-point out-of-round", "0.2", "mm"),
    ("run out minus two thou to three thou", "run-out", "5", "thou"),
    ("feeler gauges ten thou plus four thou", "feeler stack", "14", "thou"),
    ("micrometer sleeve five point five thimble twenty eight", "micrometer", "5.78", "mm"),
    ("lever two hundred millimetres moved fifty millimetres", "lever angle", "14.4", "deg"),
]  # fmt: skip
ASKED = [
    ("what is sixty five pounds in newton metres", "reckon-which"),
    ("what is one ten foot pounds in newton metres", "reckon-which"),
    ("what is two pints in litres", "reckon-which"),
    ("what is two mils in millimetres", "reckon-which"),
    ("what is two tenths in millimetres", "reckon-unit"),
    ("what is four bar in newton metres", "reckon-unit"),
    ("what is sixty five in newton metres", "reckon-unit"),
    ("what is minus four millimetres in inches", "reckon-range"),
    ("what is minus five hundred degrees celsius in fahrenheit", "reckon-range"),
    ("what is nine hundred thousand newton metres in foot pounds", "reckon-range"),
    ("extension twelve inches plus four forty foot pounds at one hundred degrees", "reckon-range"),
    ("extension twelve inches plus one twenty five foot pounds", "reckon-which"),
    ("extension twelve metres plus four, forty foot pounds", "reckon-range"),
    ("extension twelve bar plus four, forty foot pounds", "reckon-unit"),
    ("extension twelve inches plus four, forty bar", "reckon-unit"),
    ("chain five twenty zero pitches three hundred and twenty two point three millimetres", "reckon-range"),
    ("chain five twenty twenty pitches four hundred millimetres", "reckon-range"),
    ("castle nut forty to thirty newton metres", "reckon-range"),
    ("preload of m ten class seven point seven at fifty newton metres", "reckon-unknown"),
    ("drill for m seven", "reckon-unknown"),
    ("drill for m eight by four", "reckon-range"),
    ("tyre date nine nine zero six", "reckon-range"),
    ("tyre date two three six", "reckon-unknown"),
    ("load index five", "reckon-unknown"),
    ("speed symbol x", "reckon-unknown"),
    ("battery sixty volts", "reckon-range"),
    ("wear from four millimetres to five millimetres", "reckon-range"),
    ("mix zero to one in five litres", "reckon-range"),
    ("voltage drop of two metres of three square millimetre cable at ten amps", "reckon-unknown"),
    ("what is sixty five foot pounds in newton metres please hurry", "reckon-question"),
    ("micrometer sleeve three hundred point five thimble twenty eight", "reckon-range"),
    ("micrometer sleeve 12345678901234 thimble 28 vernier 3", "reckon-range"),
    ("wear from one millimetre to one inch", "reckon-range"),
    ("the weather is nice", "reckon-question"),
    ("", "reckon-question"),
    ("lining four point six", "reckon-question"),
]


@pytest.mark.parametrize(("words", "kind", "shown", "unit"), ANSWERED, ids=[row[0] for row in ANSWERED])
def test_answered(words: str, kind: str, shown: str, unit: str) -> None:
    if kind == "asked":
        with pytest.raises(ReckonError, match="could be") as caught:
            reckon(words)
        assert caught.value.slug == shown
        return
    answer = reckon(words)
    first = answer.values[0]
    assert (answer.kind, format(first.shown, "f"), first.unit) == (kind, shown, unit)
    assert answer.source
    assert answer.formula
    assert (MANUAL in text(answer)) is answer.is_limit is (MANUAL in said(answer))


@pytest.mark.parametrize(("words", "slug"), ASKED, ids=[row[0] for row in ASKED])
def test_asked_with_the_reason(words: str, slug: str) -> None:
    with pytest.raises(ReckonError, match=r"\w") as caught:
        reckon(words)
    assert caught.value.slug == slug
    assert caught.value.mend


def test_said_in_words_and_printed_in_figures() -> None:
    answer = reckon("what is sixty five foot pounds in newton metres")
    assert text(answer) == "65 lbf·ft is 88.1 N·m."
    assert said(answer) == "Sixty five foot pounds is eighty eight point one newton metres."
    body = json.loads(json.dumps(as_json(answer)))
    assert body["accepted"] is True
    assert Decimal(body["values"][0]["value"]) == answer.value


def test_torque_out_of_range_for_the_bolt_is_warned_of() -> None:
    much = reckon("is ninety newton metres too much for m ten eight point eight")
    little = reckon("is five newton metres too much for m ten eight point eight")
    fair = reckon("is fifty newton metres too much for m ten eight point eight")
    assert "past its proof load" in text(much)
    assert "is the unit right" in text(little)
    assert not fair.warnings
    # Foot pounds taken for newton metres: 50 lbf·ft is 68 N·m, just over the proof load of a dry M10 8.8.
    assert reckon("is fifty foot pounds too much for m ten eight point eight").warnings


def test_same_question_in_other_units_has_the_same_answer() -> None:
    metres = reckon("voltage drop of three point zero four eight metres of eighteen gauge wire at five amps")
    feet = reckon("voltage drop of ten feet of eighteen gauge wire at five thousand milliamps")
    assert metres.value == feet.value


@pytest.mark.parametrize(
    ("words", "heard"),
    [
        ("fourteen newton metres plus three newton metres drag", "14 N·m plus 3 N·m drag: set 17 N·m."),
        ("extension twelve inches plus four, fifty foot pounds at ten degrees", "Wrench 12 in plus 4 in at 10°"),
        ("preload of m ten class eight point eight at fifteen newton metres", "15 N·m: about"),
        ("mix fifteen to one in five litres", "15 to 1 in 5 L"),
        ("wear from nine millimetres to four millimetres", "From 9 mm to 4 mm"),
        ("chain five twenty twenty pitches three hundred and twenty millimetres", "20 pitches of a 520 chain, 320 mm"),
        (
            "voltage drop of two metres of four square millimetre cable at five amps",
            "over 2 m there and back at 5 A, 4",
        ),
        ("run out minus two thou to three thou", "-2 thou, 3 thou: the run-out is 5 thou"),
    ],
)
def test_the_answer_repeats_what_was_heard(words: str, heard: str) -> None:
    """Fifteen and fifty sound alike: the person must notice which one was taken."""
    assert heard in text(reckon(words))


# Two units in one question. 4 thou are 0.1016 mm and 1 lbf·ft is 1.3558179483314004 N·m (NIST SP 811, Appendix B.8).
MIXED = [
    ("feeler gauges 0.1 mm plus 4 thou", "0.1 mm plus 4 thou: together 7.94 thou."),
    ("feeler gauges 4 thou plus 0.1 mm", "4 thou plus 0.1 mm: together 0.202 mm."),
    ("spread of 0.1 mm and 4 thou", "0.1 mm, 4 thou: the spread is 0.063 thou."),
    ("run out minus 2 thou to 0.1 mm", "-2 thou, 0.1 mm: the run-out is 0.151 mm, total indicator reading."),
    ("out of round 1 inch and 25.51 mm", "1 in, 25.51 mm: 0.11 mm by two points: odd lobes do not show."),
    ("difference 1 mm 4 thou", "1 mm, 4 thou: they differ by 35.4 thou."),
    ("end play 1 thou to 0.2 mm", "1 thou, 0.2 mm: the end play is 0.175 mm."),
    (
        "castle nut 30 foot pounds to 50 newton metres",
        "Tighten to 40.7 N·m, then onward to the next slot, never past 50 N·m and never back.",
    ),
    (
        "castle nut 30 newton metres to 50 foot pounds at 45 newton metres",
        "Good: it lines up at 33.2 lbf·ft, between 22.2 lbf·ft and 50 lbf·ft. Fit a new split pin.",
    ),
    # 40.674538... N·m: what is said beside it stays on its side.
    (
        "castle nut 30 foot pounds to 50 newton metres at 40.68 newton metres",
        "Good: it lines up at 40.68 N·m, between 40.675 N·m and 50 N·m. Fit a new split pin.",
    ),
    (
        "castle nut 30 foot pounds to 50 newton metres at 40.67 newton metres",
        "At 40.67 N·m it is below 40.675 N·m: go on to the next slot, never past 50 N·m.",
    ),
    # 50.029682... N·m
    (
        "castle nut 30.0 newton metres to 50.0 newton metres at 36.9 foot pounds",
        "The slot lines up at 50.03 N·m, past 50.0 N·m: change the washer or the nut, then start again.",
    ),
]


@pytest.mark.parametrize(("words", "told"), MIXED, ids=[row[0] for row in MIXED])
def test_figures_of_two_units_are_rounded_to_the_safe_side(words: str, told: str) -> None:
    answer = reckon(words)
    assert text(answer).removesuffix(f" {MANUAL}") == told
    assert len(said(answer).split()) < 60
    # What is shown is rounded only: the value beside it keeps all digits.
    for one in answer.values:
        assert one.shown == pytest.approx(one.value, rel=Decimal("0.01"))


def test_a_figure_that_is_asked_back_is_the_one_that_was_said() -> None:
    for words, told in (
        ("extension 12 inches plus 5 metres, 40 foot pounds", "The extension of 5 m is hard to believe."),
        ("wear from 1 mm to 1 inch", "1 in is far more than 1 mm when new."),
        ("wear from 1 inch to 26 mm", "26 mm is more than 1 in when new."),
    ):
        with pytest.raises(ReckonError, match=f"^{re.escape(told)}"):
            reckon(words)


def test_figures_of_one_unit_stay_as_they_were_said() -> None:
    assert text(reckon("feeler gauges 0.10 mm plus 0.015 mm")) == "0.10 mm plus 0.015 mm: together 0.115 mm."
    assert text(reckon("spread of 100.50 mm and 0.001 mm")) == "100.50 mm, 0.001 mm: the spread is 100.499 mm."
    nut = text(reckon("castle nut 30.00 newton metres to 40.0 newton metres at 35.125 newton metres"))
    assert nut.startswith("Good: it lines up at 35.125 N·m, between 30.00 N·m and 40.0 N·m.")


def test_examples_of_the_message_are_answered() -> None:
    for words in EXAMPLES:
        assert reckon(words)


PAGE = (Path(__file__).resolve().parents[2] / "docs" / "reckoning.md").read_text(encoding="utf-8")


def documented() -> list[str]:
    """Every question of the page's table, with and without its part in square brackets."""
    rows = PAGE.split("## What can be asked")[1].split("## ")[0]
    cells = re.findall(r"^\| (.+?) \|", rows, re.MULTILINE)
    assert cells[:2] == ["Ask", "what is sixty five foot pounds in newton metres; how many litres in two us gallons"]
    found = [one for cell in cells[1:] for one in cell.split("; ")]
    return sorted({form for one in found for form in (one.translate({91: "", 93: ""}), re.sub(r" \[.*?\]", "", one))})


def test_the_vocabulary_has_every_word_of_every_question() -> None:
    known = set(vocabulary())
    spoken = [words for words, *_ in ANSWERED if not re.search(r"[0-9.]", words)]
    assert len(spoken) > 40
    assert {word for words in spoken for word in re.findall(r"[a-z]+", words)} <= known


def test_hesitation_and_politeness_change_nothing() -> None:
    plain = reckon("drill for m eight")
    assert reckon("um, drill for m eight, please") == plain
    with pytest.raises(ReckonError, match="no question"):
        reckon("drill for m eight" + " " * 2000)


@pytest.mark.parametrize("words", documented())
def test_every_question_of_the_page_is_answered(words: str) -> None:
    assert reckon(words).source


def test_the_pages_first_example_prints_what_it_says(capsys: pytest.CaptureFixture[str]) -> None:
    words, printed = re.findall(r'\$ bench-voice reckon "(.+?)"\n(.+?)```', PAGE, re.DOTALL)[0]
    assert cli.main(["reckon", words]) == 0
    assert capsys.readouterr().out == printed


@pytest.mark.parametrize("words", ["spread " + "four " * 39, "extension " + "one inch plus " * 9, "1 " * 40])
def test_long_rows_of_numbers_end_soon(words: str) -> None:
    reckon(EXAMPLES[0])  # loads units and words
    start = time.perf_counter()
    with pytest.raises(ReckonError, match=r"\w"):
        reckon(words)
    assert time.perf_counter() - start < 2


def test_command_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["reckon", "drill for m eight"]) == 0
    out = capsys.readouterr().out
    assert "6.8 mm" in out
    assert "source: ISO 2306" in out
    assert cli.main(["reckon", "--json", "what is two pints in litres"]) == 1
    body = json.loads(capsys.readouterr().out)
    assert body["accepted"] is False
    assert "US pint" in body["question"]
    assert cli.main(["reckon", "good morning"]) == 1
    assert "[reckon-question]" in capsys.readouterr().err
