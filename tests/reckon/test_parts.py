"""Derived readings, verdict kinds, torque helpers and the instruments file."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from bench_voice.core.verdict import Verdict, judge_difference
from bench_voice.errors import UsageError
from bench_voice.reckon import ReckonError, electrics, instruments, mixing, points, threads, torque
from bench_voice.reckon.answer import number, significant

D = Decimal


def test_points() -> None:
    values = [D("4.6"), D("4.5"), D("4.8")]
    assert points.spread(values) == D("0.3")


def test_lever_angle_is_the_chord_formula() -> None:
    """A chord as long as the lever is 60 degrees, one of √2 times it 90 degrees."""
    assert points.lever_angle(D(100), D(100)) == pytest.approx(D(60))
    assert points.lever_angle(D(repr(100 * math.sqrt(2))), D(100)) == pytest.approx(D(90))


def test_micrometer_parts() -> None:
    assert points.thimble_mm(D("5.5"), D(28)) == D("5.78")
    assert points.thimble_mm(D("5.5"), D(28), D(3)) == D("5.783")


@pytest.mark.parametrize(
    ("act", "match"),
    [
        (lambda: points.spread([D(1)]), "2 points"),
        (lambda: points.chain_elongation(D(320), 0, D("15.875")), "cannot be zero"),
        (lambda: points.chain_pitch_mm(52), "no three-digit"),
        (lambda: points.thimble_mm(D("5.3"), D(1)), "whole and half"),
        (lambda: points.thimble_mm(D("5.5"), D(50)), "50 marks"),
        (lambda: points.thimble_mm(D("300.5"), D(1)), "0 to 300"),
        (lambda: points.feeler_stack([D(1)] * 5), "More than four"),
        (lambda: points.feeler_stack([D(-1)]), "cannot be negative"),
        (lambda: points.lever_angle(D(300), D(100)), "so far"),
        (lambda: points.wear_percent(D(0), D(1)), "cannot be zero"),
        (lambda: points.wear_percent(D(4), D(400)), "far more"),
        (lambda: torque.extension_setting(D(-1), D(1), D(1)), "torque cannot be negative"),
        (lambda: torque.extension_setting(D(1), D(0), D(1)), "length cannot be zero"),
        (lambda: torque.extension_setting(D(1), D(1), D(1), D(-5)), "outside of 0 to 90"),
        (lambda: torque.preload_n(D(1), D(10), D(2)), "nut factor"),
        (lambda: threads.thread(D(10), D(0)), "cannot be zero"),
        (lambda: electrics.awg_area_mm2(99), "no 99 gauge"),
        (lambda: mixing.mix_answer(D(5000), D(1), D(1), "L", False), "no usual mixture"),
        (lambda: mixing.mix_answer(D(50), D(1), D(1), "mm", False), "is a volume"),
        (lambda: number("NaN"), "not a number"),
    ],
)
def test_bad_input_is_asked_with_its_reason(act: object, match: str) -> None:
    assert callable(act)
    with pytest.raises(ReckonError, match=match):
        act()


def test_difference_carries_the_uncertainty_of_both_readings() -> None:
    """U·√2: 0.02 mm each is 0.0283 mm on the difference (GUM 5.1.2)."""
    assert judge_difference(D("4.60"), D("4.53"), D("0.10"), "mm", D("0.02"), D("0.02")).verdict is Verdict.GOOD
    assert judge_difference(D("4.60"), D("4.525"), D("0.10"), "mm", D("0.02"), D("0.02")).verdict is Verdict.BORDERLINE
    assert judge_difference(D("4.60"), D("4.40"), D("0.10"), "mm", D("0.02"), D("0.02")).verdict is Verdict.OUT


def test_significant_digits() -> None:
    assert str(significant(D("88.128"), 3)) == "88.1"
    assert str(significant(D("12345"), 2)) == "12000"
    assert str(significant(D("0.0045678"), 3)) == "0.00457"


FILE = """
[calliper]
measures = "length"
uncertainty = "0.02 mm"

[wrench]
measures = "torque"
uncertainty = "4 %"
calibration_due = 2026-03-31
note = "quarter inch drive"

["dial gauge"]
measures = "length"
uncertainty = "0.5 thou"
calibration_due = 2026-01-15
"""


def test_instruments_give_their_uncertainty() -> None:
    found = instruments.parse(FILE)
    assert found["calliper"].uncertainty(D("4.6"), "mm") == D("0.02")
    assert found["calliper"].uncertainty(D("0.2"), "in") == pytest.approx(D("0.02") / D("25.4"), rel=D("1e-20"))
    assert found["wrench"].uncertainty(D(40), "lbf*ft") == D("1.6")
    assert found["dial gauge"].uncertainty(D(1), "mm") == D("0.0127")
    with pytest.raises(ReckonError, match="length"):
        found["calliper"].uncertainty(D(12), "V")


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("[a", "cannot be read"),
        ("a = 1", "outside of any instrument"),
        ('[a]\nmeasure = "length"', 'unknown key "measure"'),
        ('[a]\nmeasures = "colour"\nuncertainty = "1 mm"', 'measures "colour"'),
        ('[a]\nmeasures = ["length"]\nuncertainty = "1 mm"', "measures"),
        ('[a]\nmeasures = "length"', 'uncertainty "None"'),
        ('[a]\nmeasures = "length"\nuncertainty = 0.02', 'uncertainty "0.02"'),
        ('[a]\nmeasures = "length"\nuncertainty = "-1 mm"', "uncertainty"),
        ('[a]\nmeasures = "length"\nuncertainty = "1 bar"', "bar is pressure"),
        ('[a]\nmeasures = "length"\nuncertainty = "1 mm"\ncalibration_due = "soon"', "calibration_due"),
        ('[a]\nmeasures = "length"\nuncertainty = "1 mm"\ncalibration_due = 2026-01-01T00:00:00', "calibration_due"),
        ('[a]\nmeasures = "length"\nuncertainty = "1 mm"\nnote = 3', "note"),
    ],
)
def test_faults_of_the_instruments_file(text: str, match: str) -> None:
    with pytest.raises(UsageError, match=match) as caught:
        instruments.parse(text)
    assert caught.value.slug == "instruments"
