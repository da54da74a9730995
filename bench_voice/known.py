"""What is known before a session begins: the person's own instruments and the machine's earlier readings.

Read from files here, at the edge; the session keeps what it was told in its journal and never looks again.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import platformdirs

from bench_voice.core import events as ev
from bench_voice.core.history import Series
from bench_voice.core.sheet import JobSheet, ReadingSpec
from bench_voice.errors import BenchError
from bench_voice.own_file import read_own_file
from bench_voice.reckon import instruments
from bench_voice.reckon.history import history
from bench_voice.records.logbook import row
from bench_voice.speech.queries import AGAINST

MAX_SESSIONS = 20


def instruments_file() -> Path:
    """Where the person's instruments stand: beside the settings."""
    return Path(platformdirs.user_config_dir("bench-voice")) / instruments.FILE_NAME


def instruments_taken(sheet: JobSheet, path: Path, now_ms: int) -> ev.InstrumentsTaken | None:
    """None without the file, and where it has nothing to say about this sheet. Raises UsageError [instruments]."""
    found = read_own_file(path, lambda text: instruments.parse(text, str(path)), what="instruments", slug="instruments")
    if found is None:
        return None
    taken = instruments.for_sheet(found, sheet, datetime.fromtimestamp(now_ms / 1000, UTC).date())
    return taken if taken != ev.InstrumentsTaken() else None


def history_taken(sheet: JobSheet, folder: Path) -> ev.HistoryTaken | None:
    """Earlier readings of this sheet on this machine against its distance or hours: the first reading of the sheet in
    km, miles or hours. The newest sessions only, so that a long life does not delay the start. A journal that cannot be
    read is passed over: `bench-voice logbook` names it.
    """
    against = next((spec for spec in sheet.readings.values() if spec.unit in AGAINST), None)
    if against is None:
        return None
    paths = sorted(folder.glob(f"{sheet.id}--*.jsonl"), key=lambda one: one.name.rpartition("--")[2])
    rows = [row(path) for path in paths[-MAX_SESSIONS:]]
    ours = [one for one in rows if one.get("sheet") == sheet.id and one.get("machine_id") == sheet.machine_id]
    found: list[Series] = []
    for spec in sheet.readings.values():
        if spec.is_marking or spec.id == against.id or not _is_limited(spec):
            continue
        for point in range(spec.points):
            try:
                pairs = history(ours, spec.id, against.id, spec.unit, against.unit, point)
            except BenchError:
                continue  # an older version of the sheet had another kind of unit there
            if pairs:
                found.append(Series(spec.id, point, against.id, against.unit, tuple(pairs)))
    return ev.HistoryTaken(tuple(found)) if found else None


def _is_limited(spec: ReadingSpec) -> bool:
    limit = spec.limit
    return limit.low is not None or limit.high is not None or limit.from_marking is not None


def at_start(sheet: JobSheet, folder: Path, now_ms: int) -> tuple[ev.Event, ...]:
    """Events for the beginning of a session; `folder`: where the journals live."""
    found = (instruments_taken(sheet, instruments_file(), now_ms), history_taken(sheet, folder))
    return tuple(event for event in found if event is not None)
