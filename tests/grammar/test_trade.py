"""The forms that the first ear knows for questions of the trade are questions that `reckon` answers."""

from __future__ import annotations

import pytest

from bench_voice.grammar.jsgf import jsgf
from bench_voice.grammar.trade import TRADE
from bench_voice.grammar.vocabulary import unknown_words, vocabulary
from bench_voice.reckon import reckon
from bench_voice.reckon.matching import matches
from bench_voice.reckon.questions import vocabulary as words_of_reckon
from bench_voice.reckon.words import language
from bench_voice.words.phrases import load_language
from tests.speech.bench import at

ENGLISH = TRADE["en"]
# What follows each lead, so that the whole is answered.
AFTER = {
    "extension": "twelve inches plus four inches forty foot pounds",
    "torque for m": "ten class eight point eight oiled",
    "tyre date": "two three zero six",
    "load index": "fifty eight",
    "voltage drop of": "two metres of one point five square millimetres cable at ten amps",
    "battery": "twelve point three volts",
    "sleeve": "five point five thimble twenty eight",
    "wrench tolerance at": "twenty five newton metres",
}


@pytest.mark.parametrize("words", [
    *(f"{lead} twelve millimetres {join} inches" for lead in ENGLISH.converts for join in ENGLISH.joins),
    *(f"{lead} millimetres in twelve inches" for lead in ENGLISH.many),
    *(f"{lead} eight" for lead in ENGLISH.threads),
    *(f"{lead} {AFTER[lead]}" for lead in ENGLISH.leads),
])  # fmt: skip
def test_each_form_is_answered(words: str) -> None:
    assert reckon(words).values


def test_every_unit_is_one_and_every_word_is_known() -> None:
    for unit in ENGLISH.units:
        assert tuple(unit.split()) in language().units or tuple(unit.split()) in language().ambiguous_units, unit
    assert set(ENGLISH.all_words()) <= set(words_of_reckon())
    assert list(matches("{u:unit}", ("newton", "metres")))


def test_the_words_are_the_first_ears_alone() -> None:
    """A free ear's limited search is for readings and commands; `check` names only the sheet's own words."""
    heard = vocabulary(at("lining"), load_language("en"))
    assert "thimble" in heard.all_words()
    assert "thimble" not in heard.words()
    assert "<tradeleads>" in jsgf(heard)
    assert "thimble" not in unknown_words(heard, lambda word: False)
    assert vocabulary(at("lining"), load_language("de")).trade is None
