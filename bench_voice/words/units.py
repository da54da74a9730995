"""The closed list of units, in pint's spelling, and exact conversion. The only user of pint.

The dimension table is ours, so that nothing has to wait for pint (a third of a second) until a conversion is needed.
Factors come from pint in Decimal; they are exact where the definition is (25.4, 9.80665, 0.45359237, 0.3048).
"""

from __future__ import annotations

from decimal import Context, Decimal, localcontext
from functools import cache, lru_cache
from typing import Any

from bench_voice.errors import BenchError

DIMENSIONS: dict[str, str] = {
    **dict.fromkeys(("mm", "cm", "m", "um", "in", "thou", "km", "mile"), "length"),
    **dict.fromkeys(("N*m", "lbf*ft", "lbf*in", "ozf*in", "kgf*m", "kgf*cm"), "torque"),
    **dict.fromkeys(("psi", "kPa", "bar", "mbar", "kgf/cm**2"), "pressure"),
    **dict.fromkeys(("V", "mV"), "voltage"),
    **dict.fromkeys(("A", "mA", "uA"), "current"),
    **dict.fromkeys(("ohm", "kohm", "Mohm"), "resistance"),
    **dict.fromkeys(("degC", "degF"), "temperature"),
    "deg": "angle",
    **dict.fromkeys(("mL", "L", "fl_oz"), "volume"),
    **dict.fromkeys(("g", "kg", "lb", "oz"), "mass"),
    **dict.fromkeys(("s", "min", "h"), "time"),
    "rpm": "speed",
    "percent": "ratio",
    "count": "count",
}
UNITS: tuple[str, ...] = tuple(DIMENSIONS)

# Where pint's name for what we mean is another one. A factor is between differences, so degrees are delta degrees.
_PINT_NAMES = {"degC": "delta_degC", "degF": "delta_degF", "fl_oz": "fluid_ounce"}

_CONTEXT = Context(prec=28)
# Of intermediate results, so that the 28 digits of the answer are right.
WORK = Context(prec=60)


def is_unit(unit: str) -> bool:
    return unit in DIMENSIONS


def dimension_name(unit: str) -> str:
    """The word key of the unit's dimension ("length", "torque", …). Raises BenchError for a unit outside the list."""
    try:
        return DIMENSIONS[unit]
    except KeyError:
        raise BenchError(
            f'"{unit}" is not a unit of the list.', mend=f"Use one of: {' '.join(UNITS)}.", slug="unit-unknown"
        ) from None


def same_dimension(a: str, b: str) -> bool:
    """Whether one can be converted into the other. False for a unit outside the list."""
    return a in DIMENSIONS and DIMENSIONS.get(a) == DIMENSIONS.get(b)


@cache
def _registry() -> Any:
    import pint

    # Its definitions are reckoned when it is made: with the usual 28 digits a foot would not be 12 inches exactly.
    with localcontext(WORK):
        return pint.UnitRegistry(non_int_type=Decimal)


@lru_cache(maxsize=1024)
def factor(from_unit: str, to_unit: str) -> Decimal:
    """How many of `to_unit` one `from_unit` is, both in pint's spelling, 50 digits; of degrees, between differences."""
    registry = _registry()
    with localcontext(WORK):
        quantity = registry.Quantity(Decimal(1), _PINT_NAMES.get(from_unit, from_unit))
        found: Decimal = quantity.to(_PINT_NAMES.get(to_unit, to_unit)).magnitude
    return Context(prec=50).plus(found)


def convert(value: Decimal, from_unit: str, to_unit: str, interval: bool = False) -> Decimal:
    """`value` in `to_unit`; exact where the result has at most 28 digits, else rounded there.

    `interval`: a difference of temperatures (10 degrees C apart = 18 degrees F apart), else a level.
    Raises BenchError for a unit outside the list or of another dimension. The same unit keeps its digits.
    """
    if dimension_name(from_unit) != dimension_name(to_unit):
        raise BenchError(
            f"{from_unit} is a {dimension_name(from_unit)}, {to_unit} is a {dimension_name(to_unit)}.",
            mend=f"Give a unit of {dimension_name(to_unit)}.",
            slug="unit-dimension",
        )
    if from_unit == to_unit:
        return value
    with localcontext(WORK):
        if not interval and from_unit == "degF":
            result = (value - 32) * 5 / 9
        elif not interval and from_unit == "degC":
            result = value * 9 / 5 + 32
        else:
            result = value * factor(from_unit, to_unit)
    return _plain(_CONTEXT.plus(result))


def _plain(value: Decimal) -> Decimal:
    """Without trailing zeros and without an exponent: they would claim digits that nobody said."""
    value = value.normalize(_CONTEXT)
    return value.quantize(Decimal(1)) if value == value.to_integral_value() and abs(value) < 10**27 else value
