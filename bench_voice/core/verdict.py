"""Good, borderline or out of limits, by the decision rule of ISO 14253-1: conformity is proved only inside the limits
narrowed by the instrument's uncertainty, non-conformity only outside the limits widened by it; between is undecided.

Compared unrounded, always.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from enum import StrEnum

from bench_voice.core.sheet import Limit, ReadingSpec


class Verdict(StrEnum):
    """Worst last, so that `max` by `rank` gives the verdict of several points."""

    NOTED = "noted"  # no limit: recorded, not judged
    GOOD = "good"
    BORDERLINE = "borderline"
    OUT = "out"

    @property
    def rank(self) -> int:
        return list(Verdict).index(self)


class Side(StrEnum):
    """Which limit is nearer, or broken."""

    NONE = ""
    LOW = "low"
    HIGH = "high"
    SPREAD = "spread"  # of the points of one reading
    PAIR = "pair"  # the difference to the other side
    DIFFERENCE = "difference"  # of two figures of a calculation


@dataclass(frozen=True)
class Judged:
    """`margin`: distance to the nearer limit in the limit's unit, negative when outside; None without a limit."""

    verdict: Verdict
    margin: Decimal | None = None
    side: Side = Side.NONE


def judge(value: Decimal, limit: Limit, uncertainty: Decimal = Decimal(0)) -> Judged:
    """Verdict on `value` (limit's unit) with expanded uncertainty U (k = 2, same unit, never negative)."""
    margins: list[tuple[Decimal, Side]] = []
    if limit.low is not None:
        margins.append((value - limit.low, Side.LOW))
    if limit.high is not None:
        margins.append((limit.high - value, Side.HIGH))
    if not margins:
        return Judged(Verdict.NOTED)
    margin, side = min(margins)
    guard = abs(uncertainty)
    if margin >= guard:
        return Judged(Verdict.GOOD, margin, side)
    if margin < -guard or (guard == 0 and margin < 0):
        return Judged(Verdict.OUT, margin, side)
    return Judged(Verdict.BORDERLINE, margin, side)


def judge_difference(a: Decimal, b: Decimal, most: Decimal, unit: str, u_a: Decimal, u_b: Decimal) -> Judged:
    """Whether two readings differ by at most `most`. Each has an error of its own, so that of the difference is the
    root of the sum of squares (GUM 5.1.2, independent): U times the root of two with one instrument.
    """
    return judge(abs(a - b), Limit(unit=unit, high=most), (u_a * u_a + u_b * u_b).sqrt())


def judge_points(
    values: tuple[Decimal, ...], limit: Limit, spec: ReadingSpec, uncertainties: tuple[Decimal, ...] | None = None
) -> Judged:
    """The worst point, and the spread where the sheet limits it. Empty `values`: noted.

    `uncertainties`: U of each value, by default the sheet's.
    """
    each = uncertainties or (spec.uncertainty,) * len(values)
    judged = [judge(value, limit, own) for value, own in zip(values, each, strict=True)]
    worst = max(judged, key=lambda one: (one.verdict.rank, -(one.margin or 0)), default=Judged(Verdict.NOTED))
    if spec.spread is not None and len(values) > 1:
        low, high = values.index(min(values)), values.index(max(values))
        spread = judge_difference(values[high], values[low], spec.spread, limit.unit, each[high], each[low])
        if spread.verdict.rank > worst.verdict.rank:
            return Judged(spread.verdict, spread.margin, Side.SPREAD)
    return worst


def like(value: Decimal, *limits: Decimal) -> Decimal:
    """A number with the digits that a margin is said with: the limit's, at most one more where the value had more.

    A value converted from another unit has up to 28 digits that nobody measured.
    """
    limit = min((_exponent(figure) for figure in limits), default=_exponent(value))
    return Decimal(1).scaleb(min(limit, max(_exponent(value), limit - 1)))


def shown(margin: Decimal, like: Decimal) -> Decimal:
    """`margin` with the digits of `like`, rounded toward less margin: never toward passing."""
    if _exponent(margin) >= _exponent(like):
        return margin
    return margin.quantize(Decimal(1).scaleb(_exponent(like)), rounding=ROUND_FLOOR)


def _exponent(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0
