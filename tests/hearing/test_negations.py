"""A free ear's negation that a hold's phrase lacks denies it, in both languages. The English auxiliaries and the
declension of "kein" are from memory of the grammars; common practice, no source."""

from __future__ import annotations

import pytest

from bench_voice.core.intents import Expected
from bench_voice.core.sheet import Hold, JobSheet, Step
from bench_voice.hearing.witness import witness
from bench_voice.ports import Heard
from bench_voice.words.phrases import load_language

_AUXILIARIES = "is are was were do does did has have had could would should must might need ought dare"
_OTHERS = "can't won't shan't not no never none cannot without nobody"
ENGLISH = [*(f"{word}n't" for word in _AUXILIARIES.split()), *_OTHERS.split()]
_ENDINGS = ("", "e", "en", "em", "er", "es", "s", "esfalls", "eswegs")
GERMAN = [*(f"kein{ending}" for ending in _ENDINGS), "nicht", "nichts", "nie", "niemals", "niemand", "ohne", "weder"]
PHRASES = {"en": "confirm drum is blocked", "de": "bestätige trommel ist blockiert"}


def denies(code: str, written: str) -> bool:
    phrase = PHRASES[code]
    step = Step("block", "Block it.", hold=Hold("blocked", phrase))
    sheet = JobSheet("s", "S", "1", "winch", "one", (step,), language=code)
    heard = Heard("whisper", phrase, 0.95, free_words=written)
    found = witness(heard, Expected.at(sheet, step), load_language(code), is_alone=False)
    assert found.denied is found.negates(phrase)
    return found.denied


@pytest.mark.parametrize(("code", "word"), [*(("en", word) for word in ENGLISH), *(("de", word) for word in GERMAN)])
def test_a_negation_denies(code: str, word: str) -> None:
    words = PHRASES[code].split()
    assert denies(code, " ".join((*words[:2], word, *words[3:])))


@pytest.mark.parametrize(("code", "word"), [("en", "or"), ("en", "if"), ("de", "oder"), ("de", "falls"), ("de", "ob")])
def test_what_is_left_open_denies(code: str, word: str) -> None:
    assert denies(code, f"{PHRASES[code]} {word}")


@pytest.mark.parametrize(("code", "word"), [("en", "nicht"), ("en", "kein"), ("de", "cannot"), ("de", "isn't")])
def test_each_language_has_its_own(code: str, word: str) -> None:
    assert not denies(code, f"{PHRASES[code]} {word}")


@pytest.mark.parametrize("code", ["en", "de"])
def test_the_phrase_itself_denies_nothing(code: str) -> None:
    assert not denies(code, PHRASES[code])
