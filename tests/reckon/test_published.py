"""Published values, a row each in published.csv with its source and mark.

Marks: seen in a public text; computed by exact arithmetic or a library; second-hand, read in a restatement of a paid
standard; memory, recalled and not confirmed.
"""

from __future__ import annotations

import csv
import math
from collections import Counter
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from bench_voice.core.sheet import Limit
from bench_voice.core.verdict import judge
from bench_voice.reckon import (
    ReckonError,
    electrics,
    points,
    reckon,
    threads,
    torque,
    tyres,
    wear,
)
from bench_voice.reckon.measure import conversion, convert, dimension, same_kind

D = Decimal
ROWS = list(csv.DictReader((Path(__file__).parent / "published.csv").open(encoding="utf-8", newline="")))
MARKS = {"seen", "computed", "second-hand", "memory"}


def decimals(args: str) -> list[Any]:  # given on as any of a function's parameters
    return [D(one) for one in args.split()]


def limit(text: str, unit: str = "mm") -> Limit:
    ends = dict(part.split("=") for part in text.split(","))
    return Limit(unit, D(ends["low"]) if "low" in ends else None, D(ends["high"]) if "high" in ends else None)


def judged(args: str) -> str:
    text, value, u = args.split()
    return judge(D(value), limit(text), D(u)).verdict.value


def marked(args: str) -> str:
    value, marking, side = args.split()
    """The figure on the part is the limit."""
    return judge(D(value), limit(f"{'high' if side == 'max' else 'low'}={marking}"), D(0)).verdict.value


def converted(args: str, interval: bool = False) -> Decimal:
    value, unit, target = args.split()
    result = convert(D(value), unit, target, interval)
    assert conversion(D(value), unit, target, interval).value == result
    return result


def chain_limit(args: str) -> Decimal:
    return points.chain_limit_percent(has_fixed_centres=True) if args == "fixed" else points.chain_limit_percent(
        int(args) if args else None
    )  # fmt: skip


def metric(text: str) -> threads.Thread:
    """ "M10" or "M10x1.25"."""
    size, _, pitch = text.removeprefix("M").partition("x")
    return threads.thread(D(size), D(pitch) if pitch else None)


def bolt(args: str) -> tuple[threads.Thread, str]:
    name, strength = args.split()
    return metric(name), strength


def proof_stress(args: str) -> Decimal:
    one, strength = bolt(args)
    return threads.proof_load_n(one, strength) / threads.stress_area_mm2(one)


def nominal(args: str) -> str:
    value, size, plus, minus, doubt = decimals(args)
    return judge(value, Limit("mm", size - minus, size + plus), doubt).verdict.value


def proof_part(args: str) -> Decimal:
    area, stress, share = decimals(args)
    return area * stress * share


def share(args: str) -> Decimal:
    value, name, strength = args.split()
    return torque.preload_answer(D(value), "N*m", metric(name), strength).get("share").value


def torque75(args: str) -> Decimal:
    one, strength = bolt(args)
    return torque.usual_torque_answer(one, strength).value


def stress(args: str) -> Decimal:
    force, name = args.split()
    return D(force) / threads.stress_area_mm2(metric(name))


def two_point_diameters(lobes: str) -> Decimal:
    n = int(lobes)
    radius = [55 + 0.05 * math.cos(n * math.radians(step)) for step in range(360)]
    return points.two_point_out_of_round([D(repr(radius[i] + radius[(i + 180) % 360])) for i in range(180)])


def refused(args: str) -> str:
    what, *rest = args.split()
    tries: dict[str, Callable[[], object]] = {
        "convert": lambda: same_kind(rest[1], dimension(rest[2]), "value"),
        "date": lambda: tyres.date_code(rest[0]),
        "speed": lambda: tyres.speed_kmh(rest[0]),
        "extension": lambda: torque.extension_setting(*map(D, rest)),
    }
    with pytest.raises(ReckonError, match=r"\w") as caught:
        tries[what]()
    return caught.value.slug


def asked(words: str) -> str:
    with pytest.raises(ReckonError, match=r"\w") as caught:
        reckon(words)
    return caught.value.slug


NAMED = {row[0]: row for row in electrics.BATTERY}

CALLS: dict[str, Callable[[str], object]] = {
    "area": lambda a: threads.stress_area_mm2(metric(a)),
    "asked": asked,
    "asked_ok": lambda a: reckon(a).value,
    "awg_area": lambda a: electrics.awg_area_mm2(int(a)),
    "awg_d": lambda a: electrics.awg_diameter_mm(int(a)),
    "awg_ohm": lambda a: electrics.awg_ohm_per_km(int(a)),
    "awg_ratio": lambda a: electrics.awg_ohm_per_km(int(a.split()[0])) / electrics.awg_ohm_per_km(int(a.split()[1])),
    "band": lambda a: "{} {}".format(*electrics.charge_band(*decimals(a))),
    "castle": lambda a: torque.castle_nut(*decimals(a)).sentence,
    "chain_limit": chain_limit,
    "chain_pitch": lambda a: points.chain_pitch_mm(int(a)),
    "charge": lambda a: electrics.charge_percent(D(a)),
    "convert": converted,
    "count_most": lambda a: judge(D(a.split()[0]), Limit("count", high=D(a.split()[1])), D(0)).verdict.value,
    "date": lambda a: "{} {}".format(*tyres.date_code(a)),
    "dimension": dimension,
    "drag": lambda a: torque.with_drag(D(a.split()[0]), "N*m", D(a.split()[1]), "N*m").value,
    "drop": lambda a: electrics.drop_v(*decimals(a)),
    "elongation": lambda a: points.chain_elongation(D(a.split()[0]), int(a.split()[1]), D(a.split()[2])),
    "extension": lambda a: torque.extension_setting(*decimals(a)),
    "freezes": lambda a: NAMED[D(a)][3],
    "gravity": lambda a: NAMED[D(a)][2],
    "interval": lambda a: converted(a, interval=True),
    "judge": judged,
    "load": lambda a: tyres.load_kg(int(a)),
    "lobes": two_point_diameters,
    "marked": marked,
    "nominal": nominal,
    "ohm_km": lambda a: electrics.ohm_per_km(D(a.split()[0]), int(a.split()[1])),
    "preload": lambda a: torque.preload_n(*decimals(a)),
    "proof": lambda a: threads.proof_load_n(*bolt(a)),
    "proof_part": proof_part,
    "proof_stress": proof_stress,
    "refused": refused,
    "share": share,
    "speed": tyres.speed_kmh,
    "speed_mph": lambda a: convert(tyres.speed_kmh(a), "km/h", "mph"),
    "stress_mpa": stress,
    "t": lambda a: D(repr(wear.t_quantile(float(a.split()[0]), int(a.split()[1])))),
    "torque75": torque75,
    "torque_for": lambda a: torque.torque_for_nm(*decimals(a)),
    "wear_percent": lambda a: points.wear_percent(*decimals(a)),
    "wrench_high": lambda a: torque.wrench_answer(D(a), "N*m").get("high").value,
    "wrench_low": lambda a: torque.wrench_answer(D(a), "N*m").get("low").value,
    "wrench_percent": lambda a: torque.wrench_deviation_percent(D(a)),
}  # fmt: skip


def agrees(got: object, expected: str, tolerance: str) -> bool:
    if tolerance == "text":
        return str(got) == expected
    if tolerance == "contains":
        return expected in str(got)
    assert isinstance(got, Decimal)
    wanted = D(expected)
    if tolerance == "exact":
        return got == wanted
    if tolerance == "whole":  # the standard truncates
        return int(got) == wanted
    if tolerance == "digits":  # as many as are printed
        return got.quantize(wanted) == wanted
    kind, size = tolerance.split()
    error = abs(got - wanted)
    return error <= D(size) * (abs(wanted) if kind == "rel" else 1)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['call']} {row['args']} [{row['mark']}]")
def test_published_value(row: dict[str, str]) -> None:
    got = CALLS[row["call"]](row["args"])
    assert agrees(got, row["expected"], row["tolerance"]), f"{got}, {row['source']} [{row['mark']}]: {row['expected']}"


def test_the_table_is_large_and_says_where_each_value_comes_from() -> None:
    assert len(ROWS) >= 250
    assert all(row["source"] and row["mark"] in MARKS for row in ROWS)
    assert Counter(row["section"] for row in ROWS).keys() >= set("1345678")
