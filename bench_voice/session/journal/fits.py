"""Whether an event can belong to a job: its step, reading, look, hold, item and unit are the sheet's."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.sheet import ItemKind, JobSheet
from bench_voice.words.units import is_unit

_KINDS = frozenset(kind.value for kind in ItemKind)


class Fit:
    """What the events of `sheet` may name. A journal comes from outside, and `apply` holds every event for its own."""

    def __init__(self, sheet: JobSheet) -> None:
        steps = frozenset(step.id for step in sheet.steps)
        self._sheet = sheet
        self._known: dict[str, Collection[str]] = {
            "step": steps,
            "steps": steps,
            "items": sheet.items.keys(),
            "reading": sheet.readings.keys(),
            "look": sheet.looks.keys(),
            "hold": frozenset(step.hold.id for step in sheet.steps if step.hold),
        }
        self._what = frozenset((*sheet.readings, *sheet.looks))

    def misfit(self, event: ev.Event) -> str:
        """What of the event the job does not have, in words; "" where it fits."""
        for name, value in vars(event).items():
            known = self._known.get(name)
            if known is not None:
                for one in value if isinstance(value, tuple) else (value,):
                    if one not in known:
                        return f'the job sheet has no {name.removesuffix("s")} "{one}"'
        if isinstance(event, ev.ReadingRecorded | ev.ReadingCorrected):
            return self._reading(event)
        if isinstance(event, ev.ReadingDecided) and event.what not in self._what:
            return f'the job sheet has nothing to decide on that is called "{event.what}"'
        if isinstance(event, ev.ItemOpened) and event.kind not in _KINDS:
            return f'"{event.kind}" is no kind of item'
        return ""

    def _reading(self, event: Any) -> str:
        spec = self._sheet.readings[event.reading]
        if not 0 <= event.point < spec.points:
            return f"the reading {event.reading} has no point {event.point + 1}"
        if event.unit != spec.unit and not is_unit(event.unit):
            return f'"{event.unit}" is not a unit'
        return ""
