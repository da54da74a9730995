"""Every value of a journal with its verdict, and the verdicts that were made of several values together: the spread of
the points, and the difference to the other side.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.cases import Again, Stage
from bench_voice.core.sheet import Limit, ReadingSpec
from bench_voice.core.state import State
from bench_voice.core.verdict import Judged, Side, Verdict
from bench_voice.records.lines import fields
from bench_voice.records.words import SIDES
from bench_voice.session import journal as jn

Rows = list[dict[str, Any]]
# Step, reading, the first value of those that were taken together, side: what one verdict on a difference is about.
_Key = tuple[str, str, int, Side]


@dataclass(frozen=True)
class Difference:
    """How the core judges one difference alone. `side`: SPREAD or PAIR; `others`: the values of the other side."""

    side: Side
    at_most: Decimal
    margin: Decimal
    verdict: Verdict
    unit: str
    others: tuple[int, ...] = ()

    @property
    def row(self) -> dict[str, Any]:
        return {
            "side": self.side,
            "differ_by": str(self.at_most - self.margin),
            "at_most": str(self.at_most),
            "unit": self.unit,
            "margin": str(self.margin),
            "verdict": self.verdict,
        }


def differences(state: State, step: str, reading: str) -> tuple[Difference, ...]:
    """The differences of what stands for the reading there that can be judged in `state`."""
    spec = state.sheet.readings[reading]
    if spec.spread is None and spec.pair_within is None:
        return ()
    unlimited = replace(spec, limit=Limit(spec.unit))
    found = []
    for side, at_most, only in (
        (Side.SPREAD, spec.spread, replace(unlimited, pair_within=None)),
        (Side.PAIR, spec.pair_within, replace(unlimited, spread=None)),
    ):
        if at_most is None:
            continue
        judged = _verdict_of(state, step, only)
        if judged.side is side and judged.margin is not None:
            others = _others(state, spec) if side is Side.PAIR else ()
            found.append(Difference(side, at_most, judged.margin, judged.verdict, spec.unit, others))
    return tuple(found)


def _verdict_of(state: State, step: str, spec: ReadingSpec) -> Judged:
    """The core's verdict as if `spec` were the reading's: it tells only the worst, and a difference that is good is
    never that. Asked so, no rule of it is written a second time here.
    """
    sheet = replace(state.sheet, readings={**state.sheet.readings, spec.id: spec})
    return state.with_(sheet=sheet).verdict_at(step, spec.id)


def _others(state: State, spec: ReadingSpec) -> tuple[int, ...]:
    """The values of the other side that the core compares with: those of the last step that took it."""
    found = [taken.points for (_, reading), taken in state.taken.items() if reading == spec.pair and taken.points]
    return tuple(point.seq for point in found[-1]) if found else ()


class Readings:
    """Every value ever accepted, and every difference of values that were taken together, with what became of it.

    Each is judged by the last state it stood in, since a limit that is marked on the part may be corrected later; the
    verdict that was spoken is kept beside the value.
    """

    def __init__(self) -> None:
        self._found = _Found({}, {}, {})
        self._replaced: dict[tuple[str, str], list[int]] = {}  # when the part behind a reading was replaced

    def see(self, line: jn.Line, before: State, after: State) -> None:
        event = line.event
        if isinstance(event, ev.ReadingReopened) and event.why is Again.REPLACED:
            self._replaced.setdefault((event.step, event.reading), []).append(line.seq)
        if isinstance(event, ev.ReadingRecorded | ev.ReadingCorrected):
            self._found.add(before, line, event)
        # A new part: its marking is asked anew a line before the reading is, and says nothing about the old one.
        if after.taken is not before.taken and not isinstance(event, ev.ReadingReopened):
            self._found.judge(after)

    def rows(self, last: State, withdrawn: Collection[int]) -> tuple[Rows, Rows]:
        """Values and differences."""
        replaced = {
            key: max((seq for seq in seqs if seq not in withdrawn), default=0) for key, seqs in self._replaced.items()
        }
        return _standing(self._found, last, replaced, withdrawn)


def _standing(
    found: _Found, last: State, replaced: dict[tuple[str, str], int], withdrawn: Collection[int]
) -> tuple[Rows, Rows]:
    rows = found.rows
    standing, together = found.judge(last)
    last_at = {(row["step"], row["reading"], row["point"], row["stage"]): seq for seq, row in rows.items()}
    for seq, row in rows.items():
        is_last = last_at[row["step"], row["reading"], row["point"], row["stage"]] == seq
        is_old_part = row["stage"] == Stage.AS_FOUND and replaced.get((row["step"], row["reading"]), 0) > seq
        if seq in standing:
            row["state"] = "stands"
        elif seq in withdrawn:
            row["state"] = "withdrawn"
        else:
            row["state"] = "part replaced" if is_old_part and is_last else "superseded"
    for key, row in found.differences.items():
        row["state"] = "stands" if key in together else _became(row, rows)
    return list(rows.values()), sorted(found.differences.values(), key=lambda row: row["seq"])


def _became(difference: dict[str, Any], rows: dict[int, dict[str, Any]]) -> str:
    """What ended a difference is what became of one of its values."""
    states = [rows[seq]["state"] for seq in difference["points"] + difference["other_points"]]
    return next((state for state in ("withdrawn", "part replaced") if state in states), "superseded")


@dataclass
class _Found:
    """What was read so far. `groups`: the first value of those that a value was taken together with, by its number."""

    rows: dict[int, dict[str, Any]]
    differences: dict[_Key, dict[str, Any]]
    groups: dict[int, int]

    def add(self, before: State, line: jn.Line, event: ev.ReadingRecorded | ev.ReadingCorrected) -> None:
        spec = before.sheet.readings[event.reading]
        points = before.taken_at(event.step, event.reading).points
        # "Do it again" and a new part leave no points: there a new group begins, and the old verdict stays beside it.
        self.groups[line.seq] = self.groups[points[0].seq] if points else line.seq
        self.rows[line.seq] = fields(line, "step", "reading", "point", "unit", "stage", "heard") | {
            "name": spec.name,
            "value": str(event.value),
            "in_limit_unit": str(event.in_limit_unit),
            "is_correction": isinstance(event, ev.ReadingCorrected),
            "verdict_when_taken": event.verdict,
            "spread_at_most": None if spec.spread is None else str(spec.spread),
            "pair_at_most": None if spec.pair_within is None else str(spec.pair_within),
        }

    def judge(self, state: State) -> tuple[set[int], set[_Key]]:
        """Limit and verdict of what stands in `state`; returns the numbers of its values and the keys of its
        differences.
        """
        standing: set[int] = set()
        together: set[_Key] = set()
        for (step, reading), taken in state.taken.items():
            if not taken.points:
                continue
            spec = state.sheet.readings[reading]
            limit = state.limit_of(spec)
            # None also where a value that was withdrawn has taken the difference with it.
            by_side: dict[str, Any] = {f"{side}_{name}": None for side in SIDES for name in ("differ_by", "verdict")}
            for one in differences(state, step, reading):
                row = one.row
                by_side |= {f"{one.side}_{name}": row[name] for name in ("differ_by", "verdict")}
                key = (step, reading, self.groups[taken.points[0].seq], one.side)
                together.add(key)
                numbers = [point.seq for point in taken.points]
                self.differences[key] = {
                    "seq": max((*numbers, *one.others)),
                    "step": step,
                    "reading": reading,
                    "name": spec.name,
                    "stage": taken.stage,
                    **row,
                    "points": numbers,
                    "other": spec.pair if one.side is Side.PAIR else None,
                    "other_points": list(one.others),
                }
            for point in taken.points:
                standing.add(point.seq)
                judged = state.judge(spec, point.in_limit_unit)
                self.rows[point.seq] |= {
                    "verdict": judged.verdict.value,
                    "margin": None if judged.margin is None else str(judged.margin),
                    "uncertainty": str(state.uncertainty_of(spec, point.in_limit_unit)),
                    "limit_unit": limit.unit,
                    "at_least": None if limit.low is None else str(limit.low),
                    "at_most": None if limit.high is None else str(limit.high),
                    **by_side,
                }
        return standing, together
