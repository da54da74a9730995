"""Limits, and how much points or sides differ, as a person reads them."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from bench_voice.core.signs import quantity
from bench_voice.core.verdict import Side, like, shown

SIDES: dict[str, str] = {Side.SPREAD: "points", Side.PAIR: "sides"}


def bounds_words(low: object, high: object, unit: str) -> str:
    """ "at least 2.0 mm"; empty without a limit."""
    if low is not None and high is not None:
        return f"{low} to {quantity(high, unit)}"
    if low is not None:
        return f"at least {quantity(low, unit)}"
    return f"at most {quantity(high, unit)}" if high is not None else ""


def difference_limit_words(side: str, at_most: object, unit: str) -> str:
    """As the printed sheet words it: "points differ by at most 0.3 mm"."""
    return f"{SIDES[side]} differ by at most {quantity(at_most, unit)}"


def differ_by_words(row: Mapping[str, Any]) -> str:
    """ "differ by 0.8 mm". Rounded up, as a margin is rounded down: never toward passing."""
    at_most, margin = Decimal(row["at_most"]), Decimal(row["margin"])
    found = at_most - shown(margin, like(Decimal(row["differ_by"]), at_most))
    return f"differ by {quantity(found, row['unit'])}"


def difference_words(row: Mapping[str, Any]) -> str:
    """ "points differ by 0.8 mm, at most 0.3 mm"."""
    return f"{SIDES[row['side']]} {differ_by_words(row)}, at most {quantity(row['at_most'], row['unit'])}"
