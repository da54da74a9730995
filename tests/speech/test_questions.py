"""Questions of the trade asked at the bench: answered or asked back in every place, and never taken for a reading."""

from __future__ import annotations

from decimal import Decimal

import pytest

from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Asks, Kind
from bench_voice.reckon import MANUAL, ReckonError, reckon
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language
from tests.reckon.test_questions import ANSWERED, ASKED
from tests.speech.bench import PLACES, at

QUESTIONS = [row[0] for row in ANSWERED] + [words for words, slug in ASKED if slug != "reckon-question"]


@pytest.mark.parametrize("words", QUESTIONS)
def test_what_reckon_answers_is_answered_at_every_step(words: str) -> None:
    try:
        answer = reckon(words)
    except ReckonError:
        answer = None
    for place in PLACES:
        intent = understand(words, at(place))
        if answer is None:
            assert (intent.kind, flat_of(intent).asks) == (Kind.AMBIGUOUS, Asks.QUESTION), place
            assert flat_of(intent).detail
            assert not flat_of(intent).options, "a question offers nothing that affirm could take"
            continue
        assert intent.kind is Kind.QUERY, place
        shown = flat_of(intent).in_limit_unit if flat_of(intent).text == "conversion" else flat_of(intent).value
        assert shown == answer.values[0].shown, place
        assert (MANUAL in flat_of(intent).detail) is answer.is_limit


@pytest.mark.parametrize(
    ("words", "said"),
    [
        # What a recogniser that writes freely makes of the same question: figures, hyphens, other spellings.
        ("What is 65 foot-pounds in Newton meters?", "88.1"),
        ("what's 65 ft lb in nm", "88.1"),
        ("what is sixty five foot pounds in newton meters", "88.1"),
    ],
)
def test_other_spellings_have_the_same_answer(words: str, said: str) -> None:
    intent = understand(words, at("lining"))
    assert (intent.kind, flat_of(intent).in_limit_unit) == (Kind.QUERY, Decimal(said))


def test_a_number_that_could_be_two_is_asked_in_words() -> None:
    intent = understand("what is one ten foot pounds in newton metres", at("lining"))
    assert flat_of(intent).detail.startswith(
        "The value could be one hundred and ten foot pounds or one point one zero foot"
    )


@pytest.mark.parametrize(
    ("words", "value", "unit", "target", "shown"),
    [
        ("wie viel sind fünfundsechzig fußpfund in newtonmeter", "65", "lbf*ft", "N*m", "88.1"),
        ("was sind zwei komma fünf bar in kilopascal", "2.5", "bar", "kPa", "250"),
    ],
)
def test_conversions_in_german(words: str, value: str, unit: str, target: str, shown: str) -> None:
    from dataclasses import replace

    expected = at("lining")
    german = replace(expected, sheet=replace(expected.sheet, language="de"))
    intent = understand(words, german, load_language("de"))
    assert (intent.kind, flat_of(intent).value, flat_of(intent).unit, flat_of(intent).detail) == (
        Kind.QUERY,
        Decimal(value),
        unit,
        target,
    )
    assert flat_of(intent).in_limit_unit == Decimal(shown)
