"""Speaking: digits kept, singular for exactly one, templates from wording.yaml."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

import pytest

from bench_voice.words.phrases import Language, grammars_dir, load_language
from bench_voice.words.say import Speaker, WordingError


@dataclass(frozen=True)
class Quantity:
    value: Decimal
    unit: str


@pytest.fixture
def speaker(tmp_path: Path) -> Speaker:
    folder = tmp_path / "en"
    shutil.copytree(grammars_dir() / "en", folder)
    (folder / "wording.yaml").write_text(
        'reading: "{name}, {quantity}."\nlist: "Open: {names}."\nnumber: "Step {n} of {of}."\nplain: "Noted."\n'
    )
    language: Language = load_language("en", folder)
    return Speaker(language)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("4.60", "four point six zero"),
        ("0.05", "zero point zero five"),
        ("101", "one hundred and one"),
        ("1234", "one thousand two hundred and thirty four"),
        ("1001", "one thousand and one"),
        ("-3.5", "minus three point five"),
        ("1E+3", "one thousand"),
        ("21000000", "twenty one million"),
    ],
)
def test_numbers(speaker: Speaker, value: str, words: str) -> None:
    """Words as CLDR's %spellout-cardinal-verbose and num2words have them, without hyphens and commas."""
    assert speaker.number(Decimal(value)) == words


def test_a_number_too_large_for_words_is_said_in_digits(speaker: Speaker) -> None:
    assert speaker.number(Decimal("9" * 17)) == " ".join(["nine"] * 17)


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        ("4.6", "mm", "four point six millimetres"),
        ("1", "mm", "one millimetre"),
        ("-1", "degC", "minus one degree celsius"),
        ("1.0", "mm", "one point zero millimetres"),
        ("65", "lbf*ft", "sixty five foot pounds"),
        ("3", "count", "three"),
    ],
)
def test_quantities(speaker: Speaker, value: str, unit: str, words: str) -> None:
    assert speaker.quantity(Decimal(value), unit) == words


def test_sentences(speaker: Speaker) -> None:
    assert (
        speaker.render("reading", name="Lining", quantity=Quantity(Decimal("4.6"), "mm"))
        == "Lining, four point six millimetres."
    )
    assert speaker.render("list", names=("tape", "strap", "guard")) == "Open: tape, strap and guard."
    assert speaker.render("list", names=["tape"]) == "Open: tape."
    assert speaker.render("number", n=3, of=Decimal(20)) == "Step three of twenty."
    assert speaker.render("plain", unused="x") == "Noted."


def test_a_missing_sentence_or_field_says_so(speaker: Speaker) -> None:
    with pytest.raises(WordingError, match=r'no sentence "nothing".*wording-missing'):
        speaker.render("nothing")
    with pytest.raises(WordingError, match=r'"reading" wants a field "quantity".*wording-field'):
        speaker.render("reading", name="Lining")
    with pytest.raises(KeyError):
        speaker.render("nothing")


def test_every_english_sentence_has_a_german_one_with_the_same_fields() -> None:
    import string

    def fields(text: str) -> set[str]:
        return {name for _, name, _, _ in string.Formatter().parse(text) if name}

    english, german = load_language("en").wording, load_language("de").wording
    assert set(english) == set(german)
    assert {key for key in english if fields(english[key]) != fields(german[key])} == set()


@pytest.mark.parametrize("code", ["en", "de"])
def test_each_verdict_on_points_together_has_its_sentence(code: str) -> None:
    """Of a reading without a limit of its own the difference may be all that is judged, and good."""
    wording = load_language(code).wording
    bad = [f"{one}{of}" for one in ("out", "borderline") for of in ("-low", "-high", "-spread", "-pair")]
    good = ["noted", "good", "good-spread", "good-pair", "on-limit-low", "on-limit-high"]
    wanted = {f"verdict-{one}" for one in (*bad, *good)}
    assert wanted <= set(wording)
