"""What was decided on, and why it had to be."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.signs import quantity
from bench_voice.core.state import State
from bench_voice.core.verdict import Verdict
from bench_voice.records.lines import became, fields, when
from bench_voice.records.readings import differences
from bench_voice.records.words import bounds_words, difference_words
from bench_voice.session import journal as jn

_NOT_GOOD = (Verdict.OUT, Verdict.BORDERLINE)


class Decisions:
    """Every decision with its spoken name, and what was not good at the time of it.

    "reopened": a figure that it was made on is another one since; `reopened_at` and `changed` (value, limit or pair)
    tell when and which. Where that change was withdrawn, the decision stands as if it had not been.
    """

    def __init__(self) -> None:
        self._rows: list[dict[str, Any]] = []
        self._gone: set[int] = set()  # withdrawn so far

    def see(self, line: jn.Line, before: State, after: State) -> None:
        event = line.event
        if isinstance(event, ev.ReadingDecided):
            row = fields(line, "step", "what", "reason") | _why(before, event.step, event.what)
            self._rows.append(row | {"reopened_at": None, "changed": None})
        elif isinstance(event, ev.DecisionReopened):
            for row in self._last_of_each():
                if (row["step"], row["what"]) == (event.step, event.what):
                    row |= {"reopened_at": when(line.at_ms), "changed": event.why}
        elif isinstance(event, ev.Undone):
            self._gone.add(event.seq)
            for row in self._last_of_each():
                if after.taken_at(row["step"], row["what"]).decided:
                    row |= {"reopened_at": None, "changed": None}

    def _last_of_each(self) -> list[dict[str, Any]]:
        """The last decision of each that was not withdrawn."""
        rows = [row for row in self._rows if row["seq"] not in self._gone]
        return list({(row["step"], row["what"]): row for row in rows}.values())

    def rows(self, last: State, withdrawn: Collection[int]) -> list[dict[str, Any]]:
        decided = {key for key, taken in last.taken.items() if taken.decided}
        decided |= {key for key, (_, reason) in last.looked.items() if reason}
        rows = became(self._rows, ("step", "what"), withdrawn, decided)
        for row in rows:
            key = (row["step"], row["what"])
            if row["state"] == "stands" and key in last.taken and (changed := last.changed_since_decided(*key)):
                # A journal of a version that did not reopen it.
                row |= {"state": "reopened", "changed": changed}
            elif row["state"] == "superseded" and row["reopened_at"]:
                row["state"] = "reopened"
        return rows


def _why(state: State, step: str, what: str) -> dict[str, Any]:
    """Name, worst verdict with its side ("low", "high", "spread", "pair" or "look"), and in words all that is not good.

    A reading that is not good comes before a look of the same id, as where the decision is applied.
    """
    if what in state.sheet.looks and not (what in state.sheet.readings and state.needs_decision(step, what)):
        judgement, _ = state.looked.get((step, what), ("", ""))
        words = f"looked {judgement}" if judgement else ""
        return {"name": state.sheet.looks[what].name, "verdict": judgement, "side": "look", "why": words}
    whole = state.verdict_at(step, what)
    return {
        "name": state.sheet.readings[what].name,
        "verdict": whole.verdict.value,
        "side": whole.side,
        "why": "; ".join((*_points(state, step, what), *_differences(state, step, what))),
    }


def _points(state: State, step: str, reading: str) -> list[str]:
    """ "out: point 2, 1.6 mm, at least 2.0 mm"."""
    spec = state.sheet.readings[reading]
    limit = state.limit_of(spec)
    found = []
    for number, point in enumerate(state.taken_at(step, reading).points, 1):
        verdict = state.judge(spec, point.in_limit_unit).verdict
        if verdict in _NOT_GOOD:
            which = f"point {number}, " if spec.points > 1 else ""
            words = bounds_words(limit.low, limit.high, limit.unit)
            found.append(f"{verdict.value}: {which}{quantity(point.value, point.unit)}, {words}")
    return found


def _differences(state: State, step: str, reading: str) -> list[str]:
    """ "out: points differ by 0.8 mm, at most 0.3 mm"."""
    return [
        f"{one.verdict}: {difference_words(one.row)}"
        for one in differences(state, step, reading)
        if one.verdict in _NOT_GOOD
    ]
