"""Numbers spelled by others are understood as exactly themselves.

Sources: num2words 0.5.14; CLDR's spell-out rules through ICU 77.1 (spellout.txt.xz, made by make_spellout.py).
Both go through `understand` at a reading that has no limit, so that nothing about the value can help.
"""

from __future__ import annotations

import lzma
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from num2words import num2words

from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Expected, Kind
from bench_voice.core.sheet import JobSheet, Limit, ReadingSpec, Step
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker

# So many utterances take minutes with coverage on: `tests/run` runs these without it.
pytestmark = pytest.mark.heavy


def _step(language: str) -> Expected:
    step = Step("s", "Measure.", readings=("x",))
    readings = {"x": ReadingSpec("x", "xenon", Limit("count"))}
    return Expected.at(JobSheet("j", "j", "1", "m", "m", (step,), language, readings=readings), step)


STEPS = {code: _step(code) for code in ("en", "de")}


def failures(spelled: Iterator[tuple[str, str]], code: str = "en") -> list[str]:
    """What is not a READING whose digits are exactly those wanted."""
    wrong = []
    for words, digits in spelled:
        intent = understand(words, STEPS[code])
        if intent.kind is not Kind.READING or str(intent.value) != digits:
            wrong.append(f"{words!r}: {intent.kind} {flat_of(intent).value}, wanted {digits}")
    return wrong


@cache
def icu() -> list[tuple[str, str, str, str]]:
    text = lzma.decompress(Path(__file__).with_name("spellout.txt.xz").read_bytes()).decode()
    rows = (line.split("\t") for line in text.splitlines() if not line.startswith("#"))
    return [(a, b, c, d) for a, b, c, d in rows]


@pytest.mark.parametrize("code", ["en", "de"])
def test_every_whole_number_to_9999_by_num2words(code: str) -> None:
    assert failures(((num2words(n, lang=code), str(n)) for n in range(10_000)), code) == []


@pytest.mark.parametrize(
    ("code", "rules"),
    [("en", "%spellout-cardinal"), ("en", "%spellout-cardinal-verbose"), ("de", "%spellout-cardinal-neuter")],
)
def test_every_whole_number_to_9999_by_icu(code: str, rules: str) -> None:
    spelled = [(words, number) for of, rule_set, number, words in icu() if (of, rule_set) == (code, rules)]
    assert len(spelled) == 10_000
    assert failures(iter(spelled), code) == []


def without_zeros(number: Decimal) -> str:
    """Neither source says trailing zeros of decimals (check-values 0.5)."""
    return str(int(number)) if number == int(number) else str(number.normalize())


def hundredths() -> Iterator[Decimal]:
    return (Decimal(n) / 100 for n in range(20_001))


@pytest.mark.parametrize("code", ["en", "de"])
def test_every_two_decimal_value_to_200_by_num2words(code: str) -> None:
    spelled = ((num2words(v.normalize() if v != int(v) else int(v), lang=code), without_zeros(v)) for v in hundredths())
    assert failures(spelled, code) == []


@pytest.mark.parametrize("code", ["en", "de"])
def test_every_two_decimal_value_to_200_by_icu(code: str) -> None:
    spelled = [(words, without_zeros(Decimal(v))) for of, rules, v, words in icu() if (of, rules) == (code, "decimal")]
    assert len(spelled) == 20_001
    assert failures(iter(spelled), code) == []


def test_every_two_decimal_value_with_its_zeros() -> None:
    """The whole part by num2words, both decimals as digits: 4.60 stays 4.60."""

    def spelled() -> Iterator[tuple[str, str]]:
        for n in range(20_001):
            whole, decimals = divmod(n, 100)
            digits = " ".join(num2words(int(digit)) for digit in f"{decimals:02d}")
            yield f"{num2words(whole)} point {digits}", f"{whole}.{decimals:02d}"

    assert failures(spelled()) == []


def test_decimals_in_tens() -> None:
    """Common practice, no source: "point sixty five" is .65."""
    spelled = ((f"{num2words(7)} point {num2words(n)}", f"7.{n}") for n in range(10, 100))
    assert failures(spelled) == []


def _ordinal(number: int, source: str) -> str:
    if source == "num2words":
        return str(num2words(number, to="ordinal"))
    return next(words for of, rules, n, words in icu() if (of, rules, n) == ("en", "ordinal", str(number)))


def _cardinal(number: int, source: str) -> str:
    if source == "num2words":
        return str(num2words(number))
    return next(words for of, rules, n, words in icu() if (of, rules, n) == ("en", "%spellout-cardinal", str(number)))


@pytest.mark.parametrize("source", ["num2words", "icu"])
@pytest.mark.parametrize("is_reduced", [True, False])
def test_every_64th_to_4(source: str, is_reduced: bool) -> None:
    """Mixed numbers; numerators are cardinals, denominators ordinals (half and quarter have words of their own)."""

    def spelled() -> Iterator[tuple[str, str]]:
        for n in range(1, 257):
            whole, rest = divmod(n, 64)
            if not rest:
                yield _cardinal(whole, source), str(whole)
                continue
            part = Fraction(rest, 64)
            top, bottom = (part.numerator, part.denominator) if is_reduced else (rest, 64)
            name = {2: "half"}.get(bottom) or _ordinal(bottom, source)
            words = f"{_cardinal(top, source)} {name}{'s' if top != 1 else ''}"
            if not whole:
                yield words, str(Decimal(n) / 64)
            else:
                yield f"{_cardinal(whole, source)} and {words}", str(Decimal(n) / 64)

    assert failures(spelled()) == []


@pytest.mark.parametrize("code", ["en", "de"])
def test_what_we_say_is_understood(code: str) -> None:
    speaker = Speaker(load_language(code))
    values = [Decimal(n) for n in (*range(0, 2100), *range(9_000, 1_200_000, 997), 10**6, 21 * 10**6 + 1, 10**14 + 7)]
    values += [Decimal(f"{n}.{n % 1000:03d}") for n in range(0, 400_000, 991)]
    absurd = Decimal(10**9)  # asked as implausible, by values.is_absurd
    spelled = ((speaker.number(v), str(v)) for v in values if v <= absurd)
    assert failures(spelled, code) == []


@pytest.mark.parametrize(
    ("words", "digits"),
    [
        # ICAO Annex 10 Vol. II, 5.2.1.4: worked strings.
        ("one one eight decimal four five zero", "118.450"),
        ("three thousand four hundred", "3400"),
        ("niner fife fower tree", "9543"),
        ("two five decimal fower", "25.4"),
    ],
)
def test_radiotelephony(words: str, digits: str) -> None:
    assert failures(iter([(words, digits)])) == []


@pytest.mark.parametrize("words", ["nine hundred trillion", "nine " * 40, "9" * 4000, "point " + "nine " * 13])
def test_numbers_too_large_are_never_recorded(words: str) -> None:
    assert understand(words, STEPS["en"]).kind in (Kind.AMBIGUOUS, Kind.UNKNOWN)
