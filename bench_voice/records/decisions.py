"""What was decided on, and why it had to be."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.signs import quantity
from bench_voice.core.state import State
from bench_voice.core.verdict import Verdict
from bench_voice.records.lines import became, fields
from bench_voice.records.readings import differences
from bench_voice.records.words import difference_words, limit_words
from bench_voice.session import journal as jn

_NOT_GOOD = (Verdict.OUT, Verdict.BORDERLINE)


class Decisions:
    """Every decision with its spoken name, and what was not good at the time of it."""

    def __init__(self) -> None:
        self._rows: list[dict[str, Any]] = []

    def see(self, line: jn.Line, before: State, after: State) -> None:
        if isinstance(line.event, ev.ReadingDecided):
            self._rows.append(fields(line, "step", "what", "reason") | _why(before, line.event.step, line.event.what))

    def rows(self, last: State, withdrawn: Collection[int]) -> list[dict[str, Any]]:
        decided = {key for key, taken in last.taken.items() if taken.decided}
        decided |= {key for key, (_, reason) in last.looked.items() if reason}
        return became(self._rows, ("step", "what"), withdrawn, decided)


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
            words = limit_words(limit.low, limit.high, limit.unit)
            found.append(f"{verdict.value}: {which}{quantity(point.value, point.unit)}, {words}")
    return found


def _differences(state: State, step: str, reading: str) -> list[str]:
    """ "out: points differ by 0.8 mm, at most 0.3 mm"."""
    return [
        f"{one.verdict}: {difference_words(one.row)}"
        for one in differences(state, step, reading)
        if one.verdict in _NOT_GOOD
    ]
