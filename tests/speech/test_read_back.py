"""What a hold's read-back says: the phrase without the word that it begins with, in each language."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench_voice.core.intents import Expected, Judgement
from bench_voice.core.replies import Statement, reply
from bench_voice.core.sheet import Finding
from bench_voice.sheets import load_text
from bench_voice.speech.understand import understand
from bench_voice.testing import Bench, small_sheet, step
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker
from bench_voice.words.wording import sentence
from tests.speech.bench import SHEET, STEPS

GERMAN = Path(__file__).resolve().parents[1] / "sheets" / "german-pump.yaml"


def test_english() -> None:
    bench = Bench(small_sheet(step("block", hold="confirm both wheels are blocked"), step("end", gate=True)))
    assert bench.type("confirm both wheels are blocked") == (
        "You confirm that both wheels are blocked: affirm or negative?",
    )


def test_german() -> None:
    bench = Bench(load_text(GERMAN.read_text(encoding="utf-8"), "german-pump.yaml"))
    assert bench.type("bestätige stecker ist aus der dose") == (
        "Du bestätigst: stecker ist aus der dose. Affirmativ oder negativ?",
    )
    before = reply("resumed-confirmed", names=(Statement("bestätige stecker ist aus der dose"),))
    assert sentence(Speaker(load_language("de")), before) == "Bestätigt war: stecker ist aus der dose."


@pytest.mark.parametrize(
    ("words", "is_good"),
    [("drum surface good, no cracks", True), ("drum surface good, hardly any play", True),
     ("drum surface good, not", False), ("drum surface good, no", False), ("drum surface good, wasn't", False)],
)  # fmt: skip
def test_a_negation_behind_a_judgement(words: str, is_good: bool) -> None:
    meant = understand(words, Expected.at(SHEET, STEPS["look"]), load_language("en"))
    assert (isinstance(meant, Judgement) and meant.finding is Finding.GOOD) is is_good
