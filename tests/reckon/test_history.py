"""Wear from the logbook's rows. The rows have the shape that `bench-voice logbook --json` prints."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from bench_voice.reckon import ReckonError, said, text
from bench_voice.reckon.history import history, wear_answer

D = Decimal


def session(distance: str | None, *lining: str, unit: str = "mm") -> dict[str, Any]:
    readings = [
        {"reading": "lining", "point": point, "value": value, "unit": unit, "verdict": "good"}
        for point, value in enumerate(lining)
    ]
    if distance is not None:
        readings.append({"reading": "odometer", "point": 0, "value": distance, "unit": "km", "verdict": "noted"})
    return {"journal": "one.jsonl", "machine_id": "trailer", "readings": readings}


ROWS = [
    session("10000", "5.0", "4.9"),
    {"journal": "bad.jsonl", "error": "torn"},
    session("15000", "4.5", "4.5"),
    session(None, "4.4"),
    session("20000", "0.157480314961", unit="in"),
    session("25000", "3.5", "3.6"),
]


def test_history_takes_sessions_that_have_both_in_one_unit() -> None:
    pairs = history(ROWS, "lining", "odometer", "mm", "km")
    assert [x for x, _ in pairs] == [10000, 15000, 20000, 25000]
    assert [float(y) for _, y in pairs] == pytest.approx([5.0, 4.5, 4.0, 3.5])
    assert len(history(ROWS, "lining", "odometer", "mm", "km", point=1)) == 3
    with pytest.raises(ReckonError, match="length"):
        history(ROWS, "lining", "odometer", "V", "km")


def test_a_straight_line_is_answered_exactly() -> None:
    """0.1 mm for each 1000 km; from 3.5 to 2 mm another 15 000 km."""
    pairs = [(D(x), D(y)) for x, y in (("10000", "5.0"), ("15000", "4.5"), ("20000", "4.0"), ("25000", "3.5"))]
    answer = wear_answer(pairs, D(2), "mm", "km")
    assert answer.get("rate").value == pytest.approx(D("0.1"))
    assert answer.get("left").value == pytest.approx(D(15000))
    assert answer.get("at").value == pytest.approx(D(40000))
    assert "0.1 mm for each thousand kilometres" in text(answer)
    assert said(answer).startswith("Zero point one millimetres for each thousand kilometres.")


def test_scatter_widens_the_bounds_and_they_are_rounded_toward_sooner() -> None:
    pairs = [(D(x), D(y)) for x, y in (("10000", "5.0"), ("15000", "4.53"), ("20000", "3.96"), ("25000", "3.5"))]
    answer = wear_answer(pairs, D(2), "mm", "km")
    low, high = answer.get("from"), answer.get("to")
    assert low.value < answer.get("at").value < high.value
    assert all(one.shown <= one.value for one in (low, high, answer.get("at"), answer.get("left")))


def test_what_stops_a_forecast_is_said() -> None:
    up = wear_answer([(D(0), D(5)), (D(1000), D(4)), (D(2000), D(5))], D(2), "mm", "km")
    assert "went up" in text(up)
    assert "No forecast" in text(up)
    two = wear_answer([(D(0), D(5)), (D(1000), D(4))], D(3), "mm", "km")
    assert "Two readings only" in text(two)
    assert "between" not in text(two)
    with pytest.raises(ReckonError, match="One reading"):
        wear_answer([(D(0), D(5))], D(2), "mm", "km")
