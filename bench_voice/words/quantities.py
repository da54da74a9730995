"""Number and unit words together: "four point six millimetres", "half an inch", "two inches five thousandths".

`read_quantity` gives every meaning of the whole of its words, so that the caller can drop those whose unit does not
fit and ask when more than one is left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from bench_voice.words.numbers import Spoken, read_number
from bench_voice.words.phrases import Language


@dataclass(frozen=True)
class SpokenQuantity:
    """One meaning. `unit` None: none was said. `unit_options`: the word said can be any of these (`unit` is None)."""

    number: Spoken
    unit: str | None = None
    unit_options: tuple[str, ...] = ()
    unit_said: str = ""
    is_always_asked: bool = False


def read_quantity(tokens: Sequence[str], language: Language) -> list[SpokenQuantity]:
    """All meanings of the whole of `tokens`; empty: it is no quantity."""
    found: list[SpokenQuantity] = []
    words = tuple(tokens)
    bare = read_number(words, language.numbers)
    if bare is not None:
        found.append(SpokenQuantity(bare))
    for length in range(1, min(language.longest_unit, len(words)) + 1):
        said = _with_unit(words[:-length], words[-length:], language)
        if said is not None:
            found.append(said)
    if not found or any(said.number.is_tenths for said in found):
        inches = _inch_speech(words, language)
        if inches is not None:
            found = [said for said in found if not said.number.is_tenths] + [inches]
    if not found and (part := _unit_and_fraction(words, language)) is not None:
        found.append(part)
    duration = _duration(words, language)
    if duration is not None:
        found.append(duration)
    return found


def _unit_and_fraction(tokens: tuple[str, ...], language: Language) -> SpokenQuantity | None:
    """ "an inch and a half", "four thou and a half": a whole number, its unit, and a part of one more."""
    at = next((i for i in range(2, len(tokens) - 1) if tokens[i] in language.numbers.and_), None)
    if at is None:
        return None
    fraction = read_number(tokens[at + 1 :], language.numbers)
    if fraction is None or not fraction.fraction_parts or fraction.is_tenths or not 0 < fraction.value < 1:
        return None
    for length in range(1, min(language.longest_unit, at - 1) + 1):
        before, unit = tokens[: at - length], language.units.get(tokens[at - length : at])
        is_one = len(before) == 1 and before[0] in language.numbers.articles
        whole = Decimal(1) if is_one else _whole(before, language)
        if unit is not None and whole is not None:
            number = Spoken((whole + fraction.value,), fraction.is_sure)
            return SpokenQuantity(number, unit, unit_said=" ".join(tokens[at - length : at]))
    return None


def _with_unit(before: tuple[str, ...], tail: tuple[str, ...], language: Language) -> SpokenQuantity | None:
    """A number and its unit, or a unit that can be several (they are asked back)."""
    unit, several = language.units.get(tail), language.ambiguous_units.get(tail)
    if unit is None and several is None:
        return None
    if len(tail) == 1 and tail[0] in language.typed_only and not (before or tail)[0][:1].isdigit():
        return None
    number = _before_unit(before, language)
    if number is None:
        return None
    if unit is not None:
        return SpokenQuantity(number, unit, unit_said=" ".join(tail))
    return SpokenQuantity(number, None, several[0], " ".join(tail), several[1]) if several is not None else None


def _before_unit(tokens: tuple[str, ...], language: Language) -> Spoken | None:
    """A number before its unit; a fraction may have "of an" between ("three quarters of an inch", "a half inch")."""
    number = read_number(tokens, language.numbers)
    if number is not None:
        return number
    for length in (2, 1):
        if len(tokens) > length and tokens[-length:] in language.numbers.of:
            number = read_number(tokens[:-length], language.numbers)
            if number is not None and number.fraction_parts:
                return Spoken(number.candidates, number.is_sure, False, number.fraction_parts)
    if len(tokens) == 1 and tokens[0] in language.numbers.articles:
        return None  # "an inch": a manner of speaking more often than a reading
    return None


def _whole(tokens: tuple[str, ...], language: Language) -> Decimal | None:
    number = read_number(tokens, language.numbers)
    if number is None or not number.is_sure or number.fraction_parts or number.value < 0:
        return None
    return number.value if number.value == number.value.to_integral_value() else None


def _inch_speech(tokens: tuple[str, ...], language: Language) -> SpokenQuantity | None:
    """ "[two inches] [and] [five hundred eighty thousandths] [and] [two tenths]", at least two of the three parts;
    also "one inch and nine sixteenths [of an inch]" and "two tenths of a thou". In inches, else in thou.
    """
    at = next((i for i, word in enumerate(tokens) if language.units.get((word,)) == "in"), None)
    if at is None or not 0 < at < len(tokens) - 1:
        inches, rest = None, tokens
    else:
        inches, joined = _whole(tokens[:at], language), tokens[at + 1 :]
        if inches is None:
            return None
        rest = _without_and(joined, language)
        fraction = _fraction_of_an_inch(rest, language)
        if fraction is not None:
            has_top = rest != joined or len(rest) > 1  # "two inches half": asked
            total = Spoken((inches + fraction.value,), fraction.is_sure and has_top)
            return SpokenQuantity(total, "in", unit_said=tokens[at])
    found = _thou(rest, language)
    if found is None:
        return None
    if inches is None:
        return SpokenQuantity(Spoken((found,)), "thou", unit_said="thou")
    if found >= 1000:
        return None
    return SpokenQuantity(Spoken((inches + found / 1000,)), "in", unit_said="in")


def _fraction_of_an_inch(tokens: tuple[str, ...], language: Language) -> Spoken | None:
    """ "nine sixteenths", "nine sixteenths of an inch"."""
    number = read_number(tokens, language.numbers)
    if number is None:
        for length in range(2, min(4, len(tokens))):
            if language.units.get(tokens[-1:]) == "in" and tokens[-length:-1] in language.numbers.of:
                number = read_number(tokens[:-length], language.numbers)
    is_one = number is not None and number.fraction_parts and not number.is_tenths and 0 < number.value < 1
    return number if is_one else None


def _thou(tokens: tuple[str, ...], language: Language) -> Decimal | None:
    """Thousandths of an inch: "five hundred eighty thousandths [and] two tenths", "two tenths of a thou"."""
    rest = tokens
    thou: Decimal | None = None
    tenths: Decimal | None = None
    at = next((i for i, word in enumerate(rest) if word in language.thousandths), None)
    of_thou = next((p for p in language.tenths_of_thou if len(rest) > len(p) and rest[-len(p) :] == p), None)
    if at is not None and not (of_thou and at >= len(rest) - len(of_thou)):
        number = read_number(rest[:at], language.numbers)
        if number is None or not number.is_sure:
            return None
        thou, rest = number.value, _without_and(rest[at + 1 :], language)
    if rest:
        if of_thou:
            tenths = _whole(rest[: -len(of_thou)], language)
        elif rest[-1] in language.tenths and thou is not None:
            tenths = _whole(rest[:-1], language)
        if tenths is None or tenths > 9:
            return None
    return None if thou is None and tenths is None else (thou or Decimal(0)) + (tenths or Decimal(0)) / 10


def _without_and(tokens: tuple[str, ...], language: Language) -> tuple[str, ...]:
    return tokens[1:] if tokens and tokens[0] in language.numbers.and_ else tokens


def _duration(tokens: tuple[str, ...], language: Language) -> SpokenQuantity | None:
    """ "one minute thirty seconds", "two hours and ten minutes": in the smallest unit said."""
    sizes = {"h": 3600, "min": 60, "s": 1}
    total, rest, last = 0, tokens, 10_000
    unit = ""
    while rest:
        at = next((i for i, word in enumerate(rest) if language.units.get((word,)) in sizes), None)
        if not at:
            return None
        value, unit = _whole(rest[:at], language), language.units[(rest[at],)]
        if value is None or sizes[unit] >= last or (total and value >= 60):
            return None
        total, last = total + int(value) * sizes[unit], sizes[unit]
        rest = rest[at + 1 :]
        if rest:
            rest = _without_and(rest, language)
            if not rest:
                return None
    if not unit or last == sizes["h"]:
        return None
    if sum(language.units.get((word,)) in sizes for word in tokens) < 2:
        return None
    return SpokenQuantity(Spoken((Decimal(total // sizes[unit]),)), unit, unit_said=unit)
