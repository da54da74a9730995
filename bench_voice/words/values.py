"""A value of a reading as an intent, and what is plausible for it."""

from __future__ import annotations

from decimal import Decimal

from bench_voice.core.intents import Kind, Measurement, ValueKind
from bench_voice.core.sheet import ReadingSpec
from bench_voice.words.units import convert, dimension_name


def in_limit_unit(value: Decimal, unit: str, spec: ReadingSpec) -> Decimal:
    return value if unit == spec.unit else convert(value, unit, spec.unit)


def reading(
    spec: ReadingSpec, name: str | None, value: Decimal, unit: str, kind: ValueKind = Kind.READING
) -> Measurement:
    return Measurement(kind, name=name, value=value, unit=unit, in_limit_unit=in_limit_unit(value, unit, spec))


def is_plausible(value: Decimal | None, spec: ReadingSpec) -> bool:
    """Could this part have that value at all? Only ever decides what is *asked*. True where nothing is known."""
    if value is None:
        return True
    low_high = plausible_range(spec)
    return low_high is None or low_high[0] <= value <= low_high[1]


def plausible_range(spec: ReadingSpec) -> tuple[Decimal, Decimal] | None:
    """The sheet's own range, else a quarter to four times its limits; None where it gives none."""
    if spec.plausible is not None:
        return spec.plausible
    known = [v for v in (spec.limit.low, spec.limit.high, spec.limit.new) if v]
    if not known or min(known) < 0:
        return None
    return min(known) / 4, max(known) * 4


_MAY_BE_NEGATIVE = frozenset(("temperature", "voltage", "current", "angle"))
# So many times the largest figure of the limit is asked about. Insulation and leakage differ by orders of magnitude.
FAR_OUT = 50
_VERY_FAR_OUT = {"resistance": 10_000, "current": 1000, "time": 1000, "count": 1000}
# What a part can be, in mm, by how its name ends: outside is asked. Common practice, no source.
USUAL_MM: dict[str, tuple[Decimal, Decimal]] = {
    "lining": (Decimal(0), Decimal(40)),
    "pad": (Decimal(0), Decimal(40)),
    "tread": (Decimal(0), Decimal(40)),
    "disc": (Decimal(1), Decimal(80)),
    "drum": (Decimal(50), Decimal(800)),
    "clearance": (Decimal(0), Decimal(10)),
    "end play": (Decimal(0), Decimal(10)),
    "run-out": (Decimal(0), Decimal(20)),
}


def is_absurd(value: Decimal | None, spec: ReadingSpec) -> bool:
    """Outside the sheet's own range; where it gives none: outside what such a part can be, many times the limit's
    figures, or below nothing. Is asked, never recorded unasked.
    """
    if value is None:
        return False
    if spec.plausible is not None:
        return not spec.plausible[0] <= value <= spec.plausible[1]
    known = [figure for figure in (spec.limit.low, spec.limit.high, spec.limit.new) if figure is not None]
    known += [figure for row in spec.limit.rows for figure in (row.low, row.high) if figure is not None]
    kind = dimension_name(spec.unit)
    if value < 0 and all(figure >= 0 for figure in known) and kind not in _MAY_BE_NEGATIVE:
        return True
    if kind == "length" and _is_unusual(value, spec):
        return True
    largest = max((abs(figure) for figure in known), default=Decimal(0))
    return abs(value) > (largest * _VERY_FAR_OUT.get(kind, FAR_OUT) if largest else Decimal(10**9))


def _is_unusual(value: Decimal, spec: ReadingSpec) -> bool:
    """By the part's name. A part whose own limit lies outside of what is usual is another kind of part."""
    name = spec.name.lower().replace("-", " ")
    usual = next((most for key, most in USUAL_MM.items() if f" {name}".endswith(f" {key.replace('-', ' ')}")), None)
    if usual is None:
        return False
    figures = [convert(f, spec.unit, "mm") for f in (spec.limit.low, spec.limit.high) if f is not None]
    if any(not usual[0] <= figure <= usual[1] for figure in figures):
        return False
    return not usual[0] <= convert(value, spec.unit, "mm") <= usual[1]
