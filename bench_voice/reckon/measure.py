"""Units beyond the closed list of readings, and conversion among all of them. Factors come
from pint by `words.units`; the tests hold them to NIST SP 811 (2008), B.8.

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

# Units that no reading is taken in: unit -> (dimension, pint's name of it). US measures are pint's unmarked ones.
_BESIDES: dict[str, tuple[str, str]] = {
    "ft": ("length", "ft"),
    "N*cm": ("torque", "N*cm"),
    "dyn*cm": ("torque", "dyn*cm"),
    "Pa": ("pressure", "Pa"),
    "hPa": ("pressure", "hPa"),
    "MPa": ("pressure", "MPa"),
    "atm": ("pressure", "atm"),
    "inHg": ("pressure", "inHg"),  # conventional inch of mercury
    "us_gal": ("volume", "gallon"),
    "us_qt": ("volume", "quart"),
    "us_pint": ("volume", "pint"),
    "imp_gal": ("volume", "imperial_gallon"),
    "imp_qt": ("volume", "imperial_quart"),
    "imp_pint": ("volume", "imperial_pint"),
    "imp_fl_oz": ("volume", "imperial_fluid_ounce"),
    "in**3": ("volume", "in**3"),
    "N": ("force", "N"),
    "lbf": ("force", "lbf"),
    "kgf": ("force", "kgf"),
    "kN": ("force", "kN"),
    "W": ("power", "W"),
    "kW": ("power", "kW"),
    "hp": ("power", "hp"),  # 550 ft lbf/s
    "metric_hp": ("power", "metric_horsepower"),
    "C": ("electric charge", "C"),
    "A*h": ("electric charge", "A*h"),
    "km/h": ("road speed", "km/h"),
    "mph": ("road speed", "mph"),
    "rad": ("angle", "rad"),
    "mm**2": ("area", "mm**2"),
    "in**2": ("area", "in**2"),
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
    return (*units.UNITS, *_BESIDES)


def dimension(unit: str) -> str:
    """Raises BenchError [unit-unknown] for a unit that is in neither list."""
    return _BESIDES[unit][0] if unit in _BESIDES else units.dimension_name(unit)


def _pint_name(unit: str) -> str:
    return _BESIDES[unit][1] if unit in _BESIDES else unit


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
    if from_unit in units.UNITS and to_unit in units.UNITS:
        return trimmed(units.convert(value, from_unit, to_unit, interval))
    with localcontext(units.WORK):
        result = value * units.factor(_pint_name(from_unit), _pint_name(to_unit))
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
        shown = trimmed(result.quantize(Decimal(1).scaleb(-decimals), context=units.WORK))
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
