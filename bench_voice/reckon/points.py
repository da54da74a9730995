"""Readings derived from points: all in, out in the unit of the points. Nothing here judges.

Two-point out-of-round is blind to odd lobes (a three-lobed shaft has one diameter all round): it is named two-point
and is not the roundness of ISO 1101.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal

from bench_voice.reckon.answer import ReckonError, number, positive

# With the size of its frame counted in; larger ones are hardly held in one hand (common practice, no source).
LARGEST_SLEEVE_MM = Decimal(300)


def _points(values: Sequence[Decimal], least: int = 1) -> Sequence[Decimal]:
    if len(values) < least:
        raise ReckonError(
            f"This needs {least} points, there are {len(values)}.", mend="Measure the rest.", slug="reckon-points"
        )
    for one in values:
        number(one)
    return values


def spread(values: Sequence[Decimal]) -> Decimal:
    return max(_points(values, 2)) - min(values)


def two_point_out_of_round(diameters: Sequence[Decimal]) -> Decimal:
    """Largest minus smallest diameter in one section. Blind to odd lobes: not ISO 1101 roundness."""
    for one in diameters:
        positive(one, "diameter")
    return spread(diameters)


def wear_percent(new: Decimal, now: Decimal) -> Decimal:
    """(new − now)/new·100; negative where the part is now larger. Raises ReckonError where it is far larger."""
    positive(new, "new size")
    positive(now, "size now", True)
    if now > new * Decimal("1.5"):
        raise ReckonError(
            f"{now} is far more than {new} when new.", mend="Say the new size first, then the size now.",
            slug="reckon-range",
        )  # fmt: skip
    return (new - now) / new * 100


def chain_elongation(length: Decimal, pitches: int, pitch: Decimal) -> Decimal:
    """(L − nP)/(nP)·100 percent; `length` and `pitch` in one unit. ANSI B29.1 practice.

    Raises ReckonError for no pitches and for a length that belongs to another count (over 10 % off).
    """
    if pitches < 1:
        raise ReckonError("The count of pitches cannot be zero.", mend="Count the pitches.", slug="reckon-range")
    nominal = pitches * positive(pitch, "pitch")
    percent = (positive(length, "length") - nominal) / nominal * 100
    if not -2 <= percent <= 10:
        raise ReckonError(
            f"{pitches} pitches of {pitch} are {nominal}, and {length} was measured.",
            mend="Count the pitches again, or give another chain number.",
            slug="reckon-range",
        )
    return percent


def chain_pitch_mm(number_said: int) -> Decimal:
    """Pitch from the chain's number: the first digit is the pitch in eighths of an inch (420, 525, 630)."""
    if not 200 <= number_said <= 999:
        raise ReckonError(
            f"{number_said} is no three-digit chain number.", mend="Say the number on the plate.", slug="reckon-unknown"
        )
    return number_said // 100 * Decimal("25.4") / 8


def chain_limit_percent(largest_sprocket_teeth: int | None = None, has_fixed_centres: bool = False) -> Decimal:
    """3 % (ANSI B29.1 practice), 1.5 % with fixed centres, 200/N % where a sprocket has more than 66 teeth."""
    limit = Decimal("1.5") if has_fixed_centres else Decimal(3)
    if largest_sprocket_teeth is None:
        return limit
    if largest_sprocket_teeth < 1:
        raise ReckonError("A sprocket has teeth.", mend="Count the teeth.", slug="reckon-range")
    return min(limit, Decimal(200) / largest_sprocket_teeth)


def lever_angle(rise: Decimal, length: Decimal) -> Decimal:
    """Degrees that a lever of `length` has turned when its end has moved by the chord `rise`: 2·asin(rise/2L)."""
    positive(rise, "movement", True)
    positive(length, "lever length")
    if rise > 2 * length:
        raise ReckonError("The end cannot move so far on this lever.", mend="Measure again.", slug="reckon-range")
    return number(2 * math.degrees(math.asin(float(rise) / (2 * float(length)))))


def feeler_stack(leaves: Sequence[Decimal]) -> Decimal:
    """Leaves together; more than four leaves spring and read too thick, so they are asked.

    Common practice, no source.
    """
    for leaf in _points(leaves):
        positive(leaf, "leaf")
    if len(leaves) > 4:
        raise ReckonError("More than four leaves spring.", mend="Use fewer, thicker leaves.", slug="reckon-points")
    return sum(leaves, Decimal(0))


def thimble_mm(sleeve: Decimal, thimble: Decimal, vernier: Decimal = Decimal(0)) -> Decimal:
    """Metric micrometer, pitch 0.5 mm: sleeve in whole or half mm, thimble 0 to 49 hundredths, vernier thousandths."""
    if sleeve > LARGEST_SLEEVE_MM:
        raise ReckonError(
            f"A sleeve shows 0 to {LARGEST_SLEEVE_MM} millimetres.", mend="Read the sleeve again.", slug="reckon-range"
        )
    if positive(sleeve, "sleeve", True) % Decimal("0.5"):
        raise ReckonError("The sleeve shows whole and half millimetres.", mend="Read it again.", slug="reckon-range")
    if not 0 <= thimble < 50 or not 0 <= vernier <= 10:
        raise ReckonError(
            "The thimble has 50 marks, the vernier 10.", mend="Read the thimble again.", slug="reckon-range"
        )
    return sleeve + thimble / 100 + vernier / 1000
