"""Wear trends against NIST StRD (Norris, NoInt1) and in the cases that must be said."""

from __future__ import annotations

import math

import pytest

from bench_voice.reckon import ReckonError, wear

# NIST Statistical Reference Datasets, linear regression: certified values. [seen]
NORRIS_X = """0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0
228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5"""
NORRIS_Y = """0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7
228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2"""
X, Y = [float(one) for one in NORRIS_X.split()], [float(one) for one in NORRIS_Y.split()]
NINE_DIGITS = 5e-10


def test_norris_to_nine_digits() -> None:
    line = wear.fit(X, Y)
    assert line.n == 36
    assert line.b0 == pytest.approx(-0.262323073774029, rel=NINE_DIGITS)
    assert line.b1 == pytest.approx(1.00211681802045, rel=NINE_DIGITS)
    assert line.sd_b0 == pytest.approx(0.232818234301152, rel=NINE_DIGITS)
    assert line.sd_b1 == pytest.approx(0.429796848199937e-03, rel=NINE_DIGITS)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=NINE_DIGITS)
    assert line.r2 == pytest.approx(0.999993745883712, rel=NINE_DIGITS)
    assert line.residual_sd is not None
    assert line.residual_sd**2 * line.freedom == pytest.approx(26.6173985294224, rel=NINE_DIGITS)


def test_norris_inverse_prediction() -> None:
    """499.205 595 672 943 [computed with scipy]."""
    line = wear.fit(X, Y)
    assert wear.crossing(line, 500) == pytest.approx(499.205595672943, rel=1e-12)
    interval = wear.crossing_interval(line, 500)
    assert interval is not None
    low, high = interval
    assert low is not None
    assert high is not None
    assert low < 499.205595672943 < high
    # At each end the line's own 95 % band just reaches the limit.
    assert line.residual_sd is not None
    for end in (low, high):
        half = wear.t_quantile(0.975, 34) * line.residual_sd
        half *= math.sqrt(1 / line.n + (end - line.mean_x) ** 2 / line.sxx)
        assert abs(500 - line.at(end)) == pytest.approx(half, rel=1e-6)


@pytest.mark.parametrize(
    ("freedom", "t"),
    # Student's t, 97.5 %: printed tables (NIST/SEMATECH e-Handbook 1.3.6.7.2), from memory.
    [(1, 12.706), (2, 4.303), (3, 3.182), (4, 2.776), (5, 2.571), (10, 2.228), (30, 2.042), (100, 1.984)],
)
def test_quantiles(freedom: int, t: float) -> None:
    assert wear.t_quantile(0.975, freedom) == pytest.approx(t, abs=0.0006)
    assert wear.t_probability(wear.t_quantile(0.975, freedom), freedom) == pytest.approx(0.95, abs=1e-12)


def test_a_steady_wear_says_when() -> None:
    found = wear.trend([0, 5000, 10_000, 15_000], [5.0, 4.5, 4.02, 3.5], limit=2.0)
    assert found.line.b1 == pytest.approx(-0.0000996)
    assert found.reached_at == pytest.approx((2.0 - found.line.b0) / found.line.b1)
    assert found.interval is not None
    low, high = found.interval
    assert low is not None
    assert high is not None
    assert low < (found.reached_at or 0) < high
    assert found.left == pytest.approx((found.reached_at or 0) - 15_000)
    assert found.notes == ("That is farther ahead than the readings reach back: only a guess.",) or not found.notes


def test_two_readings_have_a_rate_and_no_interval() -> None:
    found = wear.trend([0, 1000], [5.0, 4.0], limit=2.0)
    assert found.line.residual_sd is None
    assert found.interval is None
    assert wear.expected(found.line, 2000) == (pytest.approx(3.0), None)
    assert "Two readings only" in found.notes[0]
    assert found.reached_at == pytest.approx(3000)


@pytest.mark.parametrize(
    ("x", "y", "match"),
    [([], [], "One reading"), ([1], [5], "One reading"), ([1, 1, 1], [5, 4, 3], "one distance"), ([1, 2], [5], "One"),
     ([1, 2], [5, math.nan], "no number")],
)  # fmt: skip
def test_too_little_is_refused(x: list[float], y: list[float], match: str) -> None:
    with pytest.raises(ReckonError, match=match):
        wear.fit(x, y)


def test_a_newest_reading_that_went_up_is_asked() -> None:
    found = wear.trend([0, 1000, 2000], [5.0, 4.5, 4.9], limit=2.0, uncertainty=0.02)
    assert found.reached_at is None
    assert "went up" in found.notes[0]
    down = wear.trend([0, 1000, 2000], [50.0, 50.4, 50.1], limit=51.0, is_low_bad=False, uncertainty=0.02)
    assert "went down" in down.notes[0]
    # Within the uncertainty of a difference (U·√2) it is no rise.
    small = wear.trend([0, 1000, 2000], [5.0, 4.5, 4.52], limit=2.0, uncertainty=0.02)
    assert small.reached_at is not None


def test_no_wear_far_ahead_and_reached_already_are_said() -> None:
    assert "show no wear" in wear.trend([0, 1, 2], [5.0, 5.0, 5.0], limit=2.0).notes[0]
    assert any("only a guess" in note for note in wear.trend([0, 10, 20], [5.0, 4.9, 4.8], limit=2.0).notes)
    reached = wear.trend([0, 10, 20], [5.0, 3.0, 1.9], limit=2.0)
    assert "reached already" in reached.notes[0]
    assert reached.left == 0


def test_scatter_leaves_the_interval_open() -> None:
    found = wear.trend([0, 1, 2, 3], [5.0, 4.0, 5.1, 4.6], limit=2.0, uncertainty=1)
    assert found.interval == (None, None)
    assert any("scatter" in note for note in found.notes)


def test_the_order_of_the_readings_does_not_matter() -> None:
    x, y = [0.0, 1000.0, 2000.0, 3000.0], [5.0, 4.6, 4.1, 3.7]
    assert wear.trend(x, y, 2.0) == wear.trend(x[::-1], y[::-1], 2.0)


def test_expected_value_lies_within_its_bounds() -> None:
    value, bounds = wear.expected(wear.fit(X, Y), 500)
    assert bounds is not None
    assert bounds[0] < value < bounds[1]
