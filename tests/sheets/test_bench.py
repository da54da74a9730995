"""What a sheet says about its instruments and markings, as it works at the bench: typed words in, values out."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from bench_voice.core.intents import Kind
from bench_voice.sheets import load_text
from bench_voice.testing import Bench

HERE = Path(__file__).parent
PUMP = (HERE / "good" / "pump.yaml").read_text(encoding="utf-8")
DIAL = "uncertainty: 0.01}", "unit: thou, uncertainty: 0.4}"


def inspecting(text: str) -> Bench:
    bench = Bench(load_text(text, "pump.yaml"))
    for words in ("confirm pump is unplugged and drained", "affirm", "next", "next", "good"):
        bench.type(words)
    assert bench.state.step.id == "inspect"
    return bench


@pytest.mark.parametrize(
    ("words", "value", "unit", "in_mm"),
    [
        # 1 thou is 0.0254 mm by definition; a spoken unit goes before the instrument's.
        ("twelve", "12", "thou", "0.3048"),
        ("left gap twelve thou", "12", "thou", "0.3048"),
        ("zero point three millimetres", "0.3", "mm", "0.3"),
    ],
)
def test_a_bare_number_is_in_the_instruments_unit(words: str, value: str, unit: str, in_mm: str) -> None:
    bench = inspecting(PUMP.replace(*DIAL))
    assert "left gap, in thou" in bench.said[-1]
    bench.type(words)
    point = bench.state.taken_at("inspect", "left-gap").points[0]
    assert (str(point.value), point.unit, point.in_limit_unit) == (value, unit, Decimal(in_mm))


def test_without_an_instruments_unit_it_is_the_limits() -> None:
    bench = inspecting(PUMP)
    bench.type("zero point three")
    assert bench.state.taken_at("inspect", "left-gap").points[0].unit == "mm"


def test_several_points_in_one_breath_are_in_the_instruments_unit() -> None:
    text = PUMP.replace(*DIAL).replace("pair within: 0.1", "points: 3")
    bench = inspecting(text)
    assert "point one of three, in thou" in bench.said[-1]
    bench.type("ten, eleven, twelve")
    taken = bench.state.taken_at("inspect", "left-gap")
    assert [(str(point.value), point.unit) for point in taken.points] == [
        ("10", "thou"),
        ("11", "thou"),
        ("12", "thou"),
    ]


def test_the_marking_becomes_the_limit_and_the_difference_is_said() -> None:
    """ "Read the maximum cast into the part": the spoken marking, then the sheet's; and it says when the two differ."""
    bench = inspecting(PUMP)
    for words in ("zero point three", "zero point three", "next", "fitted gasket", "put back filter", "next"):
        bench.type(words)
    said = bench.type("five point five bar")
    assert said[1] == "That is the limit for this part. The sheet says six point zero bar."
    assert "Out of limits" in " ".join(bench.type("five point eight bar"))
    assert bench.state.failed() == ("outlet",)
    bench.type("correction, plate six bar")
    assert bench.state.failed() == ()
    assert Kind.NEXT.value in " ".join(bench.type("which words")).lower()
