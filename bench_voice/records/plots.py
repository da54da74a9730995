"""Where the marks of a small plot stand. Geometry only: the templates draw it as SVG, and a test can reckon with it.

A plot says nothing that does not stand in words beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from bench_voice.records.results import Scale

STRIP = 100.0  # width of a strip, in its own units
WIDE, HIGH = 320.0, 120.0  # a curve's
_ROOM = Decimal("0.12")  # beside the outermost mark, as a part of the span


@dataclass(frozen=True)
class Strip:
    """A reading between its limits, 0 to `STRIP`: `bad` are the spans outside (x, width), `limits` their edges, `new` a
    new part's mark, `values` found and left.
    """

    bad: tuple[tuple[float, float], ...]
    limits: tuple[float, ...]
    new: float | None
    values: tuple[float, ...]


def strip(scale: Scale) -> Strip:
    marks = [one for one in (scale.low, scale.high, scale.new, *scale.values) if one is not None]
    low, high = min(marks), max(marks)
    span = (high - low) or abs(high) or Decimal(1)
    start, width = low - span * _ROOM, span * (1 + 2 * _ROOM)

    def x(value: Decimal) -> float:
        return round(float((value - start) / width) * STRIP, 2)

    bad = []
    if scale.low is not None:
        bad.append((0.0, x(scale.low)))
    if scale.high is not None:
        bad.append((x(scale.high), round(STRIP - x(scale.high), 2)))
    limits = tuple(x(one) for one in (scale.low, scale.high) if one is not None)
    return Strip(tuple(bad), limits, None if scale.new is None else x(scale.new), tuple(x(v) for v in scale.values))


@dataclass(frozen=True)
class Curve:
    """Values over distance, hours or days: `points` (x, y) from the left, `lines` (y, words) of limits and a new part,
    `ticks` (x, words), `levels` (y, words). In a box of `WIDE` by `HIGH`, y downward.
    """

    points: tuple[tuple[float, float], ...]
    lines: tuple[tuple[float, str], ...]
    ticks: tuple[tuple[float, str], ...]
    levels: tuple[tuple[float, str], ...]


def curve(
    pairs: Sequence[tuple[float, float]],
    limits: Sequence[tuple[float, str]],
    x_words: Sequence[str],
    y_words: Sequence[str],
) -> Curve | None:
    """`x_words`: of the first and last pair; `y_words`: of the least and greatest value. None for fewer than two."""
    if len(pairs) < 2:
        return None
    left, right = pairs[0][0], pairs[-1][0]
    levels = [y for _, y in pairs]
    all_ = [*levels, *(y for y, _ in limits)]
    low, high = min(all_), max(all_)
    span = (high - low) or abs(high) or 1.0

    def at(x: float, y: float) -> tuple[float, float]:
        along = (x - left) / (right - left) if right > left else 0.5
        return round(8 + along * (WIDE - 16), 2), round(8 + (high - y) / span * (HIGH - 16), 2)

    points = tuple(at(x, y) for x, y in pairs)
    ends = ((points[0][0], x_words[0]), (points[-1][0], x_words[1]))
    heights = ((at(left, min(levels))[1], y_words[0]), (at(left, max(levels))[1], y_words[1]))
    return Curve(points, tuple((at(left, y)[1], words) for y, words in limits), ends, heights)
