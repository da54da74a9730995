"""The history of a machine as one page: its sessions, and a plot and a trend for each reading."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from bench_voice.core.history import Series
from bench_voice.core.signs import quantity
from bench_voice.errors import BenchError
from bench_voice.reckon.history import answers
from bench_voice.reckon.measure import convert
from bench_voice.reckon.spoken import text
from bench_voice.reckon.wear import Line, fit
from bench_voice.records import plots
from bench_voice.records.moments import Zone
from bench_voice.records.template import page

_DIGITS = 15  # of a trend's figures: as many as the arithmetic has


@dataclass(frozen=True)
class Point:
    """A value with when it was, and the machine's distance or hours then (None: not known)."""

    started: str
    value: Decimal
    at: Decimal | None
    verdict: str


@dataclass(frozen=True)
class Course:
    """One point of a reading through the sessions, oldest first; limits and new value as the newest had them."""

    sheet: str
    reading: str
    name: str
    point: int
    unit: str
    at_unit: str
    points: tuple[Point, ...]
    low: Decimal | None
    high: Decimal | None
    new: Decimal | None
    uncertainty: Decimal

    @property
    def pairs(self) -> list[tuple[Decimal, Decimal]]:
        return sorted((one.at, one.value) for one in self.points if one.at is not None)


def machine_page(rows: Sequence[dict[str, Any]], machine: str | None, total: int, bad: Sequence[dict[str, Any]]) -> str:
    """`rows`: sessions, oldest first, as the logbook gives them; `total`: how many there are in all."""
    zone = Zone()
    newest = rows[-1] if rows else None
    title = f"{newest['machine']} ({machine})" if newest and machine else "All machines"
    marks = list(dict.fromkeys(row["marks"] for row in reversed(rows) if row["marks"]))
    return page(
        "machine.html.j2",
        title=title,
        marks=marks,
        total=total,
        rows=[_session(row, zone) for row in reversed(rows)],
        courses=[_course(one, zone) for one in courses(rows)] if machine else [],
        bad=bad,
        zone=datetime.now().astimezone().tzname() or "",
    )


def _session(row: dict[str, Any], zone: Zone) -> dict[str, Any]:
    out = [r for r in row["readings"] if r["verdict"] in ("out", "borderline")]
    return {
        "when": zone.of(row["started"]),
        "title": row["title"] if row["machine"] else "",
        "machine": f"{row['machine']} ({row['machine_id']})",
        "outcome": row["first_line"],
        "is_good": not row["first_line"].startswith("NOT"),
        "at": quantity(row["at"], row["at_unit"]) if row["at"] else "",
        "who": row["who"],
        "values": len(row["readings"]),
        "not_good": [f"{r['name']} {r['point'] + 1}: {quantity(r['value'], r['unit'])}" for r in out],
        "notes": [
            one["text"] for one in row["entries"] if one["kind"] in ("note", "decision", "replaced", "left open")
        ],
        "to_do": [one["text"] for one in row["entries"] if one["kind"] == "to do"],
        "journal": row["journal"],
    }


def courses(rows: Iterable[dict[str, Any]]) -> list[Course]:
    """Every point of every reading that is a measured value, in the order in which they were first met."""
    found: dict[tuple[str, str, int], Course] = {}
    for row in rows:
        for one in (*row["replaced"], *row["readings"]):
            key = (row["sheet"], one["reading"], one["point"])
            limits = [None if one[name] is None else Decimal(one[name]) for name in ("at_least", "at_most", "new")]
            at = Decimal(row["at"]) if row["at"] else None
            value = Decimal(one["in_limit_unit"])
            old = found.get(key)
            if old is not None and old.unit != one["limit_unit"]:
                try:  # an older version of the sheet had another unit
                    changed = [replace(p, value=convert(p.value, old.unit, one["limit_unit"])) for p in old.points]
                    old = replace(old, points=tuple(changed))
                except BenchError:
                    old = None
            if old is not None and at is not None and old.at_unit and old.at_unit != row["at_unit"]:
                try:
                    at = convert(at, row["at_unit"], old.at_unit)
                except BenchError:
                    at = None
            at_unit = old.at_unit if old is not None and old.at_unit else row["at_unit"]
            points = (*(old.points if old else ()), Point(row["started"], value, at, one["verdict"]))
            found[key] = Course(
                row["sheet"], one["reading"], one["name"], one["point"], one["limit_unit"], at_unit, points,
                limits[0], limits[1], limits[2], Decimal(one["uncertainty"]),
            )  # fmt: skip
    return [one for one in found.values() if not (one.low is None and one.high is None)]


def _course(one: Course, zone: Zone) -> dict[str, Any]:
    pairs = one.pairs
    by_use = len(pairs) >= 2
    xs: list[float]
    if by_use:
        ends = [quantity(pairs[0][0], one.at_unit), quantity(pairs[-1][0], one.at_unit)]
        points = [(float(x), float(y)) for x, y in pairs]
    else:
        xs = [datetime.fromisoformat(p.started).timestamp() for p in one.points]
        ends = [zone.of(one.points[0].started)[:10], zone.of(one.points[-1].started)[:10]]
        points = sorted(zip(xs, (float(p.value) for p in one.points), strict=True))
    values = [p.value for p in one.points]
    levels = [quantity(min(values), one.unit), quantity(max(values), one.unit)]
    limits = [
        (float(v), f"{w} {quantity(v, one.unit)}")
        for v, w in ((one.low, "at least"), (one.high, "at most"))
        if v is not None
    ]
    series = Series(one.reading, one.point, "", one.at_unit, tuple(pairs), one.low, one.high, one.uncertainty)
    told = answers([series], one.unit) if by_use else []
    last = one.points[-1]
    return {
        "name": one.name,
        "point": one.point + 1,
        "curve": plots.curve(points, limits, ends, levels),
        "last": f"{quantity(last.value, one.unit)}, {last.verdict}, {zone.of(last.started)[:10]}",
        "wear": text(told[0][1]) if told else "",
        "figures": _figures(pairs),
        "rows": [
            (
                zone.of(p.started),
                quantity(p.value, one.unit),
                "" if p.at is None else quantity(p.at, one.at_unit),
                p.verdict,
            )
            for p in one.points
        ],
    }


def _figures(pairs: list[tuple[Decimal, Decimal]]) -> list[tuple[str, str]]:
    """The least squares line through all values, with every digit that the arithmetic has."""
    try:
        line: Line = fit([float(x) for x, _ in pairs], [float(y) for _, y in pairs])
    except BenchError:
        return []
    figures = (
        ("slope", line.b1),
        ("intercept", line.b0),
        ("standard deviation of the slope", line.sd_b1),
        ("standard deviation of the intercept", line.sd_b0),
        ("residual standard deviation", line.residual_sd),
        ("R squared", line.r2),
    )
    return [(name, f"{value:.{_DIGITS}g}") for name, value in figures if value is not None]
