"""One journal as the rows of a logbook. Pure but for reading the file: the same journal always gives the same rows."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.cases import Again
from bench_voice.core.state import State
from bench_voice.records.book.schema import storable
from bench_voice.records.kept import kept_sheet, not_begun
from bench_voice.records.lines import Withdrawn
from bench_voice.records.readings import differences
from bench_voice.records.summary import first_line, use_of, wear
from bench_voice.session import journal as jn


@dataclass(frozen=True)
class Found:
    """Rows by the columns of `schema`; `readings` name their subject (sheet, reading, name) under "subject"."""

    session: dict[str, Any]
    readings: tuple[dict[str, Any], ...]
    entries: tuple[dict[str, Any], ...]


def extract(path: Path) -> Found:
    """Raises BenchError for a journal that cannot be read, or has no event: that was no session."""
    found = jn.read(path)
    if not found.lines:
        raise not_begun(path)
    sheet = kept_sheet(found.header, path)
    undone = Withdrawn()
    rows: dict[int, dict[str, Any]] = {}
    replaced: list[tuple[int, list[dict[str, Any]]]] = []
    said: list[tuple[int, dict[str, Any]]] = []
    told, back, latest = ev.SessionDetails(), False, 0
    for line, before, state in jn.fold(sheet, found.lines, path):
        if line is None:
            continue
        back, latest = back or line.at_ms < latest, line.at_ms
        event = line.event
        undone.see(line, before, state)
        if isinstance(event, ev.SessionDetails):
            told = event
        if isinstance(event, ev.ReadingReopened) and event.why is Again.REPLACED:
            replaced.append((line.seq, _points(before, event.step, event.reading, found.lines)))
        entry = _entry(before, event)
        if entry is not None:
            said.append((line.seq, dict(zip(("kind", "what", "text"), entry, strict=True)) | {"at_ms": line.at_ms}))
    for seq, taken in replaced:
        if seq not in undone.seqs:
            rows |= {row["seq"]: row | {"state": "part replaced"} for row in taken}
    entries = [entry for seq, entry in said if seq not in undone.seqs]
    more: list[dict[str, Any]] = []
    for step, reading in state.taken:
        for row in _points(state, step, reading, found.lines):
            rows[row["seq"]] = row
        if state.taken_at(step, reading).points:
            more += [{"reading": reading, **one.row} for one in differences(state, step, reading)]
    last_ms = found.lines[-1].at_ms
    for register in state.register.values():
        entries.append({"kind": "left open", "what": register.kind.value, "text": register.name, "at_ms": last_ms})
    for one in sheet.steps:
        if one.follow_up and one.id in state.done and one.id not in state.passed_over:
            entries.append({"kind": "to do", "what": one.id, "text": one.follow_up, "at_ms": last_ms})
    at, at_unit = use_of(state)
    if not at and told.at is not None:
        at, at_unit = str(told.at), told.at_unit
    session = {
        "key": found.header["hash"],
        "journal": storable(path.name),
        "stamp": storable(path.stem.rpartition("--")[2]),
        "sheet": sheet.id,
        "sheet_version": sheet.version,
        "title": sheet.title,
        "machine_id": sheet.machine_id,
        "machine": sheet.machine,
        "marks": told.marks,
        "who": told.who,
        "status": state.ended or "open",
        "first_line": first_line(state),
        "started_ms": found.lines[0].at_ms,
        "ended_ms": last_ms,
        "clock_went_back": back,
        "at": at,
        "at_unit": at_unit,
        "events": len(found.lines),
        "last_hash": found.last_hash,
        "more": json.dumps(
            {"differences": more, "wear": wear(state), "torn_bytes": len(found.torn)}, ensure_ascii=False
        ),
    }
    numbered = tuple(entry | {"number": number} for number, entry in enumerate(entries))
    return Found(session, tuple(rows[seq] for seq in sorted(rows)), numbered)


def _points(state: State, step: str, reading: str, lines: tuple[jn.Line, ...]) -> list[dict[str, Any]]:
    taken = state.taken_at(step, reading)
    spec = state.sheet.readings[reading]
    limit = state.limit_of(spec)
    fixed: dict[str, Any] = {
        "subject": (state.sheet.id, reading, spec.name),
        "step": step,
        "limit_unit": limit.unit,
        "at_least": None if limit.low is None else str(limit.low),
        "at_most": None if limit.high is None else str(limit.high),
        "new": None if limit.new is None else str(limit.new),
        "stage": taken.stage,
        "state": "stands",
    }
    found = []
    for point in taken.points:
        # The number of the point is told by its event: after "do it again" of one point they are not in order.
        event = lines[point.seq - 1].event
        assert isinstance(event, ev.ReadingRecorded | ev.ReadingCorrected)
        found.append(
            fixed
            | {
                "seq": point.seq,
                "point": event.point,
                "value": str(point.value),
                "unit": point.unit,
                "in_limit_unit": str(point.in_limit_unit),
                "uncertainty": str(state.uncertainty_of(spec, point.in_limit_unit)),
                "verdict": state.judge(spec, point.in_limit_unit).verdict.value,
                "at_ms": lines[point.seq - 1].at_ms,
            }
        )
    return found


def _entry(state: State, event: ev.Event) -> tuple[str, str, str] | None:
    """Kind, id and words of what a person may look for in a year."""
    sheet = state.sheet
    match event:
        case ev.StepDone():
            return "step", event.step, sheet.steps[sheet.step_index(event.step)].say
        case ev.NoteTaken():
            return "note", event.step, event.text
        case ev.ReadingDecided():
            return "decision", event.what, f"{sheet.name_of(event.what) or event.what}: {event.reason}"
        case ev.LookJudged():
            words = f"{sheet.looks[event.look].name}: {event.judgement}"
            return "look", event.look, f"{words}, {event.note}" if event.note else words
        case ev.ReadingReopened() if event.why is Again.REPLACED:
            return "replaced", event.reading, f"{sheet.readings[event.reading].name}: a new part"
        case _:
            return None
