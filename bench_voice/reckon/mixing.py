"""Mixing two fluids by ratio."""

from __future__ import annotations

from decimal import Decimal

from bench_voice.reckon.answer import PRACTICE, Answer, ReckonError, Value, positive, stated, value_of
from bench_voice.reckon.measure import convert, same_kind, sensible

# The lesser fluid is measured in these.
_SMALLER = {"L": "mL"} | dict.fromkeys(("us_gal", "us_qt", "us_pint"), "fl_oz")
_SMALLER |= dict.fromkeys(("imp_gal", "imp_qt", "imp_pint"), "imp_fl_oz")


def share(parts: Decimal, to: Decimal, main: Decimal) -> Decimal:
    """`parts` to `to` (50 to 1, or 1 to 50): how much of the lesser goes *into* `main` of the greater."""
    more, less = max(parts, to), min(parts, to)
    positive(less, "ratio")
    return positive(main, "volume") * less / more


def shares_of_total(parts: Decimal, to: Decimal, total: Decimal) -> tuple[Decimal, Decimal]:
    """The two amounts that make `total` together."""
    whole = positive(parts, "ratio") + positive(to, "ratio")
    return positive(total, "volume") * parts / whole, total * to / whole


def mix_answer(parts: Decimal, to: Decimal, volume: Decimal, unit: str, is_total: bool) -> Answer:
    """`is_total`: `volume` is the finished mixture; else it is the greater fluid that the lesser goes into."""
    same_kind(unit, "volume", "volume")
    sensible(volume, unit, "volume")
    if max(parts, to) / positive(min(parts, to), "ratio") > 1000:
        raise ReckonError(f"{parts} to {to} is no usual mixture.", mend="Say the ratio again.", slug="reckon-range")
    small_unit = _SMALLER.get(unit, unit)
    if is_total:
        first, second = shares_of_total(parts, to, volume)
        values: tuple[Value, ...] = (value_of("first", first, unit, 4), value_of("second", second, unit, 4))
        sentence = "{parts} to {to} for {volume}: {first} of the first and {second} of the second."
    else:
        values = (value_of("added", convert(share(parts, to, volume), unit, small_unit), small_unit, 4),)
        sentence = "{parts} to {to} in {volume}: put in {added}."
    values += (stated("volume", volume, unit), stated("parts", parts, "count"), stated("to", to, "count"))
    return Answer("mix", values, sentence, "parts over parts", PRACTICE, is_limit=True)
