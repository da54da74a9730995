"""What the logbook has of a machine when a session begins: its newest values, what was done, how far it has run."""

from __future__ import annotations

from contextlib import suppress
from decimal import Decimal
from pathlib import Path

from bench_voice.core import events as ev
from bench_voice.core.history import DoneBefore, Earlier, LastValue
from bench_voice.core.sheet import JobSheet
from bench_voice.errors import BenchError
from bench_voice.reckon.measure import convert
from bench_voice.records.book.extract import Found, extract
from bench_voice.session import journal as jn
from bench_voice.speech.queries import AGAINST

MAX_SESSIONS = 20  # the newest ones, so that a long life does not delay the start
MAX_DONE = 300
_DONE = ("step", "replaced", "note")


def earlier_taken(sheet: JobSheet, folder: Path) -> tuple[ev.EarlierTaken, ...]:
    """Of every sheet of this machine. A journal that cannot be read is passed over: `bench-voice logbook` names it."""
    found: list[Found] = []
    with suppress(BenchError):
        for path in jn.newest_first(folder, f"*--{jn.slug(sheet.machine_id)}--*.jsonl")[:MAX_SESSIONS]:
            with suppress(BenchError):
                one = extract(path)
                if one.session["machine_id"] == sheet.machine_id:
                    found.append(one)
    earlier = Earlier(_values(sheet, found), _done(found), *_use(sheet, found))
    return (ev.EarlierTaken(earlier),) if earlier != Earlier() else ()


def _values(sheet: JobSheet, found: list[Found]) -> tuple[LastValue, ...]:
    """The newest of each point that stands; `found`: the newest session first."""
    values: dict[tuple[str, int], LastValue] = {}
    for session in found:
        if session.session["sheet"] != sheet.id:
            continue
        for row in session.readings:
            key = (row["subject"][1], row["point"])
            newer = values.get(key)
            # Of one session the last value counts: what is there now, not the part that was taken out.
            if key[0] in sheet.readings and (newer is None or newer.at_ms in range(*_span(session))):
                values[key] = LastValue(*key, Decimal(row["value"]), row["unit"], row["at_ms"])
    return tuple(values.values())


def _span(session: Found) -> tuple[int, int]:
    return session.session["started_ms"], session.session["ended_ms"] + 1


def _done(found: list[Found]) -> tuple[DoneBefore, ...]:
    """Each text the last time that it was done, the newest first."""
    done: dict[str, DoneBefore] = {}
    for session in found:
        at = Decimal(session.session["at"]) if session.session["at"] else None
        for entry in reversed(session.entries):
            if entry["kind"] in _DONE and entry["text"] not in done and len(done) < MAX_DONE:
                done[entry["text"]] = DoneBefore(entry["text"], entry["at_ms"], at, session.session["at_unit"])
    return tuple(done.values())


def _use(sheet: JobSheet, found: list[Found]) -> tuple[str, Decimal | None, str, int]:
    """Reading, distance or hours, unit, and when: as the newest session that has them, in the reading's own unit."""
    spec = next((one for one in sheet.readings.values() if one.unit in AGAINST), None)
    for session in found:
        head = session.session
        if not head["at"]:
            continue
        if spec is None:
            return "", Decimal(head["at"]), head["at_unit"], head["started_ms"]
        with suppress(BenchError):  # hours where this sheet has a distance
            return spec.id, convert(Decimal(head["at"]), head["at_unit"], spec.unit), spec.unit, head["started_ms"]
    return "", None, "", 0
