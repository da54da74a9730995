"""One point's earlier readings from the logbook's rows, and the answer to "how long will it last?".

Pure: rows come in as the logbook gives them (`bench_voice.records.logbook.rows`), oldest first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from bench_voice.reckon.answer import Answer, ReckonError, Value, number, trimmed
from bench_voice.reckon.measure import convert, shown_unit
from bench_voice.reckon.wear import trend

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


def wear_answer(
    pairs: Sequence[tuple[Decimal, Decimal]],
    limit: Decimal,
    unit: str,
    against_unit: str,
    is_low_bad: bool = True,
    uncertainty: Decimal = Decimal(0),
) -> Answer:
    """Rate, where the limit is reached and between which bounds (95 %); all bounds shown rounded down: sooner.

    `values`: "rate" (reading's unit for each unit of distance or hours), and where there is a forecast "at", "left",
    and "from" and "to" where the interval is closed. Raises ReckonError [reckon-points] for fewer than two readings.
    """
    found = trend(
        [float(x) for x, _ in pairs], [float(y) for _, y in pairs], float(limit), is_low_bad, float(uncertainty)
    )
    rate = _decimal(abs(found.line.b1))
    # For each thousand of distance or hours: rates by one are too small to be said.
    values = [Value("rate", rate * 1000, unit, _short(rate * 1000))]
    sentence = f"{{rate}} for each thousand {shown_unit(against_unit)}."
    if found.reached_at is None or found.left is None:
        return _answer(values, "No forecast.", found.notes)
    values.append(_value("left", found.left, against_unit))
    values.append(_value("at", found.reached_at, against_unit))
    sentence += " The limit in about {left}, at {at}"
    if found.interval is not None and found.interval[0] is not None and found.interval[1] is not None:
        values += [_value("from", found.interval[0], against_unit), _value("to", found.interval[1], against_unit)]
        sentence += ", between {from} and {to}"
    return _answer(values, sentence + ".", found.notes)


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
    shown = Decimal(math.floor(exact.scaleb(-place))).scaleb(place) if exact else Decimal(0)
    return Value(name, exact, unit, trimmed(shown))
