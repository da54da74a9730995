"""What a question is answered with: values with units, the formula, where it comes from, and what to check.

Values stay unrounded; only `shown` is rounded, and where it stands for a limit, to the safe side by who made it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from bench_voice.errors import BenchError

MANUAL = "Check against the machine's manual."
PRACTICE = "common practice, no source"


class ReckonError(BenchError):
    """Bad or doubtful input, asked about with its reason. Nothing is recorded and nothing is answered."""

    exit_code = 1


@dataclass(frozen=True)
class Value:
    """`value` in `unit`, unrounded; `shown` is what is printed and said. `word` stands for a value without a number."""

    name: str
    value: Decimal
    unit: str
    shown: Decimal
    word: str = ""


@dataclass(frozen=True)
class Answer:
    """`sentence` holds a field {name} for each of `values`. `source` names the standard or handbook of `formula`.

    `is_limit`: the value stands for one that the maker gives; it is said with `MANUAL`.
    """

    kind: str
    values: tuple[Value, ...]
    sentence: str
    formula: str
    source: str
    is_limit: bool = False
    warnings: tuple[str, ...] = ()

    @property
    def value(self) -> Decimal:
        """The first value, unrounded."""
        return self.values[0].value

    @property
    def unit(self) -> str:
        return self.values[0].unit

    def get(self, name: str) -> Value:
        """Raises KeyError for a name that the answer does not have."""
        for one in self.values:
            if one.name == name:
                return one
        raise KeyError(name)


def number(value: int | str | float | Decimal) -> Decimal:
    """`value` as Decimal; floats through their shortest text. Raises ReckonError for what is no finite number."""
    result = value if isinstance(value, Decimal) else Decimal(str(value))
    if not result.is_finite():
        raise ReckonError(f"{value} is not a number.", mend="Say the number again.", slug="reckon-range")
    return result


def digits_said(*values: Decimal) -> int:
    """Significant digits of the value that was said with the fewest; "110" counts as three."""
    return min(len(str(abs(one).as_tuple().digits and int("".join(map(str, one.as_tuple().digits))))) for one in values)


def digits_shown(*said: Decimal) -> int:
    """Significant digits of a figure that was converted: one more than the longest of what was said, at least three."""
    return max(3, *(digits_said(one) + 1 for one in said))


def significant(value: Decimal, digits: int, rounding: str = ROUND_HALF_EVEN) -> Decimal:
    """`value` to so many significant digits, half to even (ISO 80000-1 Annex B rule A). Whole numbers stay plain."""
    if not value or digits < 1:
        return value
    place = value.adjusted() - digits + 1
    rounded = value.quantize(Decimal(1).scaleb(place), rounding=rounding)
    return rounded if place <= 0 else rounded.quantize(Decimal(1))


def to_place(value: Decimal, decimals: int, rounding: str = ROUND_HALF_EVEN) -> Decimal:
    """`value` with so many decimals."""
    return value.quantize(Decimal(1).scaleb(-decimals), rounding=rounding)


def trimmed(value: Decimal) -> Decimal:
    """Without the zeros behind the point that nobody said and without an exponent."""
    value = value.normalize()
    return value.quantize(Decimal(1)) if value == value.to_integral_value() and value.adjusted() < 27 else value


def value_of(name: str, value: Decimal, unit: str, digits: int = 3, rounding: str = ROUND_HALF_EVEN) -> Value:
    """A value shown with so many significant digits, without empty zeros."""
    return Value(name, value, unit, trimmed(significant(value, digits, rounding)))


def stated(name: str, value: Decimal, unit: str) -> Value:
    """A value shown as it is: said by the person or printed in a table."""
    return Value(name, value, unit, value)


def positive(value: Decimal, name: str, is_zero_allowed: bool = False) -> Decimal:
    """`value`, or ReckonError where it is negative (or zero)."""
    number(value)
    if value < 0 or (value == 0 and not is_zero_allowed):
        kind = "negative" if value < 0 else "zero"
        raise ReckonError(f"The {name} cannot be {kind}.", mend=f"Say the {name} again.", slug="reckon-range")
    return value
