"""Units beyond the closed list of readings, and conversion among all of them. Factors: NIST SP 811 (2008), B.8.

US and imperial measures are kept apart by name; a bare "pint" has two meanings and is asked.
"""

from __future__ import annotations

from decimal import Context, Decimal, localcontext

from bench_voice.core.signs import shown_unit
from bench_voice.errors import BenchError
from bench_voice.reckon.answer import Answer, ReckonError, Value, digits_said, number, significant, stated, trimmed
from bench_voice.words import units

SP_811 = "NIST SP 811 (2008), Appendix B.8"
_CONTEXT = Context(prec=28)
_WORK = Context(prec=60)

# Quantities that no reading has: unit -> dimension. All are their own root.
_ROOTS = {"N": "force", "W": "power", "C": "electric charge", "km/h": "road speed", "mm**2": "area"}
# unit -> (root or closed unit, how many of it; exact unless a comment says otherwise).
_DEFINED: dict[str, tuple[str, str]] = {
    "ft": ("in", "12"),
    "N*cm": ("N*m", "0.01"),
    "dyn*cm": ("N*m", "1e-7"),
    "Pa": ("kPa", "0.001"),
    "hPa": ("kPa", "0.1"),
    "MPa": ("kPa", "1000"),
    "atm": ("kPa", "101.325"),
    "inHg": ("kPa", "3.386388640341"),  # conventional inch of mercury, as pint has it
    "us_gal": ("L", "3.785411784"),
    "us_qt": ("L", "0.946352946"),
    "us_pint": ("L", "0.473176473"),
    "imp_gal": ("L", "4.54609"),
    "imp_qt": ("L", "1.1365225"),
    "imp_pint": ("L", "0.56826125"),
    "imp_fl_oz": ("L", "0.0284130625"),
    "in**3": ("L", "0.016387064"),
    "lbf": ("N", "4.4482216152605"),
    "kgf": ("N", "9.80665"),
    "kN": ("N", "1000"),
    "kW": ("W", "1000"),
    "hp": ("W", "745.69987158227022"),  # 550 ft lbf/s
    "metric_hp": ("W", "735.49875"),
    "A*h": ("C", "3600"),
    "mph": ("km/h", "1.609344"),
    "rad": ("deg", "57.295779513082320876798154814105170332405472466564"),
    "in**2": ("mm**2", "645.16"),
}
# Largest size that a bench meets, in the root unit: beyond it a slip of the tongue or of the ear is likelier.
_LARGEST = {
    "length": ("mm", "1e12"),
    "torque": ("N*m", "100000"),
    "pressure": ("kPa", "1000000"),
    "temperature": ("degC", "4000"),
    "volume": ("L", "100000"),
    "mass": ("kg", "1000000"),
    "angle": ("deg", "36000"),
    "voltage": ("V", "1000000"),
    "current": ("A", "1000000"),
}
_MAY_BE_NEGATIVE = {"temperature", "voltage", "current", "angle", "ratio"}


def all_units() -> tuple[str, ...]:
    return (*units.UNITS, *_ROOTS, *_DEFINED)


def _root(unit: str) -> tuple[str, Decimal]:
    if unit in _DEFINED:
        root, factor = _DEFINED[unit]
        return root, Decimal(factor)
    return unit, Decimal(1)


def dimension(unit: str) -> str:
    """Raises BenchError [unit-unknown] for a unit that is in neither list."""
    root = _root(unit)[0]
    return _ROOTS[root] if root in _ROOTS else units.dimension_name(root)


def convert(value: Decimal, from_unit: str, to_unit: str, interval: bool = False) -> Decimal:
    """`value` in `to_unit`, 28 digits. `interval`: a difference of temperatures.

    Raises ReckonError [reckon-unit] for a unit of another kind.
    """
    number(value)
    if dimension(from_unit) != dimension(to_unit):
        raise ReckonError(
            f"{shown_unit(from_unit)} is a unit of {dimension(from_unit)}, "
            f"{shown_unit(to_unit)} is one of {dimension(to_unit)}.",
            mend=f"Ask for a unit of {dimension(from_unit)}.",
            slug="reckon-unit",
        )
    if from_unit == to_unit:
        return value
    (from_root, from_factor), (to_root, to_factor) = _root(from_unit), _root(to_unit)
    with localcontext(_WORK):
        result = value * from_factor
        if from_root != to_root:
            result = units.convert(result, from_root, to_root, interval)
        result = result / to_factor
    return trimmed(_CONTEXT.plus(result))


def sensible(value: Decimal, unit: str, name: str = "value", interval: bool = False) -> Decimal:
    """`value` where it can be real. Raises ReckonError [reckon-range] with the reason."""
    kind = dimension(unit)
    said = f"{value} {shown_unit(unit)}"
    if kind == "temperature" and not interval and convert(value, unit, "degC") < Decimal("-273.15"):
        raise ReckonError(f"{said} is below absolute zero.", mend=f"Say the {name} again.", slug="reckon-range")
    if kind == "pressure" and convert(value, unit, "kPa") < Decimal("-101.325"):
        raise ReckonError(f"{said} is less than a vacuum.", mend=f"Say the {name} again.", slug="reckon-range")
    if value < 0 and kind not in _MAY_BE_NEGATIVE and kind != "pressure":
        raise ReckonError(f"A {kind} of {said} cannot be.", mend=f"Say the {name} again.", slug="reckon-range")
    if kind in _LARGEST:
        root, most = _LARGEST[kind]
        if abs(convert(value, unit, root, interval)) > Decimal(most):
            raise ReckonError(
                f"{said} is far more than a bench meets.", mend=f"Say the {name} again.", slug="reckon-range"
            )
    return value


def conversion(value: Decimal, from_unit: str, to_unit: str, interval: bool = False) -> Answer:
    """Any unit in, the wanted one out. Shown with one significant digit more than was said, at least three: turned
    back it gives the digits said. Levels of temperature keep one decimal more than was said, since they have an offset.
    """
    result = convert(value, from_unit, to_unit, interval)
    sensible(value, from_unit, interval=interval)
    if dimension(from_unit) == "temperature" and not interval:
        exponent = value.as_tuple().exponent
        decimals = max(0, -exponent if isinstance(exponent, int) else 0) + 1
        shown = trimmed(result.quantize(Decimal(1).scaleb(-decimals), context=_WORK))
    else:
        shown = trimmed(significant(result, max(3, digits_said(value) + 1)))
    kind = "A difference of {said}" if interval else "{said}"
    offset = dimension(from_unit) == "temperature"
    formula = f"{trimmed(convert(Decimal(1), from_unit, to_unit, True)):.10g} {shown_unit(to_unit)} for each "
    formula += shown_unit(from_unit)
    if offset and not interval:
        formula = "°C = (°F − 32)/1.8"
    return Answer(
        "conversion",
        (Value("result", result, to_unit, shown), stated("said", value, from_unit)),
        f"{kind} is {{result}}.",
        formula,
        SP_811,
    )


def same_kind(unit: str, wanted: str, name: str) -> None:
    """Raises ReckonError [reckon-unit] where `unit` is not of the dimension `wanted`."""
    try:
        kind = dimension(unit)
    except BenchError as error:
        raise ReckonError(error.what, mend=error.mend, slug="reckon-unit") from error
    if kind != wanted:
        raise ReckonError(
            f"The {name} is a {wanted}, and {shown_unit(unit)} is a unit of {kind}.",
            mend=f"Say the {name} with a unit of {wanted}.",
            slug="reckon-unit",
        )
