"""What a journal says about the job, as plain values: the source of every record form."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.apply import apply
from bench_voice.core.history import Series
from bench_voice.core.sheet import JobSheet
from bench_voice.core.state import State
from bench_voice.reckon.history import answers
from bench_voice.reckon.spoken import text
from bench_voice.session import journal as jn


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


def when(at_ms: int) -> str:
    """ISO 8601, UTC, to the second."""
    return datetime.fromtimestamp(at_ms / 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def first_line(state: State) -> str:
    """What a reader must see first."""
    if state.ended == "signed-off":
        return "Signed off. Every reading is good or decided on, and every register entry is closed."
    open_ = "; ".join(f"{entry.name} ({entry.kind.value})" for entry in state.register.values())
    unsettled = [state.sheet.readings[r].name for step, r in state.taken if state.needs_decision(step, r)]
    why = (f" Still open: {open_}." if open_ else "") + (f" Not good: {', '.join(unsettled)}." if unsettled else "")
    if state.ended == "stopped":
        return f"NOT TO BE USED. The job was stopped at step {state.index + 1}, {state.step.id}.{why}"
    return f"NOT TO BE USED. The job is unfinished, at step {state.index + 1}, {state.step.id}.{why}"


def summary(job: Job) -> dict[str, Any]:
    """Everything the record shows, JSON-ready."""
    lines = job.file.lines
    return {
        "title": job.sheet.title,
        "sheet": job.sheet.id,
        "sheet_version": job.sheet.version,
        "machine": job.sheet.machine,
        "machine_id": job.sheet.machine_id,
        "source": job.sheet.source,
        "note": job.sheet.note,
        "status": job.state.ended or "open",
        "first_line": first_line(job.state),
        "started": when(lines[0].at_ms) if lines else None,
        "ended": when(lines[-1].at_ms) if lines else None,
        "readings": _readings(job),
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
        "wear": _wear(job),
        "looks": [_look(job, line, line.event) for line in lines if isinstance(line.event, ev.LookJudged)],
        "decisions": [_fields(line, "what", "reason") for line in lines if isinstance(line.event, ev.ReadingDecided)],
        "holds": [_hold(job, line, line.event) for line in lines if isinstance(line.event, ev.HoldConfirmed)],
        "register": _register(job),
        "notes": [_fields(line, "step", "text") for line in lines if isinstance(line.event, ev.NoteTaken)],
        "marks": [_fields(line, "step") for line in lines if isinstance(line.event, ev.MarkSet)],
        "interruptions": [_fields(line, "gap_ms") for line in lines if isinstance(line.event, ev.SessionResumed)],
        "tightened": [_tightened(job, line, line.event) for line in lines if _is_tightened(job, line)],
        "follow_ups": [step.follow_up for step in job.sheet.steps if step.follow_up],
    }


def _fields(line: jn.Line, *names: str) -> dict[str, Any]:
    return {"seq": line.seq, "at": when(line.at_ms)} | {name: getattr(line.event, name) for name in names}


def _look(job: Job, line: jn.Line, event: ev.LookJudged) -> dict[str, Any]:
    return _fields(line, "step", "look", "judgement", "note") | {"name": job.sheet.looks[event.look].name}


def _is_tightened(job: Job, line: jn.Line) -> bool:
    return (
        isinstance(line.event, ev.StepDone)
        and job.sheet.steps[job.sheet.step_index(line.event.step)].torque is not None
    )


def _tightened(job: Job, line: jn.Line, event: Any) -> dict[str, Any]:
    """A stage of tightening that was left with "next": what was to be done, not what a wrench has measured."""
    stage = job.sheet.steps[job.sheet.step_index(event.step)].torque
    assert stage is not None
    return _fields(line, "step") | {
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
    phrases = {step.hold.id: step.hold.phrase for step in job.sheet.steps if step.hold}
    return _fields(line, "hold") | {"phrase": phrases[event.hold]}


def _readings(job: Job) -> list[dict[str, Any]]:
    """Every value ever accepted, with what became of it: stands, part replaced, withdrawn or superseded."""
    standing = {point.seq for taken in job.state.taken.values() for point in taken.points}
    rows = []
    withdrawn: set[int] = set()
    replaced: dict[tuple[str, str], int] = {}  # when the part behind a reading was last replaced
    state = State(job.sheet)
    for line in job.file.lines:
        state = apply(state, line.event, line.at_ms)
        if isinstance(line.event, ev.Undone):
            withdrawn.add(line.event.seq)
        if isinstance(line.event, ev.ReadingReopened) and line.event.why == "replaced":
            replaced[line.event.step, line.event.reading] = line.seq
        if not isinstance(line.event, ev.ReadingRecorded | ev.ReadingCorrected):
            continue
        event, spec = line.event, job.sheet.readings[line.event.reading]
        limit = state.limit_of(spec)
        rows.append(
            _fields(line, "step", "reading", "point", "unit", "stage", "verdict", "heard")
            | {
                "name": spec.name,
                "value": str(event.value),
                "in_limit_unit": str(event.in_limit_unit),
                "limit_unit": limit.unit,
                "at_least": None if limit.low is None else str(limit.low),
                "at_most": None if limit.high is None else str(limit.high),
                "is_correction": isinstance(event, ev.ReadingCorrected),
            }
        )
    last_at = {(row["step"], row["reading"], row["point"], row["stage"]): row["seq"] for row in rows}
    for row in rows:
        is_last = last_at[row["step"], row["reading"], row["point"], row["stage"]] == row["seq"]
        is_old_part = row["stage"] == "as-found" and replaced.get((row["step"], row["reading"]), 0) > row["seq"]
        if row["seq"] in standing:
            row["state"] = "stands"
        elif row["seq"] in withdrawn:
            row["state"] = "withdrawn"
        else:
            row["state"] = "part replaced" if is_old_part and is_last else "superseded"
    return rows


def _wear(job: Job) -> list[dict[str, Any]]:
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
    entries: list[dict[str, Any]] = []
    for line in job.file.lines:
        event = line.event
        if isinstance(event, ev.ItemOpened):
            entries.append(
                {"key": event.key, "name": event.name, "kind": event.kind, "opened": when(line.at_ms), "closed": None}
            )
        elif isinstance(event, ev.ItemClosed):
            for entry in reversed(entries):
                if entry["key"] == event.key and entry["closed"] is None:
                    entry["closed"] = when(line.at_ms)
                    break
    for entry in entries:
        if entry["key"] in job.state.register and entry["closed"] is not None:
            entry["closed"] = None  # reopened by "do it again" or a withdrawn closing
    return entries
