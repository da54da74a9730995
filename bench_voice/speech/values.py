"""A value of a reading as an intent, and what is plausible for it."""

from __future__ import annotations

from decimal import Decimal

from bench_voice.core.intents import Intent, Kind
from bench_voice.core.sheet import ReadingSpec
from bench_voice.speech.units import convert, dimension_name


def in_limit_unit(value: Decimal, unit: str, spec: ReadingSpec) -> Decimal:
    return value if unit == spec.unit else convert(value, unit, spec.unit)


def reading(spec: ReadingSpec, name: str | None, value: Decimal, unit: str, kind: Kind = Kind.READING) -> Intent:
    return Intent(kind, name=name, value=value, unit=unit, in_limit_unit=in_limit_unit(value, unit, spec))


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
FAR_OUT = 1000


def is_absurd(value: Decimal | None, spec: ReadingSpec) -> bool:
    """Outside the sheet's own range; where it gives none: a thousand times its figures, or below nothing. Is asked."""
    if value is None:
        return False
    if spec.plausible is not None:
        return not spec.plausible[0] <= value <= spec.plausible[1]
    known = [figure for figure in (spec.limit.low, spec.limit.high, spec.limit.new) if figure is not None]
    if value < 0 and all(figure >= 0 for figure in known) and dimension_name(spec.unit) not in _MAY_BE_NEGATIVE:
        return True
    largest = max((abs(figure) for figure in known), default=Decimal(0))
    return abs(value) > (largest * FAR_OUT if largest else Decimal(10**9))
