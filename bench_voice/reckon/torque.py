"""Torque at the wrench: adapter and extension, prevailing torque, castle nuts, preload, the wrench's own deviation.

The answers stand for figures that the maker gives: each says so.
"""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from bench_voice.core.signs import shown_unit
from bench_voice.reckon.answer import (
    Answer,
    ReckonError,
    Value,
    digits_said,
    positive,
    significant,
    stated,
    to_place,
    trimmed,
    value_of,
)
from bench_voice.reckon.measure import convert, same_kind, sensible
from bench_voice.reckon.threads import Thread, proof_load_n, strength_class, stress_area_mm2

EXTENSION_SOURCE = "US Army TM 9-2350-277-40&P; US Navy NAVEDTRA 14315; angled: US Army TM 9-254"
AC_43 = "FAA AC 43.13-1B, 7-40"
ISO_6789 = "ISO 6789-1 (type II, class A)"
SHIGLEY = "T = K·F·d, Shigley, Mechanical Engineering Design; proof loads ISO 898-1"
# Typical nut factors, second-hand; the middle of the range.
NUT_FACTOR = {"dry": Decimal("0.20"), "oiled": Decimal("0.17"), "anti-seize": Decimal("0.14")}
_TOO_MUCH, _VERY_LITTLE = Decimal(1), Decimal("0.2")


def extension_setting(torque: Decimal, length: Decimal, extension: Decimal, angle_deg: Decimal = Decimal(0)) -> Decimal:
    """T·L/(L + E·cos α), in the torque's unit; `length` (handle to square drive) and `extension` in one unit.

    α is 0° in line with the wrench. Raises ReckonError for an angle over 90°: the setting would exceed the torque.
    """
    positive(torque, "torque")
    positive(length, "wrench length")
    positive(extension, "extension", True)
    if not 0 <= angle_deg <= 90:
        raise ReckonError(
            f"An adapter at {angle_deg} degrees points backward or outside of 0 to 90.",
            mend="Turn it to 90 degrees: then the setting is the torque itself.",
            slug="reckon-range",
        )
    if angle_deg == 90 or extension == 0:
        return torque
    cosine = Decimal(1) if angle_deg == 0 else Decimal(repr(math.cos(math.radians(float(angle_deg)))))
    return torque * length / (length + extension * cosine)


def extension_answer(
    torque: Decimal, torque_unit: str, length: Decimal, length_unit: str, extension: Decimal, extension_unit: str,
    angle_deg: Decimal = Decimal(0),
) -> Answer:  # fmt: skip
    """The wrench's setting in the unit that the torque was said in."""
    same_kind(torque_unit, "torque", "torque")
    same_kind(length_unit, "length", "wrench length")
    same_kind(extension_unit, "length", "extension")
    sensible(torque, torque_unit, "torque")
    other = convert(extension, extension_unit, length_unit)
    # A wrench or adapter beyond 3 m is a slip in the unit.
    for said, unit, name in ((length, length_unit, "wrench length"), (extension, extension_unit, "extension")):
        if convert(said, unit, "mm") > 3000:
            raise ReckonError(f"The {name} of {said} {shown_unit(unit)} is hard to believe.",
                              mend=f"Say the {name} with its unit.", slug="reckon-range")  # fmt: skip
    setting = extension_setting(torque, length, other, angle_deg)
    # Rounded down: a setting rounded up would pass the torque wanted.
    digits = max(3, digits_said(torque))
    place = setting.adjusted() - digits + 1
    shown = trimmed(setting.quantize(Decimal(1).scaleb(min(place, 0)), rounding=ROUND_FLOOR))
    return Answer(
        "extension",
        (
            Value("setting", setting, torque_unit, shown),
            stated("torque", torque, torque_unit),
            stated("length", length, length_unit),
            stated("extension", extension, extension_unit),
            stated("angle", angle_deg, "deg"),
        ),
        "Wrench {length} plus {extension}" + (" at {angle}" if angle_deg else "") + ": set {setting} for {torque}.",
        "T·L/(L + E·cos α)",
        EXTENSION_SOURCE,
        is_limit=True,
    )


def with_drag(torque: Decimal, torque_unit: str, drag: Decimal, drag_unit: str) -> Answer:
    """Prevailing torque of a self-locking nut, measured while it turns freely, is added."""
    same_kind(torque_unit, "torque", "torque")
    same_kind(drag_unit, "torque", "drag")
    total = positive(torque, "torque") + convert(positive(drag, "drag", True), drag_unit, torque_unit)
    return Answer(
        "prevailing torque",
        (
            value_of("total", total, torque_unit, max(3, digits_said(torque))),
            stated("torque", torque, torque_unit),
            stated("drag", drag, drag_unit),
        ),
        "{torque} plus {drag} drag: set {total}.",
        "T + drag",
        AC_43,
        is_limit=True,
    )


def castle_nut(
    least: Decimal, most: Decimal, lines_up_at: Decimal | None = None, unit: str = "N*m", digits: int = 28
) -> Answer:
    """Start lining up at the least torque, go onward, never past the most. Raises ReckonError for most < least.

    `digits`: a torque with more of them was converted and is shown with so many, the least rounded up and the most
    down. A torque that lines up is rounded so that it stays on its side of both.
    """
    same_kind(unit, "torque", "torque")
    positive(least, "least torque")
    if most < least:
        raise ReckonError("The most is less than the least.", mend="Say the smaller first.", slug="reckon-range")

    def shown(name: str, value: Decimal, rounding: str) -> Value:
        is_said = digits_said(value) <= digits
        return stated(name, value, unit) if is_said else value_of(name, value, unit, digits, rounding)

    values: tuple[Value, ...] = (shown("least", least, ROUND_CEILING), shown("most", most, ROUND_FLOOR))
    rule = "Tighten to {least}, then onward to the next slot, never past {most} and never back."
    if lines_up_at is not None:
        outward = ROUND_FLOOR if lines_up_at < least else ROUND_CEILING
        values += (shown("at", positive(lines_up_at, "torque"), outward),)
        if lines_up_at > most:
            rule = "The slot lines up at {at}, past {most}: change the washer or the nut, then start again."
        elif lines_up_at < least:
            rule = "At {at} it is below {least}: go on to the next slot, never past {most}."
        else:
            rule = "Good: it lines up at {at}, between {least} and {most}. Fit a new split pin."
    return Answer("castle nut", values, rule, "least ≤ T ≤ most, onward only", AC_43, is_limit=True)


def preload_n(torque_nm: Decimal, d_mm: Decimal, k: Decimal = NUT_FACTOR["dry"]) -> Decimal:
    """F = T/(K·d)."""
    if not Decimal("0.05") <= k <= Decimal("0.5"):
        raise ReckonError(f"A nut factor of {k} cannot be.", mend="Give 0.05 to 0.5.", slug="reckon-range")
    return positive(torque_nm, "torque") / (k * positive(d_mm, "diameter") / 1000)


def torque_for_nm(force_n: Decimal, d_mm: Decimal, k: Decimal = NUT_FACTOR["dry"]) -> Decimal:
    """T = K·F·d."""
    return k * positive(force_n, "preload") * positive(d_mm, "diameter") / 1000


def preload_answer(
    torque: Decimal, unit: str, bolt: Thread, strength: str, state: str = "dry", k: Decimal | None = None
) -> Answer:
    """Preload against the proof load: over it is a warning, under a fifth of it too."""
    same_kind(unit, "torque", "torque")
    sensible(torque, unit, "torque")
    factor = NUT_FACTOR[state] if k is None else k
    force = preload_n(convert(torque, unit, "N*m"), bolt.d, factor)
    proof = proof_load_n(bolt, strength_class(strength))
    share = force / proof
    warnings: tuple[str, ...] = ()
    if share > _TOO_MUCH:
        warnings = (f"Too much: {bolt.name} class {strength} would be pulled past its proof load.",)
    elif share < _VERY_LITTLE:
        warnings = (f"Very little for {bolt.name} class {strength}: is the unit right?",)
    # Rounded up: a share shown smaller than it is could seem to pass.
    return Answer(
        "preload",
        (
            value_of("preload", force / 1000, "kN"),
            Value("share", share * 100, "percent", to_place(share * 100, 0, ROUND_CEILING)),
            value_of("stress", force / stress_area_mm2(bolt) * 1000, "kPa"),
            stated("torque", torque, unit),
        ),
        f"{{torque}}: about {{preload}} in {bolt.name} class {strength}, {{share}} of its proof load, with K {factor}.",
        "F = T/(K·d)",
        SHIGLEY,
        is_limit=True,
        warnings=warnings,
    )


def usual_torque_answer(bolt: Thread, strength: str, state: str = "dry") -> Answer:
    """Torque for 75 % of proof load, a reusable joint. An estimate only: the maker's figure comes first."""
    torque = torque_for_nm(proof_load_n(bolt, strength) * Decimal("0.75"), bolt.d, NUT_FACTOR[state])
    return Answer(
        "usual torque",
        (Value("torque", torque, "N*m", trimmed(significant(torque, 2))),),
        f"About {{torque}} for {bolt.name} class {strength}, {state}: only an estimate.",
        f"T = K·F·d with K {NUT_FACTOR[state]}, F 75 % of proof load",
        SHIGLEY,
        is_limit=True,
    )


def wrench_deviation_percent(torque_nm: Decimal) -> Decimal:
    """±4 % above 10 N·m, ±6 % at or below."""
    return Decimal(4) if positive(torque_nm, "torque") > 10 else Decimal(6)


def wrench_answer(torque: Decimal, unit: str) -> Answer:
    """What a wrench within its standard may give at this setting; bounds shown outward."""
    same_kind(unit, "torque", "torque")
    sensible(torque, unit, "torque")
    percent = wrench_deviation_percent(convert(torque, unit, "N*m"))
    low, high = torque * (100 - percent) / 100, torque * (100 + percent) / 100
    places = max(0, 2 - torque.adjusted())
    return Answer(
        "wrench deviation",
        (
            Value("low", low, unit, trimmed(to_place(low, places, ROUND_FLOOR))),
            Value("high", high, unit, trimmed(to_place(high, places, ROUND_CEILING))),
            stated("torque", torque, unit),
        ),
        "At {torque} a wrench within its standard gives {low} to {high}.",
        f"± {percent} %",
        ISO_6789,
    )
