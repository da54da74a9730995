"""The second language: numbers with inverted tens, comma decimals, its own units and commands. Nothing is English."""

from __future__ import annotations

from decimal import Decimal

import pytest

from bench_voice.core.intents import Expected, Kind, Measurement, Question
from bench_voice.core.sheet import Hold, Item, ItemKind, JobSheet, Limit, Look, ReadingSpec, Step
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker
from bench_voice.words.units import DIMENSIONS, same_dimension
from tests.speech.bench import canonical

D = Decimal
READINGS = {
    r.id: r
    for r in (
        ReadingSpec("belag", "linker Belag", Limit("mm", low=D("1.5"), new=D("5.0"))),
        ReadingSpec("rechts", "rechter Belag", Limit("mm", low=D("1.5"), new=D("5.0"))),
        ReadingSpec("mutter", "Nabenmutter", Limit("N*m", low=D(80), high=D(90))),
        ReadingSpec("wasser", "Wassertemperatur", Limit("degC", high=D(110))),
        ReadingSpec("stellen", "Klotz vorne", Limit("mm", low=D(2), new=D(9)), points=3),
        ReadingSpec("dauer", "Warmlaufzeit", Limit("s", high=D(300))),
        ReadingSpec("spiel", "Lagerspiel", Limit("mm")),
    )
}
HOLD = Hold("keile", "bestätige die räder sind vorn und hinten verkeilt")
STEPS = {
    **{id_: Step(id_, "Messen.", readings=(id_,)) for id_ in READINGS},
    "halt": Step("halt", "Halt.", hold=HOLD),
    "blick": Step("blick", "Ansehen.", looks=("trommel",)),
}
SHEET = JobSheet(
    "de", "Werkstatt", "1", "Anhänger", "A1", tuple(STEPS.values()), "de", readings=READINGS,
    looks={"trommel": Look("trommel", "Trommelfläche")},
    items={"gurt": Item("gurt", "Gurt am Hebel", ItemKind.TEMPORARY)},
)  # fmt: skip

# Common practice, no source; spellings as Duden and CLDR have them.
ROWS = [
    ("belag", "vier komma sechs", "reading belag 4.6 mm"),
    ("belag", "vier Komma sechs null Millimeter", "reading belag 4.60 mm"),
    ("belag", "Linker Belag vier Komma sechs", "reading belag 4.6 mm"),
    ("belag", "linker belag ist vier komma sechs millimeter", "reading belag 4.6 mm"),
    ("belag", "rechter Belag vier Komma sechs", "-"),
    ("belag", "4,6", "reading belag 4.6 mm"),
    ("belag", "4,60 mm", "reading belag 4.60 mm"),
    ("belag", "4.6", "-"),
    ("belag", "komma sechs fünf", "reading belag 0.65 mm"),
    ("belag", "komma fünfundsechzig", "reading belag 0.65 mm"),
    ("belag", "drei viertel", "reading belag 0.75 mm"),
    ("belag", "zwei und ein halb", "reading belag 2.5 mm"),
    ("belag", "drei vierundsechzigstel zoll", "reading belag 0.046875 in"),
    ("belag", "vier", "reading belag 4 mm"),
    ("belag", "zwo komma fünf", "reading belag 2.5 mm"),
    ("belag", "ungefähr vier", "ask confirm-number offers belag 4 mm"),
    ("belag", "knapp vier Millimeter", "ask confirm-number offers belag 4 mm"),
    ("belag", "zwischen vier und fünf", "ask confirm-number"),
    ("belag", "vier oder fünf", "ask confirm-number"),
    ("belag", "ein paar Millimeter", "ask confirm-number"),
    ("belag", "vier Newtonmeter", "ask wrong-unit [newtonmeter]"),
    ("belag", "vier Komma sechs, Korrektur, vier Komma acht", "reading belag 4.8 mm"),
    ("belag", "Korrektur, vier Komma acht", "correction 4.8 mm"),
    ("belag", "Korrektur rechter Belag vier Komma acht", "correction rechts 4.8 mm"),
    ("belag", "ist es vier Komma sechs", "-"),
    ("belag", "nicht vier Komma sechs", "-"),
    ("belag", "ich habe vier Kinder", "-"),
    ("belag", "vier komma", "-"),
    ("belag", "four point six", "-"),
    ("belag", "next", "-"),
    ("belag", "affirm", "-"),
    ("spiel", "einhundertzehn", "reading spiel 110 mm"),
    ("spiel", "hundertzehn", "reading spiel 110 mm"),
    ("spiel", "zweihundertfünfundzwanzig", "reading spiel 225 mm"),
    ("spiel", "zwei hundert fünf und zwanzig", "reading spiel 225 mm"),
    ("spiel", "eins zehn", "ask which-number offers spiel 110 mm / spiel 1.10 mm"),
    ("spiel", "vierundzwanzig fünfzig", "ask which-number offers spiel 2450 mm / spiel 24.50 mm"),
    ("spiel", "vier sechs", "reading spiel 46 mm"),
    ("spiel", "null komma null fünf", "reading spiel 0.05 mm"),
    ("spiel", "dreissig", "reading spiel 30 mm"),
    ("mutter", "fünfundachtzig", "reading mutter 85 N*m"),
    ("mutter", "Nabenmutter fünfundachtzig Newtonmeter", "reading mutter 85 N*m"),
    ("mutter", "Nabenmuter fünfundachtzig", "reading mutter 85 N*m"),
    ("mutter", "acht Komma sechs Kilopondmeter", "reading mutter 8.6 kgf*m"),
    ("wasser", "minus fünf Grad", "reading wasser -5 degC"),
    ("wasser", "fünfundneunzig Grad Celsius", "reading wasser 95 degC"),
    ("dauer", "eine Minute dreißig Sekunden", "reading dauer 90 s"),
    ("stellen", "vier Komma sechs, vier Komma fünf, vier Komma vier", "reading stellen 4.6,4.5,4.4 mm"),
    ("stellen", "vier Komma sechs und vier Komma fünf", "reading stellen 4.6,4.5 mm"),
    ("halt", "Bestätige, die Räder sind vorn und hinten verkeilt.", "confirm keile"),
    ("halt", "bestätige die räder sind vorn verkeilt", "-"),
    ("halt", "bestätige die räder sind nicht vorn und hinten verkeilt", "-"),
    ("blick", "gut", 'judgement trommel "good"'),
    ("blick", "Trommelfläche schlecht, ein Riss", 'judgement trommel "bad" [ein riss]'),
    ("blick", "nicht gut", "-"),
    ("blick", "weiter", "next"),
    ("blick", "weiter so", "-"),
    ("blick", "geh zurück", "back"),
    ("blick", "was ist noch offen", "left"),
    ("blick", "affirmativ", "affirm"),
    ("blick", "Notiz die Dichtung tropft", 'note "die dichtung tropft"'),
    ("blick", "abgenommen Gurt am Hebel", 'taken-off gurt "gurt am hebel"'),
    ("blick", "Wecker zehn Minuten für den Kleber", 'timer 10 min "kleber"'),
    ("blick", "wie viel sind fünfundachtzig Newtonmeter in Fußpfund", 'query 85 N*m "conversion" [lbf*ft]'),
    ("blick", "was war linker Belag", 'query belag "reading"'),
]  # fmt: skip


@pytest.mark.parametrize(("place", "heard", "meaning"), ROWS)
def test_rows(place: str, heard: str, meaning: str) -> None:
    assert canonical(understand(heard, Expected.at(SHEET, STEPS[place]))) == meaning


@pytest.mark.parametrize("place", READINGS)
def test_what_it_says_is_understood(place: str) -> None:
    speaker = Speaker(load_language("de"))
    expected = Expected.at(SHEET, STEPS[place])
    spec = READINGS[place]
    for unit in [unit for unit in DIMENSIONS if same_dimension(unit, spec.unit)]:
        for text in ("1", "4.60", "21", "0.05", "30.1"):
            intent = Measurement(Kind.READING, name=place, value=D(text), unit=unit)
            heard = understand(speaker.intent_words(intent, expected), expected)
            assert (
                heard.offered if isinstance(heard, Question) and heard.offered else heard
            ).meaning() == intent.meaning()


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("4.60", "vier komma sechs null"),
        ("21", "einundzwanzig"),
        ("101", "einhunderteins"),
        ("1234", "eintausendzweihundertvierunddreißig"),
        ("16", "sechzehn"),
    ],
)
def test_numbers(value: str, words: str) -> None:
    """As num2words spells them (which writes "Komma")."""
    assert Speaker(load_language("de")).number(D(value)) == words
