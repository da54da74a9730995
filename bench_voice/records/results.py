"""The results of a job: a row a point of a reading, as found and as left side by side, with limit, verdict and margin.

Made of the rows of `readings`, by no rule of its own but this: of what was not withdrawn or said anew, the first value
is as found and the last one as left.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from bench_voice.core.signs import quantity
from bench_voice.core.state import State
from bench_voice.core.verdict import like, shown
from bench_voice.records.words import SIDES, bounds_words, differ_by_words, difference_limit_words

_COUNTED = ("stands", "part replaced")


@dataclass(frozen=True)
class Value:
    """`shown`: with its unit. `verdict` in core.verdict's words, `margin` in words with its unit, "" without limit."""

    shown: str
    verdict: str
    margin: str
    limit: str
    in_limit_unit: Decimal


@dataclass(frozen=True)
class Scale:
    """What a small plot is drawn from, in the limit's unit. `values`: found and left, or one of them."""

    low: Decimal | None
    high: Decimal | None
    new: Decimal | None
    unit: str
    values: tuple[Decimal, ...]


@dataclass(frozen=True)
class Result:
    """`found` and `left` are the same value where it was measured once; both None where it was not measured.

    `judged`: the one that counts; `decided`: why somebody accepted it although it is not good.
    """

    name: str
    point: str
    found: Value | None
    left: Value | None
    new: str
    decided: str
    is_replaced: bool
    scale: Scale | None

    @property
    def judged(self) -> Value | None:
        return self.left or self.found


@dataclass(frozen=True)
class Together:
    """Points or sides that are compared: "points differ by 0.8 mm"."""

    name: str
    words: str
    limit: str
    verdict: str


def results(body: dict[str, Any], state: State) -> tuple[list[Result], list[Together]]:
    """Rows in the order of the sheet; readings of steps that were passed over, and not measured, are left out."""
    counted: dict[tuple[str, int], list[dict[str, Any]]] = {}
    for row in body["readings"]:
        if row["state"] in _COUNTED:
            counted.setdefault((row["reading"], row["point"]), []).append(row)
    asked = {reading for step in state.sheet.steps if step.id not in state.passed_over for reading in step.readings}
    decided = {row["what"]: row["reason"] for row in body["decisions"] if row["state"] == "stands"}
    found = []
    for spec in state.sheet.readings.values():
        for point in range(spec.points):
            rows = sorted(counted.get((spec.id, point), []), key=lambda row: row["seq"])
            if not rows and spec.id not in asked:
                continue
            first, last = (rows[0], rows[-1]) if rows else (None, None)
            found.append(
                Result(
                    spec.name,
                    f"{point + 1} of {spec.points}" if spec.points > 1 else "",
                    None if first is None else _value(first),
                    # A part that was taken out and never measured anew has nothing that is left.
                    None if last is None or last["state"] != "stands" else _value(last),
                    "" if spec.limit.new is None else quantity(spec.limit.new, spec.unit),
                    decided.get(spec.id, ""),
                    any(row["state"] == "part replaced" for row in rows),
                    _scale(rows, spec.limit.new),
                )
            )
    together = [
        Together(
            row["name"],
            f"{SIDES[row['side']]} {differ_by_words(row)}",
            difference_limit_words(row["side"], row["at_most"], row["unit"]),
            row["verdict"],
        )
        for row in body["differences"]
        if row["state"] == "stands"
    ]
    return found, together


def _value(row: dict[str, Any]) -> Value:
    value = Decimal(row["in_limit_unit"])
    limits = [Decimal(row[name]) for name in ("at_least", "at_most") if row[name] is not None]
    margin = ""
    if row["margin"] is not None:
        margin = quantity(shown(Decimal(row["margin"]), like(value, *limits)), row["limit_unit"])
    limit = bounds_words(row["at_least"], row["at_most"], row["limit_unit"])
    return Value(quantity(row["value"], row["unit"]), row["verdict"], margin, limit, value)


def _scale(rows: list[dict[str, Any]], new: Decimal | None) -> Scale | None:
    if not rows or (rows[-1]["at_least"] is None and rows[-1]["at_most"] is None):
        return None
    last = rows[-1]
    low, high = (None if last[name] is None else Decimal(last[name]) for name in ("at_least", "at_most"))
    values = [Decimal(rows[0]["in_limit_unit"])] + ([Decimal(last["in_limit_unit"])] if len(rows) > 1 else [])
    return Scale(low, high, new, last["limit_unit"], tuple(values))
