"""Uncertainty of a reading (GUM, JCGM 100) and rounding (ISO 80000-1 Annex B, IS 2)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal

from bench_voice.reckon.answer import ReckonError, positive


def combined(parts: Sequence[Decimal]) -> Decimal:
    """Root of the sum of squares, GUM 5.1.2, for independent parts already in the result's unit."""
    return sum((one * one for one in parts), Decimal(0)).sqrt()


def effective_freedom(parts: Sequence[tuple[Decimal, Decimal]]) -> Decimal:
    """Welch–Satterthwaite, GUM G.4.1: `parts` are (u, degrees of freedom)."""
    u = combined([part for part, _ in parts])
    below = sum((part**4 / positive(freedom, "freedom") for part, freedom in parts), Decimal(0))
    return u**4 / positive(below, "uncertainty")


def of_resolution(step: Decimal) -> Decimal:
    """Standard uncertainty of a digit step a: a/√12, GUM F.2.2.1 (clause from memory)."""
    return positive(step, "resolution", True) / Decimal(12).sqrt()


def expanded(u: Decimal, k: Decimal = Decimal(2)) -> Decimal:
    """U = k·u; k = 2 is about 95 %, GUM G.6.6."""
    return k * positive(u, "uncertainty", True)


def coverage(k: float) -> float:
    """Share of a normal distribution within ± k."""
    return math.erf(k / math.sqrt(2))


def rounded(value: Decimal, place: Decimal, is_half_even: bool = True) -> Decimal:
    """`value` to a multiple of `place`, once, from the unrounded value. Rule A: half to even; rule B: half up."""
    if place <= 0:
        raise ReckonError("Rounding needs a place.", mend="Give 1, 0.1 or 10.", slug="reckon-range")
    return (value / place).quantize(Decimal(1), ROUND_HALF_EVEN if is_half_even else ROUND_HALF_UP) * place
