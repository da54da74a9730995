"""Kinds of limit beyond at least, at most and between, each brought back to `core.verdict.judge`.

Rule: ISO 14253-1 (good only inside the limits narrowed by U, out only outside the limits widened by U); the share of
false accepts is ILAC-G8:09/2019 §4.2.2's. A difference of two readings of one instrument carries U·√2: both have
their own error (GUM 5.1.2, independent inputs). Compared unrounded, always.

A larger U never makes a reading good. It may turn "out" into "borderline": being out is no longer proved.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from enum import StrEnum

from bench_voice.core.sheet import Limit
from bench_voice.core.verdict import Judged, Side, Verdict, judge, judge_difference
from bench_voice.reckon.answer import ReckonError, number, positive


class FourState(StrEnum):
    """Non-binary statement of ILAC-G8 §4.2.3 with guard band w = U."""

    PASS = "pass"
    CONDITIONAL_PASS = "conditional pass"
    CONDITIONAL_FAIL = "conditional fail"
    FAIL = "fail"


def four_state(value: Decimal, limit: Limit, uncertainty: Decimal) -> FourState:
    """ILAC-G8's four states: as `judge`, with the undecided zone cut at the limit itself."""
    judged = judge(value, limit, uncertainty)
    if judged.verdict in (Verdict.GOOD, Verdict.NOTED):
        return FourState.PASS
    if judged.verdict is Verdict.OUT:
        return FourState.FAIL
    inside = judged.margin is not None and judged.margin >= 0
    return FourState.CONDITIONAL_PASS if inside else FourState.CONDITIONAL_FAIL


def nominal(
    value: Decimal, size: Decimal, plus: Decimal, minus: Decimal, unit: str, uncertainty: Decimal = Decimal(0)
) -> Judged:
    """`size` +plus −minus, both given as positive amounts."""
    positive(plus, "upper tolerance", True)
    positive(minus, "lower tolerance", True)
    return judge(value, Limit(unit=unit, low=size - minus, high=size + plus), uncertainty)


def percent_of_new(
    value: Decimal, new: Decimal, least_percent: Decimal, unit: str, uncertainty: Decimal = Decimal(0)
) -> Judged:
    """At least so many percent of the new size are left; the margin is in the reading's own unit."""
    positive(new, "new size")
    positive(value, "reading", True)
    if not 0 <= least_percent <= 100:
        raise ReckonError(
            f"{least_percent} percent of new is no limit.", mend="Give 0 to 100 percent.", slug="reckon-range"
        )
    if value > new * Decimal("1.5"):
        raise ReckonError(f"{value} is far more than {new} when new.", mend="Say it again.", slug="reckon-range")
    return judge(value, Limit(unit=unit, low=new * least_percent / 100), uncertainty)


def worn_at_most(
    value: Decimal, new: Decimal, most_percent: Decimal, unit: str, uncertainty: Decimal = Decimal(0)
) -> Judged:
    """Worn by at most so many percent of the new size."""
    return percent_of_new(value, new, 100 - most_percent, unit, uncertainty)


def count(value: Decimal, most: int | None = None, least: int | None = None) -> Judged:
    """A whole number of things; it has no uncertainty. Raises ReckonError for a part of a thing or a negative count."""
    number(value)
    if value < 0 or value != value.to_integral_value():
        raise ReckonError(f"{value} is no count.", mend="Say a whole number.", slug="reckon-range")
    low, high = (None if one is None else Decimal(one) for one in (least, most))
    return judge(value, Limit(unit="count", low=low, high=high))


def yes_no(is_good: bool) -> Judged:
    """A thing looked at: good or out, never borderline by itself."""
    return Judged(Verdict.GOOD if is_good else Verdict.OUT)


def equal_within(
    left: Decimal, right: Decimal, within: Decimal, unit: str, uncertainty: Decimal = Decimal(0)
) -> Judged:
    """Left and right differ by at most `within`; `uncertainty` is one reading's U."""
    positive(within, "difference allowed", True)
    return replace(judge_difference(left, right, within, unit, uncertainty, uncertainty), side=Side.DIFFERENCE)


def spread(values: Sequence[Decimal], most: Decimal, unit: str, uncertainty: Decimal = Decimal(0)) -> Judged:
    """Largest minus smallest of the points. Raises ReckonError for fewer than two."""
    if len(values) < 2:
        raise ReckonError("A spread needs two points.", mend="Measure another point.", slug="reckon-points")
    return replace(equal_within(max(values), min(values), most, unit, uncertainty), side=Side.SPREAD)


def marked(value: Decimal, marking: Decimal, is_maximum: bool, unit: str, uncertainty: Decimal = Decimal(0)) -> Judged:
    """Against the figure that stands on the part itself (49 CFR 570.59(b): the marking comes before any other)."""
    positive(marking, "figure marked on the part")
    limit = Limit(unit=unit, high=marking) if is_maximum else Limit(unit=unit, low=marking)
    return judge(value, limit, uncertainty)


def by_class(table: Mapping[str, Limit], name: str) -> Limit:
    """The limit of a class. Raises ReckonError naming the classes that the table has."""
    key = " ".join(name.lower().split())
    if key not in table:
        raise ReckonError(
            f'The table has no class "{name}".', mend=f"Say one of: {', '.join(sorted(table))}.", slug="reckon-unknown"
        )
    return table[key]


def by_size(bands: Sequence[tuple[Decimal | None, Limit]], size: Decimal) -> Limit:
    """`bands`: (largest size of the band, its limit), smallest first; None: everything above. Upper ends belong in."""
    positive(size, "size")
    for most, limit in bands:
        if most is None or size <= most:
            return limit
    raise ReckonError(f"The table ends before a size of {size}.", mend="Look in the manual.", slug="reckon-unknown")


def larger_of(*limits: Decimal) -> Decimal:
    """ "25 mm or 10 % of the width, whichever is greater"."""
    return max(limits)


def shown_safe(value: Decimal, limit: Limit) -> Decimal:
    """`value` with the decimals of the limit it is nearer to, rounded toward that limit's bad side: 3.96 against at
    least 4.0 is shown as 3.9, so that what is shown never passes where the value does not.
    """
    sides = [(value - limit.low, limit.low, ROUND_FLOOR)] if limit.low is not None else []
    sides += [(limit.high - value, limit.high, ROUND_CEILING)] if limit.high is not None else []
    if not sides:
        return value
    _, near, rounding = min(sides, key=lambda one: one[0])
    place, own = near.as_tuple().exponent, value.as_tuple().exponent
    if not isinstance(place, int) or not isinstance(own, int) or own >= place:
        return value
    return value.quantize(Decimal(1).scaleb(place), rounding=rounding)


def meets_ten_percent(uncertainty: Decimal, tolerance: Decimal, share: Decimal = Decimal("0.1")) -> bool:
    """The 10 % rule (NPL; 20 % is often accepted): U is at most this share of the tolerance's whole width."""
    return positive(uncertainty, "uncertainty", True) <= positive(tolerance, "tolerance") * share


def uncertainty_ratio(tolerance_width: Decimal, uncertainty: Decimal) -> Decimal:
    """TUR of ANSI/NCSLI Z540.3: the tolerance's width over 2·U95."""
    return positive(tolerance_width, "tolerance") / (2 * positive(uncertainty, "uncertainty"))
