"""What a journal says about the job, as plain values: the source of every record form."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.apply import apply
from bench_voice.core.history import Series
from bench_voice.core.sheet import JobSheet
from bench_voice.core.signs import quantity
from bench_voice.core.state import State
from bench_voice.reckon.history import answers
from bench_voice.reckon.spoken import text
from bench_voice.records.decisions import decisions
from bench_voice.records.lines import became, fields, when, withdrawn_by_undo
from bench_voice.records.readings import readings
from bench_voice.session import journal as jn
from bench_voice.speech.queries import AGAINST


@dataclass(frozen=True)
class Job:
    """A journal with its sheet and last state."""

    file: jn.JournalFile
    sheet: JobSheet
    state: State


def open_job(path: Path) -> Job:
    """Raises JournalError; the sheet is the one kept in the journal."""
    from bench_voice.sheets.load import load_text

    found = jn.read(path)
    sheet = load_text(found.header["sheet_text"], f"the sheet kept in {path.name}")
    return Job(found, sheet, jn.replay(sheet, found.lines))


def first_line(state: State) -> str:
    """What a reader must see first."""
    open_ = "; ".join(f"{entry.name} ({entry.kind.value})" for entry in state.register.values())
    why = f" Still open: {open_}." if open_ else ""
    if state.ended == "signed-off":
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
    if state.ended == "stopped":
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
    hold that is not confirmed any more "asked again". A difference ends as the value of it that ends first. A register
    entry is "open", "closed" or "withdrawn".
    """
    lines, state = job.file.lines, job.state
    withdrawn = withdrawn_by_undo(lines)
    values, differences = readings(lines, state, withdrawn)
    return {
        "title": job.sheet.title,
        "sheet": job.sheet.id,
        "sheet_version": job.sheet.version,
        "machine": job.sheet.machine,
        "machine_id": job.sheet.machine_id,
        "source": job.sheet.source,
        "note": job.sheet.note,
        **_details(job),
        "status": job.state.ended or "open",
        "first_line": first_line(job.state),
        "started": when(lines[0].at_ms) if lines else None,
        "ended": when(lines[-1].at_ms) if lines else None,
        "readings": values,
        "differences": differences,
        "carried_over": [
            {"journal": line.event.journal, **vars(one), "value": str(one.value)}
            for line in lines
            if isinstance(line.event, ev.ReadingsCarried)
            for one in line.event.readings
        ],
        "instruments": [
            {"overdue": [vars(one) for one in line.event.overdue], "missing": list(line.event.missing)}
            | {
                "uses": [
                    {"reading": use.reading, "instrument": use.instrument}
                    | {"uncertainty": str(use.absolute), "percent": str(use.percent)}
                    for use in line.event.uses
                ]
            }
            for line in lines
            if isinstance(line.event, ev.InstrumentsTaken)
        ],
        "wear": wear(job),
        "looks": became(
            [_look(job, line, line.event) for line in lines if isinstance(line.event, ev.LookJudged)],
            ("step", "look"),
            withdrawn,
            state.looked,
        ),
        "decisions": decisions(lines, state, withdrawn),
        "holds": became(
            [_hold(job, line, line.event) for line in lines if isinstance(line.event, ev.HoldConfirmed)],
            ("hold",),
            withdrawn,
            {(hold,) for hold in state.confirmed},
            otherwise="asked again",
        ),
        "register": _register(job),
        "notes": [
            fields(line, "step", "text") | {"state": "withdrawn" if line.seq in withdrawn else "stands"}
            for line in lines
            if isinstance(line.event, ev.NoteTaken)
        ],
        "marks": [fields(line, "step") for line in lines if isinstance(line.event, ev.MarkSet)],
        "interruptions": [fields(line, "gap_ms") for line in lines if isinstance(line.event, ev.SessionResumed)],
        "tightened": [_tightened(job, line, line.event) for line in lines if _is_tightened(job, line)],
        # A step can be done and later be passed over: its condition was withdrawn.
        "follow_ups": [
            step.follow_up
            for step in job.sheet.steps
            if step.follow_up and step.id in state.done and step.id not in state.passed_over
        ],
    }


def _details(job: Job) -> dict[str, Any]:
    """Who, the machine's marks and its distance or hours: as the sheet's own reading has them, else as was said."""
    told = [line.event for line in job.file.lines if isinstance(line.event, ev.SessionDetails)]
    at, unit = distance(job.state)
    if not at and told and told[-1].at is not None:
        at, unit = str(told[-1].at), told[-1].at_unit
    times = [line.at_ms for line in job.file.lines]
    return {
        "who": told[-1].who if told else "",
        "marks": (told[-1].marks if told else ""),
        "zone": told[-1].zone if told else "",
        "at": quantity(at, unit) if at else "",
        "clock_went_back": any(later < before for before, later in pairwise(times)),
    }


def distance(state: State) -> tuple[str, str]:
    """The machine's distance or hours with their unit: the sheet's first reading in km, miles or hours, where it was
    taken."""
    for spec in state.sheet.readings.values():
        if spec.unit in AGAINST:
            found = [taken for (_, reading), taken in state.taken.items() if reading == spec.id and taken.points]
            return (str(found[-1].points[-1].value), found[-1].points[-1].unit) if found else ("", "")
    return "", ""


def _look(job: Job, line: jn.Line, event: ev.LookJudged) -> dict[str, Any]:
    return fields(line, "step", "look", "judgement", "note", "heard") | {"name": job.sheet.looks[event.look].name}


def _is_tightened(job: Job, line: jn.Line) -> bool:
    return (
        isinstance(line.event, ev.StepDone)
        and job.sheet.steps[job.sheet.step_index(line.event.step)].torque is not None
    )


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


def _hold(job: Job, line: jn.Line, event: ev.HoldConfirmed) -> dict[str, Any]:
    return fields(line, "hold", "heard") | {"phrase": _phrases(job.sheet)[event.hold]}


def wear(job: Job) -> list[dict[str, Any]]:
    """Rate and forecast of each point that the machine's history can say something about, the soonest worn first."""
    found: list[dict[str, Any]] = []
    by_reading: dict[str, list[Series]] = {}
    for one in job.state.wear():
        by_reading.setdefault(one.reading, []).append(one)
    for reading, series in by_reading.items():
        spec = job.sheet.readings[reading]
        for one, answer in answers(series, spec.unit):
            values = {value.name: str(value.shown) for value in answer.values}
            found.append(
                {"reading": reading, "name": spec.name, "point": one.point, "sessions": len(one.pairs)}
                | {"unit": spec.unit, "against": one.against, "against_unit": one.against_unit}
                | {"values": values, "notes": list(answer.warnings), "text": text(answer)}
            )
    return found


def _register(job: Job) -> list[dict[str, Any]]:
    """One row a key, by what the folded register held: `closed` is None only while it is open.

    `opened` is the first time, `closed` the last, or when the only opening was withdrawn.
    """
    rows: dict[str, dict[str, Any]] = {}
    spans: dict[str, list[list[str | None]]] = {}  # from when to when it was open, without what was withdrawn
    state = State(job.sheet)
    for line in job.file.lines:
        before, state = state.register, apply(state, line.event, line.at_ms)
        # Changes are withdrawn last first: it is always a key's last span that an undo opens again or takes out.
        at, is_undo = when(line.at_ms), isinstance(line.event, ev.Undone)
        for key, entry in state.register.items():
            if key in before:
                continue
            rows.setdefault(key, {"key": key, "name": entry.name, "kind": entry.kind.value})
            own = spans.setdefault(key, [])
            if is_undo and own:
                own[-1][1] = None
            else:
                own.append([at, None])
        for key in (key for key in before if key not in state.register):
            own = spans[key]
            own[-1][1] = at
            if is_undo:
                rows[key] |= {"opened": own[-1][0], "closed": at}
                own.pop()
    for key, row in rows.items():
        if spans[key]:
            row |= {"opened": spans[key][0][0], "closed": spans[key][-1][1]}
        row["state"] = "open" if row["closed"] is None else "closed" if spans[key] else "withdrawn"
    return list(rows.values())
