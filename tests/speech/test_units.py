"""Conversions against NIST SP 811 (2008), Appendix B.8 (printed factors) and exact definitions."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pint
import pytest

from bench_voice.errors import BenchError
from bench_voice.words.phrases import load_language
from bench_voice.words.units import DIMENSIONS, UNITS, convert, dimension_name, is_unit, same_dimension

# interface.md, "JSON of understand and hear": the closed list.
CLOSED = (
    "mm cm m um in thou N*m lbf*ft lbf*in ozf*in kgf*m kgf*cm psi kPa bar mbar kgf/cm**2 V mV A mA uA ohm kohm Mohm "
    "degC degF deg mL L fl_oz g kg lb oz s min h km mile rpm percent count"
)
INTERFACE = set(CLOSED.split())

# From, to, factor as printed in SP 811 B.8 (its digits, its power of ten applied).
PRINTED = [
    ("lbf*ft", "N*m", "1.355818"),
    ("lbf*in", "N*m", "0.1129848"),
    ("ozf*in", "N*m", "0.007061552"),
    ("kgf*m", "N*m", "9.80665"),
    ("psi", "kPa", "6.894757"),
    ("bar", "kPa", "100"),
    ("kgf/cm**2", "kPa", "98.0665"),
    ("lb", "kg", "0.4535924"),
    ("in", "mm", "25.4"),
    ("thou", "um", "25.4"),
    ("mile", "km", "1.609344"),
    ("fl_oz", "mL", "29.57353"),
]

# Exact: the international yard and pound of 1959 (25.4 mm, 0.453 592 37 kg), g_n = 9.806 65 m/s^2 (CGPM 1901),
# US gallon = 231 cubic inches.
INCH = Fraction(254, 10)
POUND = Fraction(45359237, 10**8)
G = Fraction(980665, 10**5)
EXACT = [
    ("in", "mm", INCH),
    ("thou", "mm", INCH / 1000),
    ("mile", "km", INCH * 12 * 5280 / 10**6),
    ("lb", "kg", POUND),
    ("oz", "g", POUND * 1000 / 16),
    ("lbf*ft", "N*m", POUND * G * 12 * INCH / 1000),
    ("lbf*in", "N*m", POUND * G * INCH / 1000),
    ("ozf*in", "N*m", POUND / 16 * G * INCH / 1000),
    ("lbf*ft", "lbf*in", Fraction(12)),
    ("kgf*m", "N*m", G),
    ("kgf*cm", "N*m", G / 100),
    ("psi", "kPa", POUND * G / (INCH / 1000) ** 2 / 1000),
    ("kgf/cm**2", "kPa", G * 10),
    ("bar", "kPa", Fraction(100)),
    ("mbar", "kPa", Fraction(1, 10)),
    ("fl_oz", "mL", 231 * (INCH / 10) ** 3 / 128),
    ("L", "mL", Fraction(1000)),
    ("cm", "mm", Fraction(10)),
    ("m", "mm", Fraction(1000)),
    ("um", "mm", Fraction(1, 1000)),
    ("V", "mV", Fraction(1000)),
    ("A", "mA", Fraction(1000)),
    ("mA", "uA", Fraction(1000)),
    ("kohm", "ohm", Fraction(1000)),
    ("Mohm", "kohm", Fraction(1000)),
    ("kg", "g", Fraction(1000)),
    ("h", "min", Fraction(60)),
    ("min", "s", Fraction(60)),
]


def test_the_list_is_the_promised_one() -> None:
    assert set(UNITS) == INTERFACE
    assert is_unit("N*m")
    assert not is_unit("Nm")


@pytest.mark.parametrize(("from_unit", "to_unit", "printed"), PRINTED)
def test_printed_factors(from_unit: str, to_unit: str, printed: str) -> None:
    """Equal after rounding to the digits that SP 811 prints."""
    factor = convert(Decimal(1), from_unit, to_unit)
    assert factor.quantize(Decimal(printed)) == Decimal(printed)


@pytest.mark.parametrize(("from_unit", "to_unit", "factor"), EXACT)
def test_exact_factors(from_unit: str, to_unit: str, factor: Fraction) -> None:
    """Within 1e-12 of the definition, both ways; in fact within 1e-26."""
    for value in (Decimal(1), Decimal("4.60"), Decimal("0.0001"), Decimal(99999)):
        there = convert(value, from_unit, to_unit)
        assert abs(Fraction(there) / (Fraction(value) * factor) - 1) < Fraction(1, 10**26)
        back = convert(there, to_unit, from_unit)
        assert abs(Fraction(back) / Fraction(value) - 1) < Fraction(1, 10**26)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(401, 205), (446, 230), (284, 140), (311, 155), (500, 260), (356, 180), (32, 0), (-40, -40)],
)
def test_temperatures(fahrenheit: int, celsius: int) -> None:
    """SP 811 B.8: (t - 32)/1.8. The first six are dry boiling points of 49 CFR 571.116 in both scales."""
    assert convert(Decimal(fahrenheit), "degF", "degC") == celsius
    assert convert(Decimal(celsius), "degC", "degF") == fahrenheit


def test_a_difference_of_temperatures_has_no_offset() -> None:
    """SP 811 B.8, interval: 5/9."""
    assert convert(Decimal(10), "degC", "degF", interval=True) == 18
    assert convert(Decimal(10), "degC", "degF") == 50


def test_the_same_unit_keeps_its_digits_and_others_claim_none() -> None:
    assert str(convert(Decimal("4.60"), "mm", "mm")) == "4.60"
    assert str(convert(Decimal("1"), "in", "mm")) == "25.4"
    assert str(convert(Decimal("5000"), "mm", "m")) == "5"
    assert str(convert(Decimal("3"), "km", "mm")) == "3000000"


def test_dimensions_agree_with_pint() -> None:
    """Our table of dimensions against pint's: two units share ours exactly when pint can convert them."""
    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    kinds = {unit: registry.Unit({"fl_oz": "fluid_ounce"}.get(unit, unit)).dimensionality for unit in UNITS}
    without_pint = {"deg", "percent", "count", "rpm"}  # dimensionless, or an inverse time, to pint
    for a in UNITS:
        for b in UNITS:
            if {a, b} & without_pint:
                assert same_dimension(a, b) == (a == b)
            else:
                assert same_dimension(a, b) == (kinds[a] == kinds[b]), (a, b)


def test_refusals_name_the_dimensions() -> None:
    with pytest.raises(BenchError, match="length"):
        convert(Decimal(1), "N*m", "mm")
    with pytest.raises(BenchError, match='"Nm" is not a unit'):
        convert(Decimal(1), "Nm", "N*m")
    with pytest.raises(BenchError, match="not a unit"):
        dimension_name("furlong")
    assert not same_dimension("Nm", "Nm")


@pytest.mark.parametrize("code", ["en", "de"])
def test_every_unit_is_spoken_and_every_dimension_has_a_word(code: str) -> None:
    language = load_language(code)
    assert set(language.unit_words) == set(UNITS)
    assert set(language.dimension_words) == set(DIMENSIONS.values())
