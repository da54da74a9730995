"""One point's earlier readings from the logbook's rows, and the answers to "how long will it last?" and "what will it
be at twenty thousand kilometres?".

Pure: rows come in as the logbook gives them (`bench_voice.records.logbook.rows`), oldest first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Any

from bench_voice.core.history import Series
from bench_voice.reckon.answer import Answer, ReckonError, Value, number, trimmed
from bench_voice.reckon.measure import convert
from bench_voice.reckon.spoken import aloud, text, unit_words
from bench_voice.reckon.wear import FAR, MAX_AHEAD, SCATTER, Trend, expected, trend

SOURCE = "least squares; Draper & Smith, Applied Regression Analysis (from memory)"


def history(
    rows: Iterable[Mapping[str, Any]], reading: str, against: str, unit: str, against_unit: str, point: int = 0
) -> list[tuple[Decimal, Decimal]]:
    """(distance or hours, reading) of each session that has both, in these units. Rows with an error are left out.

    `reading`, `against`: ids of readings (`against` such as the odometer's). Raises ReckonError [reckon-unit] where a
    session recorded one in another kind of unit.
    """
    found: list[tuple[Decimal, Decimal]] = []
    for row in rows:
        y = _last(row, reading, point, unit)
        x = _last(row, against, 0, against_unit)
        if x is not None and y is not None:
            found.append((x, y))
    return found


def _last(row: Mapping[str, Any], reading: str, point: int, unit: str) -> Decimal | None:
    """The last value of that point that stands: a part that was replaced in the session counts as it was left."""
    value = None
    for one in row.get("readings", ()):
        if one["reading"] == reading and one["point"] == point:
            value = convert(number(one["value"]), one["unit"], unit)
    return value


def since_renewed(
    pairs: Sequence[tuple[Decimal, Decimal]], is_low_bad: bool, uncertainty: Decimal
) -> Sequence[tuple[Decimal, Decimal]]:
    """The readings of the part that is there now: those after the last jump back by more than the doubt of a
    difference and half of all wear so far. A jump at the newest one stays in: whether the part is new is asked.
    """
    ordered = sorted(pairs)
    sign = 1 if is_low_bad else -1
    start = 0
    for index in range(1, len(ordered) - 1):
        values = [value for _, value in ordered[start : index + 1]]
        back = (values[-1] - values[-2]) * sign
        if back > max(uncertainty * Decimal(2).sqrt(), (max(values[:-1]) - min(values[:-1])) / 2):
            start = index
    return ordered[start:]


def wear_answer(
    pairs: Sequence[tuple[Decimal, Decimal]],
    limit: Decimal,
    unit: str,
    against_unit: str,
    is_low_bad: bool = True,
    uncertainty: Decimal = Decimal(0),
    at: Decimal | None = None,
) -> Answer:
    """Rate, where the limit is reached and between which bounds (95 %); all bounds shown rounded down: sooner.

    `at`: instead, what to expect there. `values`: "rate" (reading's unit for each thousand of distance or hundred
    hours), and where there is a forecast "at", "left", and "from" and "to" where the interval is closed; with `at`
    those of `_expected`. Raises ReckonError [reckon-points] for fewer than two readings.
    """
    found = trend(
        [float(x) for x, _ in pairs], [float(y) for _, y in pairs], float(limit), is_low_bad, float(uncertainty)
    )
    # Rates by one kilometre or hour are too small to be said.
    many, word = (100, "hundred") if against_unit == "h" else (1000, "thousand")
    rate = _decimal(abs(found.line.b1)) * many
    values = [Value("rate", rate, unit, _short(rate))]
    each = f"{{rate}} for each {word} {unit_words(against_unit)}."
    if found.reached_at is None or found.left is None:
        return _answer(values, "No forecast.", found.notes)
    if at is not None:
        return _expected(found, sorted(pairs), at, unit, against_unit, is_low_bad)
    sentence = each
    values.append(_value("left", found.left, against_unit))
    values.append(_value("at", found.reached_at, against_unit))
    sentence += " The limit in about {left}, at {at}"
    if found.interval is not None and found.interval[0] is not None and found.interval[1] is not None:
        values += [_value("from", found.interval[0], against_unit), _value("to", found.interval[1], against_unit)]
        sentence += ", between {from} and {to}"
    return _answer(values, sentence + ".", found.notes)


def _expected(
    found: Trend, pairs: Sequence[tuple[Decimal, Decimal]], at: Decimal, unit: str, against_unit: str, is_low_bad: bool
) -> Answer:
    """`values`: "there", "expected" rounded toward worse, "low" and "high" (95 % of a reading there) rounded outward.
    Past the limit no reading is promised, only "limit": where it is reached.
    """
    values = [Value("there", at, against_unit, at)]
    newest = pairs[-1][0]
    if at < newest:
        values.append(Value("newest", newest, against_unit, newest))
        return _answer(values, "The newest reading was at {newest} already.", ())
    if found.reached_at is not None and _decimal(found.reached_at) < at:
        values.append(_value("limit", found.reached_at, against_unit))
        return _answer(values, "By this trend the limit is reached before that, at {limit}.", found.notes)
    value, bounds = expected(found.line, float(at))
    place = _place(pairs[-1][1])
    values.append(_to_place("expected", value, unit, place, ROUND_FLOOR if is_low_bad else ROUND_CEILING))
    sentence = "{expected} expected at {there}"
    if bounds is not None:
        low, high = (
            _to_place(name, end, unit, place, rounding)
            for name, end, rounding in zip(("low", "high"), bounds, (ROUND_FLOOR, ROUND_CEILING), strict=True)
        )
        if low.shown < high.shown:
            values += [low, high]
            sentence += ", between {low} and {high}"
    # The trend's own notes on the limit's forecast are none on this one.
    notes = [note for note in found.notes if note not in (FAR, SCATTER)]
    is_far = float(at - newest) > MAX_AHEAD * float(newest - pairs[0][0])
    return _answer(values, sentence + ".", (*notes, *((FAR,) if is_far else ())))


def _answer_of(one: Series, unit: str, at: Decimal | None = None) -> Answer | None:
    """None without a limit, and with one reading."""
    is_low_bad = one.low is not None and (one.high is None or _falls(one.pairs))
    limit = one.low if is_low_bad else one.high
    if limit is None:
        return None
    pairs = since_renewed(one.pairs, is_low_bad, one.uncertainty)
    try:
        return wear_answer(pairs, limit, unit, one.against_unit, is_low_bad, one.uncertainty, at)
    except ReckonError:
        return None


def answers(series: Iterable[Series], unit: str) -> list[tuple[Series, Answer]]:
    """The answer of each point that has one, the soonest worn first."""
    found = [(one, answer) for one in series if (answer := _answer_of(one, unit)) is not None]

    def soonest(pair: tuple[Series, Answer]) -> Decimal:
        left = [value.value for value in pair[1].values if value.name == "left"]
        return left[0] if left else Decimal("Infinity")

    return sorted(found, key=soonest)


def lasting(series: Sequence[Series], unit: str, is_spoken: bool = True, at: Decimal | None = None) -> str:
    """ "How long will it last?" for one reading, with `at` what it will be there: of several points the one that is
    worn soonest; "" where there is no earlier reading; says so where one is too few.
    """
    if not any(one.pairs for one in series):
        return ""
    found = answers(series, unit)
    if not found:
        has_limit = any(one.low is not None or one.high is not None for one in series)
        return "One reading has no trend: measure again later." if has_limit else "It has no limit on the sheet."
    first, answer = found[0]
    answer = answer if at is None else _answer_of(first, unit, at) or answer
    which = f"point {first.point + 1} first. " if len(series) > 1 else ""
    return which + (aloud(answer) if is_spoken else text(answer))


def _falls(pairs: Sequence[tuple[Decimal, Decimal]]) -> bool:
    ordered = sorted(pairs)
    return len(ordered) < 2 or ordered[-1][1] <= ordered[0][1]


def _to_place(name: str, value: float, unit: str, place: int, rounding: str) -> Value:
    # Six digits beyond first, as in `_value`: 29.9999999999 is 30.0 with the noise of floating point, not 29.9.
    exact = _decimal(value)
    near = round(exact.scaleb(-place), 6)
    return Value(name, exact, unit, near.quantize(Decimal(1), rounding=rounding).scaleb(place))


def _place(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0


def _answer(values: list[Value], sentence: str, notes: tuple[str, ...]) -> Answer:
    return Answer("wear trend", tuple(values), sentence, "y = b0 + b1·x", SOURCE, is_limit=True, warnings=notes)


def _decimal(value: float) -> Decimal:
    if not math.isfinite(value):
        raise ReckonError("The trend has no number.", mend="Correct the logbook.", slug="reckon-points")
    return Decimal(repr(value))


def _short(value: Decimal) -> Decimal:
    """Two significant digits."""
    return trimmed(value.quantize(Decimal(1).scaleb(value.adjusted() - 1))) if value else Decimal(0)


def _value(name: str, value: float, unit: str) -> Value:
    """Shown to three significant digits, rounded toward sooner."""
    exact = _decimal(value)
    place = exact.adjusted() - 2
    # Nine digits first: 3599.9999999 is 3600 with the noise of floating point, not 3590.
    shown = Decimal(math.floor(round(exact.scaleb(-place), 6))).scaleb(place) if exact else Decimal(0)
    return Value(name, exact, unit, trimmed(shown))
