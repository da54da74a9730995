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


LINE = [(D(x), D(y)) for x, y in (("10000", "5.0"), ("15000", "4.5"), ("20000", "4.0"), ("25000", "3.5"))]


def test_what_it_will_be_on_a_straight_line() -> None:
    """0.1 mm for each 1000 km from 3.5 mm at 25 000 km: 2.5 at 35 000, the limit of 2 at 40 000."""
    answer = wear_answer(LINE, D(2), "mm", "km", at=D(35_000))
    assert text(answer).startswith("2.5 mm expected at 35000 km. Check")
    assert wear_answer(LINE, D(2), "mm", "km", at=D(25_000)).get("expected").shown == D("3.5")
    assert wear_answer(LINE, D(2), "mm", "km", at=D(40_000)).get("expected").shown == D("2.0")
    # 3.42 mm: rounded to the place of the readings, toward worse.
    assert wear_answer(LINE, D(2), "mm", "km", at=D(25_800)).get("expected").shown == D("3.4")


def test_what_it_will_be_where_high_is_bad() -> None:
    """A drum that wears by 0.1 mm in 1000 km, at most 202: 201.12 is shown as 201.2."""
    pairs = [(D(x), D(y)) for x, y in (("1000", "200.0"), ("2000", "200.1"), ("3000", "200.2"))]
    answer = wear_answer(pairs, D(202), "mm", "km", is_low_bad=False, at=D(12_200))
    assert answer.get("expected").shown == D("201.2")
    assert "only a guess" in text(answer)  # 9200 km ahead of 2000 km of history


def test_the_bounds_of_what_it_will_be_by_hand() -> None:
    """39.6, 39.0, 38.7 mm at 100, 200, 300 h. By hand: mean 200 and 39.1, slope -90/20000, residuals 0.05, -0.1, 0.05,
    so s = sqrt(0.015) = 0.12247; at 400 h 38.2 +- 12.706 * s * sqrt(1 + 1/3 + 200^2/20000) = 2.841. Student's t for one
    degree of freedom: printed tables, from memory."""
    pairs = [(D(100), D("39.6")), (D(200), D("39.0")), (D(300), D("38.7"))]
    answer = wear_answer(pairs, D(20), "mm", "h", at=D(400))
    assert float(answer.get("expected").value) == pytest.approx(38.2)
    assert float(answer.get("low").value) == pytest.approx(38.2 - 2.841, abs=0.001)
    assert float(answer.get("high").value) == pytest.approx(38.2 + 2.841, abs=0.001)
    # Outward: a bound is never shown narrower than it is.
    assert text(answer).startswith("38.2 mm expected at 400 h, between 35.3 mm and 41.1 mm.")
    assert "scatter" not in text(answer), "that note is on when the limit is reached, and was not asked"


def test_nothing_is_promised_past_the_limit_or_in_the_past() -> None:
    past = text(wear_answer(LINE, D(2), "mm", "km", at=D(45_000)))
    assert past.startswith("By this trend the limit is reached before that, at 40000 km.")
    assert "expected" not in past
    assert "The newest reading was at 25000 km already." in text(wear_answer(LINE, D(2), "mm", "km", at=D(24_000)))
    up = wear_answer([*LINE, (D(26_000), D("4.5"))], D(2), "mm", "km", at=D(30_000))
    assert "went up" in text(up)
    assert "expected" not in text(up)
    two = text(wear_answer(LINE[:2], D(2), "mm", "km", at=D(17_500)))
    assert "Two readings only" in two
    assert "between" not in two
