"""Properties that hold for all inputs: conversions, verdicts, extension correction; and the simulated risk."""

from __future__ import annotations

import importlib.util
import math
import re
from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bench_voice.core.sheet import Limit
from bench_voice.core.verdict import Verdict, judge, judge_difference
from bench_voice.reckon import ReckonError, reckon, torque
from bench_voice.reckon import said as spoken_words
from bench_voice.reckon import text as spoken_text
from bench_voice.reckon.answer import digits_said, stated
from bench_voice.reckon.measure import all_units, conversion, convert, dimension, sensible
from bench_voice.reckon.spoken import in_words

D = Decimal
UNITS = sorted(all_units())
PAIRS = [(a, b) for a in UNITS for b in UNITS if a != b and dimension(a) == dimension(b)]
# What a person says: up to five digits, up to three decimals.
said = st.builds(lambda digits, places: D(digits).scaleb(-places), st.integers(1, 99999), st.integers(0, 3))
sizes = st.builds(lambda n: D(n) / 1000, st.integers(-20_000, 20_000))
doubts = st.builds(lambda n: D(n) / 1000, st.integers(0, 2000))


def is_sensible(value: Decimal, unit: str) -> bool:
    try:
        sensible(value, unit)
    except ReckonError:
        return False
    return True


@settings(max_examples=400, deadline=None)
@given(said, st.sampled_from(PAIRS))
def test_conversion_there_and_back_keeps_the_digits_said(value: Decimal, pair: tuple[str, str]) -> None:
    a, b = pair
    assume(is_sensible(value, a))  # up to what a bench meets
    there = conversion(value, a, b)
    back = convert(there.get("result").shown, b, a)
    last_place = D(1).scaleb(int(value.as_tuple().exponent))
    assert back.quantize(value, ROUND_HALF_EVEN) == value or abs(back - value) * 2 <= last_place
    exact = convert(there.value, b, a)
    assert abs(exact - value) <= abs(value) * D("1e-24") + D("1e-24")


@given(said)
def test_digits_said_counts_what_was_said(value: Decimal) -> None:
    assert digits_said(value) == len(str(abs(value)).replace(".", "").lstrip("0"))


@given(sizes, sizes, sizes, doubts, doubts)
def test_a_verdict_never_becomes_good_when_uncertainty_grows(
    value: Decimal, low: Decimal, width: Decimal, u: Decimal, more: Decimal
) -> None:
    limit = Limit("mm", low=low, high=low + abs(width))
    before, after = judge(value, limit, u).verdict, judge(value, limit, u + more).verdict
    if before is not Verdict.GOOD:
        assert after is not Verdict.GOOD
    if after is Verdict.OUT:
        assert before is Verdict.OUT


@given(sizes, sizes, sizes, doubts, doubts, doubts)
def test_widening_a_limit_never_fails_a_good_reading(
    value: Decimal, low: Decimal, width: Decimal, u: Decimal, down: Decimal, up: Decimal
) -> None:
    narrow = judge(value, Limit("mm", low=low, high=low + abs(width)), u).verdict
    wide = judge(value, Limit("mm", low=low - down, high=low + abs(width) + up), u).verdict
    assert wide.rank <= narrow.rank


@given(sizes, sizes, doubts, doubts)
def test_equal_within_is_the_same_from_both_sides(a: Decimal, b: Decimal, within: Decimal, u: Decimal) -> None:
    assert judge_difference(a, b, within, "mm", u, u) == judge_difference(b, a, within, "mm", u, u)


lengths = st.builds(lambda n: D(n) / 10, st.integers(1, 20_000))


@given(said, lengths, lengths, st.integers(0, 90))
def test_extension_setting_is_the_torque_at_ninety_and_never_above_it(
    wanted: Decimal, length: Decimal, extra: Decimal, angle: int
) -> None:
    assert torque.extension_setting(wanted, length, extra, D(90)) == wanted
    assert torque.extension_setting(wanted, length, D(0), D(angle)) == wanted
    setting = torque.extension_setting(wanted, length, extra, D(angle))
    assert setting <= wanted
    expected = float(wanted) * float(length) / (float(length) + float(extra) * math.cos(math.radians(angle)))
    assert float(setting) == pytest.approx(expected, rel=1e-12)


@given(said.filter(lambda one: one < 50_000), lengths, lengths, st.integers(0, 90))
@settings(deadline=None)
def test_extension_does_not_depend_on_the_units_used(
    wanted: Decimal, length: Decimal, extra: Decimal, angle: int
) -> None:
    metric = torque.extension_answer(wanted, "N*m", length, "mm", extra, "mm", D(angle))
    other = torque.extension_answer(
        convert(wanted, "N*m", "lbf*in"), "lbf*in", convert(length, "mm", "in"), "in", extra, "mm", D(angle)
    )
    assert convert(other.value, "lbf*in", "N*m") == pytest.approx(metric.value, rel=D("1e-20"))
    assert metric.get("setting").shown <= metric.value


@given(sizes, sizes, sizes, doubts)
def test_a_verdict_does_not_depend_on_the_unit_used(value: Decimal, low: Decimal, width: Decimal, u: Decimal) -> None:
    def metric(one: Decimal) -> Decimal:
        return convert(one, "in", "mm")

    inches = judge(value, Limit("in", low=low, high=low + abs(width)), u)
    millimetres = judge(metric(value), Limit("mm", low=metric(low), high=metric(low + abs(width))), metric(u))
    assert inches.verdict is millimetres.verdict


@settings(max_examples=250, deadline=None)
@given(said, st.sampled_from(PAIRS))
def test_a_conversion_said_in_words_is_answered_with_its_number(value: Decimal, pair: tuple[str, str]) -> None:
    a, b = pair
    assume(is_sensible(value, a))
    target = in_words(stated("target", D(2), b)).removeprefix("two ")
    answer = reckon(f"what is {in_words(stated('value', value, a))} in {target}")
    assert (answer.value, answer.unit, answer.get("said").value) == (convert(value, a, b), b, value)


def outcome(text: str) -> bool:
    """Whether there is a whole answer or a whole question back; anything else raises."""
    try:
        answer = reckon(text)
    except ReckonError as error:
        return bool(error.what and error.mend and error.slug.startswith("reckon-"))
    return bool(answer.source and answer.formula and spoken_text(answer) and spoken_words(answer))


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=80))
def test_any_text_is_answered_or_asked(text: str) -> None:
    assert outcome(text)


WORDS = re.findall(
    r"\S+",
    """what is extension plus twelve four forty one ten point five foot pounds inches newton metres at degrees in
    minus zero hundred and a half m by class for drill battery volts mix to litres chain pitches load index , wrench
    speed symbol h celsius pints mil hundredths preload of castle nut spread""",
)


@settings(max_examples=250, deadline=None)
@given(st.lists(st.sampled_from(WORDS), max_size=14))
def test_any_row_of_known_words_is_answered_or_asked(words: list[str]) -> None:
    assert outcome(" ".join(words))


def risk() -> ModuleType:
    spec = importlib.util.spec_from_file_location("risk", Path(__file__).parent / "risk.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_false_accept_risk_is_that_of_ilac_g8() -> None:
    """ILAC-G8:09/2019 §4.2.2: under 2.5 % at w = U; the normal tail beyond 2u is 2.275 %. §4.2.1: 50 % at w = 0."""
    model = risk()
    share, error = model.worst_case(), math.sqrt(0.02275 * 0.97725 / model.N)
    assert share < 0.025
    assert share == pytest.approx(0.0227501, abs=4 * error)
    assert model.worst_case(n=20_000, guard=D(0)) == pytest.approx(0.5, abs=4 * 0.5 / math.sqrt(20_000))
