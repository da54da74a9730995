"""Derived readings, verdict kinds, torque helpers and the instruments file."""

from __future__ import annotations

import math
from datetime import date
from decimal import Decimal
from itertools import pairwise

import pytest

from bench_voice.core.sheet import Limit
from bench_voice.core.verdict import Verdict
from bench_voice.errors import UsageError
from bench_voice.reckon import ReckonError, electrics, instruments, mixing, points, threads, torque, verdicts
from bench_voice.reckon.answer import number, significant

D = Decimal


def test_points() -> None:
    values = [D("4.6"), D("4.5"), D("4.8")]
    assert points.worst(values, is_low_bad=True) == D("4.5")
    assert points.worst(values, is_low_bad=False) == D("4.8")
    assert points.mean(values) == sum(values) / 3
    assert points.spread(values) == D("0.3")
    assert points.taper([D("50.02"), D("50.04")], [D("50.00"), D("50.00")]) == D("0.03")
    assert points.taper([D("50.03")], [D("50.00")], D(30)) == D("0.001")
    assert points.left_right(D(3), D(5)) == 2
    assert points.run_out([D("-0.02"), D("0.03"), D("0.00")]) == D("0.05")
    assert points.end_play(D("0.10"), D("0.25")) == D("0.15")
    assert points.wear_percent_growing(D(200), D(201)) == D("0.5")


def test_lever_angle_is_the_chord_formula() -> None:
    """A chord as long as the lever is 60 degrees, one of √2 times it 90 degrees."""
    assert points.lever_angle(D(100), D(100)) == pytest.approx(D(60))
    assert points.lever_angle(D(repr(100 * math.sqrt(2))), D(100)) == pytest.approx(D(90))


def test_micrometer_parts() -> None:
    assert points.thimble_mm(D("5.5"), D(28)) == D("5.78")
    assert points.thimble_mm(D("5.5"), D(28), D(3)) == D("5.783")
    assert points.thimble_inch(2, 1, D(13), D(4)) == D("0.2384")


@pytest.mark.parametrize(
    ("act", "match"),
    [
        (lambda: points.plausible("lining", D(400)), "lining of 400 mm is hard to believe"),
        (lambda: points.spread([D(1)]), "2 points"),
        (lambda: points.mean([]), "1 points"),
        (lambda: points.chain_elongation(D(320), 0, D("15.875")), "cannot be zero"),
        (lambda: points.chain_pitch_mm(52), "no three-digit"),
        (lambda: points.thimble_mm(D("5.3"), D(1)), "whole and half"),
        (lambda: points.thimble_mm(D("5.5"), D(50)), "50 marks"),
        (lambda: points.thimble_mm(D("300.5"), D(1)), "0 to 300"),
        (lambda: points.thimble_inch(1, 4, D(0)), "three marks"),
        (lambda: points.feeler_stack([D(1)] * 5), "More than four"),
        (lambda: points.feeler_stack([D(-1)]), "cannot be negative"),
        (lambda: points.lever_angle(D(300), D(100)), "so far"),
        (lambda: points.wear_percent(D(0), D(1)), "cannot be zero"),
        (lambda: points.wear_percent(D(4), D(400)), "far more"),
        (lambda: verdicts.percent_of_new(D(40), D(4), D(50), "mm"), "far more"),
        (lambda: verdicts.count(D("1.5")), "no count"),
        (lambda: verdicts.count(D(-1)), "no count"),
        (lambda: verdicts.spread([D(1)], D(1), "mm"), "two points"),
        (lambda: verdicts.by_class({"light": Limit("mm", low=D(1))}, "heavy"), "no class"),
        (lambda: verdicts.by_size([(D(16), Limit("in"))], D(17)), "ends before"),
        (lambda: torque.extension_setting(D(-1), D(1), D(1)), "torque cannot be negative"),
        (lambda: torque.extension_setting(D(1), D(0), D(1)), "length cannot be zero"),
        (lambda: torque.extension_setting(D(1), D(1), D(1), D(-5)), "outside of 0 to 90"),
        (lambda: torque.stages(D(100), [D("0.5"), D("0.4"), D(1)]), "rise"),
        (lambda: torque.cross_sequence(2), "no such order"),
        (lambda: torque.split_pin_mm(D("0.5")), "no split pin"),
        (lambda: torque.preload_n(D(1), D(10), D(2)), "nut factor"),
        (lambda: threads.parse_thread("G 1/4"), "no metric thread"),
        (lambda: threads.thread(D(10), D(0)), "cannot be zero"),
        (lambda: electrics.awg_area_mm2(99), "no 99 gauge"),
        (lambda: electrics.per_cell(D(12), 0), "has cells"),
        (lambda: mixing.mix_answer(D(5000), D(1), D(1), "L", False), "no usual mixture"),
        (lambda: mixing.mix_answer(D(50), D(1), D(1), "mm", False), "is a volume"),
        (lambda: number("NaN"), "not a number"),
    ],
)
def test_bad_input_is_asked_with_its_reason(act: object, match: str) -> None:
    assert callable(act)
    with pytest.raises(ReckonError, match=match):
        act()


def test_percent_of_new_gives_its_margin_in_the_readings_unit() -> None:
    judged = verdicts.worn_at_most(D("9.5"), D(12), D(25), "mm")
    assert (judged.verdict, judged.margin) == (Verdict.GOOD, D("0.5"))


def test_difference_carries_the_uncertainty_of_both_readings() -> None:
    """U·√2: 0.02 mm each is 0.0283 mm on the difference (GUM 5.1.2)."""
    assert verdicts.equal_within(D("4.60"), D("4.53"), D("0.10"), "mm", D("0.02")).verdict is Verdict.GOOD
    assert verdicts.equal_within(D("4.60"), D("4.525"), D("0.10"), "mm", D("0.02")).verdict is Verdict.BORDERLINE
    assert verdicts.equal_within(D("4.60"), D("4.40"), D("0.10"), "mm", D("0.02")).verdict is Verdict.OUT
    assert verdicts.spread([D(1), D(2), D(5)], D(3), "mm").side == "spread"


def test_limits_by_class() -> None:
    table = {"over 50 cc": Limit("mm", low=D("1.0")), "car": Limit("mm", low=D("1.6"))}
    assert verdicts.by_class(table, " Over 50  CC").low == D("1.0")


@pytest.mark.parametrize("n", range(3, 25))
def test_a_cross_sequence_has_each_bolt_once_and_never_its_neighbour_next(n: int) -> None:
    order = torque.cross_sequence(n)
    assert sorted(order) == list(range(1, n + 1))
    if n >= 6:
        steps = [abs(a - b) for a, b in pairwise(order)]
        assert all(min(step, n - step) > 1 for step in steps[::2])


def test_stages_end_at_the_torque() -> None:
    assert torque.stages(D(80), [D("0.5"), D("0.75"), D(1)]) == (D(40), D(60), D(80))


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


def test_overdue_instruments_the_longest_first() -> None:
    found = instruments.parse(FILE)
    assert instruments.overdue(found.values(), date(2026, 1, 15)) == ()
    late = instruments.overdue(found.values(), date(2026, 4, 1))
    assert [one.name for one in late] == ["dial gauge", "wrench"]
    assert instruments.days_overdue(late[1], date(2026, 4, 1)) == 1


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
