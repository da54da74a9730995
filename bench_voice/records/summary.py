"""What a journal says about the job, as plain values: the source of every record form."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, TypeVar, cast

from bench_voice.core import events as ev
from bench_voice.core.cases import Ending
from bench_voice.core.history import Series
from bench_voice.core.sheet import JobSheet
from bench_voice.core.signs import quantity
from bench_voice.core.state import State
from bench_voice.reckon.history import answers
from bench_voice.reckon.spoken import text
from bench_voice.records.decisions import Decisions
from bench_voice.records.kept import Job
from bench_voice.records.lines import Withdrawn, became, fields, when
from bench_voice.records.readings import Readings
from bench_voice.records.register import Register
from bench_voice.session import journal as jn
from bench_voice.speech.queries import AGAINST

E = TypeVar("E")
# Events whose lines are kept for the record. Of the others only their number counts.
_SHOWN: tuple[type[ev.Event], ...] = (
    ev.ReadingsCarried, ev.InstrumentsTaken, ev.LookJudged, ev.HoldPhraseHeard, ev.HoldConfirmed, ev.NoteTaken,
    ev.MarkSet, ev.SessionResumed, ev.StepOpened, ev.StepDone, ev.SessionDetails,
)  # fmt: skip


def first_line(state: State) -> str:
    """What a reader must see first."""
    open_ = "; ".join(f"{entry.name} ({entry.kind.value})" for entry in state.register.values())
    why = f" Still open: {open_}." if open_ else ""
    if state.ended is Ending.SIGNED_OFF:
        # Reckoned, not believed: a journal may come from a version that signed off with less.
        unsettled = [_name(state.sheet, kind, key) for kind, key in state.open_at_gate() if kind != "item"]
        if not open_ and not unsettled:
            return "Signed off. Every reading is good or decided on, and every register entry is closed."
        why += f" Not settled: {', '.join(unsettled)}." if unsettled else ""
        return f"NOT TO BE USED. It was signed off all the same.{why}"
    # A reading that was taken again at a later step is judged there.
    unsettled = [
        state.sheet.readings[r].name
        for step, r in state.taken
        if state.needs_decision(step, r) and not state.superseded_by(step, r)
    ]
    why += f" Not good: {', '.join(unsettled)}." if unsettled else ""
    if state.ended is Ending.STOPPED:
        return f"NOT TO BE USED. The job was stopped at step {state.index + 1}, {state.step.id}.{why}"
    return f"NOT TO BE USED. The job is unfinished, at step {state.index + 1}, {state.step.id}.{why}"


def _name(sheet: JobSheet, why: str, key: str) -> str:
    """What the final gate names: a reading, a look, or a hold by its phrase."""
    if why == "hold":
        return _phrases(sheet)[key]
    return sheet.readings[key].name if why == "reading" else sheet.looks[key].name


def _phrases(sheet: JobSheet) -> dict[str, str]:
    return {step.hold.id: step.hold.phrase for step in sheet.steps if step.hold}


def summary(job: Job) -> dict[str, Any]:
    """Everything the record shows, JSON-ready. Nothing that was said is left out; `state` tells what became of it.

    "stands", "withdrawn" ("strike that") or "superseded" (said anew, or done again); a reading also "part replaced"; a
    decision also "reopened" (a figure that it was made on has changed); a
    hold that is not confirmed any more "asked again". A difference ends as the value of it that ends first. A register
    entry is "open", "closed" or "withdrawn".
    """
    walk = _Walk(job)
    state = walk.state
    with jn.as_foreign(job.file.path, walk.n_events):
        return _told(job, walk, state)


class _Walk:
    """Once through the journal: what the parts of the record keep of it."""

    def __init__(self, job: Job) -> None:
        self.withdrawn, self.readings, self.decisions, self.register = Withdrawn(), Readings(), Decisions(), Register()
        self._of: dict[type[ev.Event], list[jn.Line]] = {kind: [] for kind in _SHOWN}
        self.first_ms, self.last_ms, self.n_events = None, None, 0  # type: int | None, int | None, int
        self.clock_went_back = False
        parts = (self.withdrawn, self.readings, self.decisions, self.register)
        for line, before, after in job.fold():
            self.state = after
            if line is None:
                continue
            with jn.as_foreign(job.file.path, line.seq):
                for part in parts:
                    part.see(line, before, after)
            if (own := self._of.get(type(line.event))) is not None:
                own.append(line)
            self.first_ms = line.at_ms if self.first_ms is None else self.first_ms
            self.clock_went_back |= self.last_ms is not None and line.at_ms < self.last_ms
            self.last_ms, self.n_events = line.at_ms, line.seq

    def of(self, kind: type[E]) -> Iterator[tuple[jn.Line, E]]:
        """The lines of one kind of event."""
        return ((line, cast(E, line.event)) for line in self._of[cast(type[ev.Event], kind)])


def _told(job: Job, walk: _Walk, state: State) -> dict[str, Any]:
    withdrawn = walk.withdrawn.seqs
    values, differences = walk.readings.rows(state, withdrawn)
    return {
        "title": job.sheet.title,
        "sheet": job.sheet.id,
        "sheet_version": job.sheet.version,
        "machine": job.sheet.machine,
        "machine_id": job.sheet.machine_id,
        "source": job.sheet.source,
        "note": job.sheet.note,
        **_details(walk, state),
        "status": state.ended or "open",
        "first_line": first_line(state),
        "started": None if walk.first_ms is None else when(walk.first_ms),
        "ended": None if walk.last_ms is None else when(walk.last_ms),
        "readings": values,
        "differences": differences,
        "carried_over": [
            {"journal": event.journal, **vars(one), "value": str(one.value)}
            for _, event in walk.of(ev.ReadingsCarried)
            for one in event.readings
        ],
        "instruments": [
            {"overdue": [vars(one) for one in event.overdue], "missing": list(event.missing)}
            | {
                "uses": [
                    {"reading": use.reading, "instrument": use.instrument}
                    | {"uncertainty": str(use.absolute), "percent": str(use.percent)}
                    for use in event.uses
                ]
            }
            for _, event in walk.of(ev.InstrumentsTaken)
        ],
        "wear": wear(state),
        "looks": became(
            [_look(job, line, event) for line, event in walk.of(ev.LookJudged)],
            ("step", "look"),
            withdrawn,
            state.looked,
        ),
        "decisions": walk.decisions.rows(state, withdrawn),
        "holds": became(
            [_hold(job, walk, line, event) for line, event in walk.of(ev.HoldConfirmed)],
            ("hold",),
            withdrawn,
            {(hold,) for hold in state.confirmed},
            otherwise="asked again",
        ),
        "register": walk.register.rows(),
        "notes": [
            fields(line, "step", "text") | {"state": "withdrawn" if line.seq in withdrawn else "stands"}
            for line, _ in walk.of(ev.NoteTaken)
        ],
        "steps": [fields(line, "step", "how") for line, _ in walk.of(ev.StepOpened)],
        "marks": [fields(line, "step") for line, _ in walk.of(ev.MarkSet)],
        "interruptions": [fields(line, "gap_ms", "torn_bytes") for line, _ in walk.of(ev.SessionResumed)],
        "tightened": [
            _tightened(job, line, event) for line, event in walk.of(ev.StepDone) if _is_tightened(job, event)
        ],
        # A step can be done and later be passed over: its condition was withdrawn.
        "follow_ups": [
            step.follow_up
            for step in job.sheet.steps
            if step.follow_up and step.id in state.done and step.id not in state.passed_over
        ],
        # Where the chain of the journal stands: `bench-voice verify JOURNAL --hash` compares it.
        "journal": {
            "name": job.file.path.name,
            "events": walk.n_events,
            "last_hash": job.file.last_hash,
            "torn_bytes": len(job.file.torn),
            "sheet_hash": job.file.header.get("sheet_hash", ""),
        },
    }


def _details(walk: _Walk, state: State) -> dict[str, Any]:
    """Who, the machine's marks and its distance or hours: as the sheet's own reading has them, else as was said."""
    told = next((event for _, event in walk.of(ev.SessionDetails)), ev.SessionDetails())
    at, unit = use_of(state)
    if not at and told.at is not None:
        at, unit = str(told.at), told.at_unit
    return {
        "who": told.who,
        "machine_marks": told.marks,
        "zone": told.zone,
        "distance": quantity(at, unit) if at else "",
        "clock_went_back": walk.clock_went_back,
    }


def use_of(state: State) -> tuple[str, str]:
    """The machine's distance or hours with their unit: the sheet's first reading in km, miles or hours, where it was
    taken."""
    for spec in state.sheet.readings.values():
        if spec.unit in AGAINST:
            found = [taken for (_, reading), taken in state.taken.items() if reading == spec.id and taken.points]
            return (str(found[-1].points[-1].value), found[-1].points[-1].unit) if found else ("", "")
    return "", ""


def _look(job: Job, line: jn.Line, event: ev.LookJudged) -> dict[str, Any]:
    return fields(line, "step", "look", "judgement", "note", "heard") | {"name": job.sheet.looks[event.look].name}


def _is_tightened(job: Job, event: ev.StepDone) -> bool:
    return job.sheet.steps[job.sheet.step_index(event.step)].torque is not None


def _tightened(job: Job, line: jn.Line, event: Any) -> dict[str, Any]:
    """A stage of tightening that was left with "next": what was to be done, not what a wrench has measured."""
    stage = job.sheet.steps[job.sheet.step_index(event.step)].torque
    assert stage is not None
    return fields(line, "step") | {
        "torque": stage.torque,
        "stage": stage.number,
        "stages": stage.count,
        "target": None if stage.target is None else str(stage.target),
        "turn": None if stage.turn is None else str(stage.turn),
        "unit": stage.unit if stage.turn is None else "deg",
        "order": list(stage.order),
        "thread": stage.thread,
        "condition": stage.condition,
    }


def _hold(job: Job, walk: _Walk, line: jn.Line, event: ev.HoldConfirmed) -> dict[str, Any]:
    """`heard`: the words of the phrase and of what affirmed it, as they were heard."""
    said = [one.heard for at, one in walk.of(ev.HoldPhraseHeard) if one.hold == event.hold and at.seq < line.seq]
    heard = "; ".join(filter(None, (*said[-1:], event.heard)))
    return fields(line, "hold") | {"heard": heard, "phrase": _phrases(job.sheet)[event.hold]}


def wear(state: State) -> list[dict[str, Any]]:
    """Rate and forecast of each point that the machine's history can say something about, the soonest worn first."""
    found: list[dict[str, Any]] = []
    by_reading: dict[str, list[Series]] = {}
    for one in state.wear():
        by_reading.setdefault(one.reading, []).append(one)
    for reading, series in by_reading.items():
        spec = state.sheet.readings[reading]
        for one, answer in answers(series, spec.unit):
            values = {value.name: str(value.shown) for value in answer.values}
            found.append(
                {"reading": reading, "name": spec.name, "point": one.point, "sessions": len(one.pairs)}
                | {"unit": spec.unit, "against": one.against, "against_unit": one.against_unit}
                | {"values": values, "notes": list(answer.warnings), "text": text(answer)}
            )
    return found
