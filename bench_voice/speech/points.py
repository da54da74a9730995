"""Several points in one breath: "four point six, four point five, four point four" -> their values in order.

Safe choices: values with their own "point" are taken where there is only one way to cut them; whole numbers said digit
by digit ("four six, four five") are taken as said when this part can have such values, else the decimals are offered
and asked; a row of digits without commas is always asked; more values than the step wants are asked.
"""

from __future__ import annotations

from decimal import Decimal

from bench_voice.core.intents import Asks, Measurement, Question, ValueKind
from bench_voice.core.sheet import ReadingSpec
from bench_voice.words.numbers import read_number, read_points
from bench_voice.words.phrases import Language
from bench_voice.words.quantities import SpokenQuantity, read_quantity
from bench_voice.words.text import BREAK
from bench_voice.words.units import same_dimension
from bench_voice.words.values import in_limit_unit, is_absurd, is_plausible, plausible_range


def read_list(
    tokens: tuple[str, ...], spec: ReadingSpec, wanted: int, language: Language, name: str | None, kind: ValueKind
) -> Measurement | Question | None:
    """A list of at least two values with its question where it needs one, or None when it is no list."""
    # Breaks first ("one hundred and two, one hundred and four"), then "and" and "then" as breaks too.
    tried: list[tuple[str, ...]] = []
    for at in (frozenset((BREAK,)), language.separators | {BREAK}):
        parts = _split(tokens, at)
        if len(parts) >= 2 and parts != tried:
            found = _from_parts(parts, spec, wanted, language, name, kind, has_breaks=BREAK in tokens)
            if found is not None:
                return found
        tried = parts
    if BREAK in tokens:
        return None
    return _without_breaks(tokens, spec, wanted, language, name, kind)


def without_echo(tokens: tuple[str, ...], spec: ReadingSpec, language: Language) -> tuple[str, ...]:
    """ "Point two, four point five" after "point two of three": what was asked for is said once more. It is no value
    where this part can't have it."""
    numbers = language.numbers
    if len(tokens) < 4 or tokens[0] not in numbers.point or tokens[2] != BREAK:
        return tokens
    number = numbers.digit.get(tokens[1], 0)
    as_value = in_limit_unit(Decimal(number) / 10, spec.read_in, spec)
    is_echo = 0 < number <= spec.points and plausible_range(spec) is not None and not is_plausible(as_value, spec)
    return tokens[3:] if is_echo else tokens


def _split(tokens: tuple[str, ...], at: frozenset[str]) -> list[tuple[str, ...]]:
    parts: list[list[str]] = [[]]
    for token in tokens:
        if token in at:
            parts.append([])
        else:
            parts[-1].append(token)
    return [tuple(part) for part in parts if part]


def _from_parts(
    parts: list[tuple[str, ...]],
    spec: ReadingSpec,
    wanted: int,
    language: Language,
    name: str | None,
    kind: ValueKind,
    has_breaks: bool,
) -> Measurement | Question | None:
    saids = _each_one_number(parts, language)
    if saids is None:
        return None
    units = {said.unit for said in saids if said.unit}
    if len(units) > 1:
        return None
    unit = units.pop() if units else spec.read_in
    if not same_dimension(unit, spec.unit):
        return Question(Asks.WRONG_UNIT, name=name, detail=unit)
    said_values = tuple(said.number.value for said in saids)
    plain = _several(said_values, unit, spec, name, kind)
    if len(saids) > wanted:
        return Question(Asks.HOW_MANY_POINTS, name=name, options=(plain,), detail=str(len(saids)))
    if not all(said.number.is_sure for said in saids):
        other = _several(tuple(said.number.candidates[-1] for said in saids), unit, spec, name, kind)
        return _which((plain, other), name)
    n_fractions = sum(said.number.fraction_parts > 0 for said in saids)
    has_own_points = all(_has_point(part, language) for part in parts)
    if (not has_breaks and not has_own_points) or 0 < n_fractions < len(saids):
        return _which((plain,), name)  # "four and half", "four, and a half": perhaps one number
    if all(_is_row(part, language) for part in parts):
        decimals = _several(tuple(_pointed(value) for value in said_values), unit, spec, name, kind)
        if not _all_plausible(plain, spec) or plausible_range(spec) is None:
            likely = _all_plausible(decimals, spec)
            return _which((decimals, plain) if likely else (plain, decimals), name)
    return _within(plain, spec, name)


def _each_one_number(parts: list[tuple[str, ...]], language: Language) -> list[SpokenQuantity] | None:
    """The number of each part; None where one of them is none, or can be several."""
    saids: list[SpokenQuantity] = []
    for part in parts:
        if part[0] in language.separators and len(part) > 1:
            part = part[1:]
        meanings = read_quantity(part, language)
        if len(meanings) != 1 or meanings[0].unit_options or (meanings[0].number.is_tenths and not meanings[0].unit):
            return None
        saids.append(meanings[0])
    return saids


def _has_point(part: tuple[str, ...], language: Language) -> bool:
    """Whether a point was said in it, or typed ("4.6")."""
    return any(t in language.numbers.point or (not t.isdigit() and t[0].isdigit()) for t in part)


def _without_breaks(
    tokens: tuple[str, ...], spec: ReadingSpec, wanted: int, language: Language, name: str | None, kind: ValueKind
) -> Measurement | Question | None:
    unit, body = spec.read_in, tokens
    for length in range(min(language.longest_unit, len(tokens) - 1), 0, -1):
        found = language.units.get(tokens[-length:])
        if found and not (length == 1 and tokens[-1] in language.typed_only):
            unit, body = found, tokens[:-length]
            break
    n_points = sum(token in language.numbers.point for token in body)
    if n_points >= 2:
        ways = read_points(body, n_points, language.numbers)
        if not ways:
            return None
        if not same_dimension(unit, spec.unit):
            return Question(Asks.WRONG_UNIT, name=name, detail=unit)
        options = tuple(_several(way, unit, spec, name, kind) for way in ways)
        if n_points > wanted:
            return Question(Asks.HOW_MANY_POINTS, name=name, options=options, detail=str(n_points))
        return _within(options[0], spec, name) if len(options) == 1 else _which(options[:4], name)
    if n_points or not same_dimension(unit, spec.unit):
        return None
    if all(token in language.numbers.digit for token in body) and len(body) >= 2 and len(body) % wanted == 0:
        size = len(body) // wanted
        rows = [body[i : i + size] for i in range(0, len(body), size)]
        numbers = [read_number(row, language.numbers) for row in rows]
        values = tuple(number.value for number in numbers if number is not None)
        plain = _several(values, unit, spec, name, kind)
        if size == 1:
            return _which((plain,), name)
        decimals = _several(tuple(_pointed(value) for value in values), unit, spec, name, kind)
        return _which((plain, decimals) if _all_plausible(plain, spec) else (decimals, plain), name)
    return None


def _is_row(part: tuple[str, ...], language: Language) -> bool:
    return len(part) >= 2 and all(token in language.numbers.digit for token in part)


def _pointed(value: Decimal) -> Decimal:
    """46 -> 4.6: the point after the first digit."""
    text = str(value)
    return Decimal(f"{text[0]}.{text[1:]}") if len(text) > 1 else value


def _several(
    values: tuple[Decimal, ...], unit: str, spec: ReadingSpec, name: str | None, kind: ValueKind
) -> Measurement:
    converted = tuple(in_limit_unit(value, unit, spec) for value in values)
    return Measurement(kind, name=name, unit=unit, values=values, values_in_limit_unit=converted)


def _all_plausible(reading: Measurement, spec: ReadingSpec) -> bool:
    return all(is_plausible(value, spec) for value in reading.values_in_limit_unit)


def _which(options: tuple[Measurement, ...], name: str | None) -> Question:
    return Question(Asks.WHICH_NUMBER, name=name, options=options, is_offer=True)


def _within(reading: Measurement, spec: ReadingSpec, name: str | None) -> Measurement | Question:
    if any(is_absurd(value, spec) for value in reading.values_in_limit_unit):
        return Question(Asks.IMPLAUSIBLE, name=name, options=(reading,), is_offer=True)
    return reading
