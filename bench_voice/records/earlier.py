"""What is known before a session begins: the person's own instruments, the machine's earlier readings, and what its
earlier sessions left open.

Read from files here, at the edge; the session keeps what it was told in its journal and never looks again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import platformdirs

from bench_voice.core import events as ev
from bench_voice.core.apply import apply
from bench_voice.core.cases import Ending, OpenedBy
from bench_voice.core.history import Series
from bench_voice.core.intents import ItemChange
from bench_voice.core.register import CLOSED_BY, close_item
from bench_voice.core.replies import Replies, Reply
from bench_voice.core.sheet import JobSheet, ReadingSpec
from bench_voice.core.state import Entry, State
from bench_voice.errors import BenchError
from bench_voice.own_file import read_own_file
from bench_voice.reckon import instruments
from bench_voice.reckon.history import history
from bench_voice.records.kept import replayed
from bench_voice.records.logbook import row
from bench_voice.session import journal as jn
from bench_voice.speech.queries import AGAINST
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import Language

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
    paths = jn.newest_first(folder, f"{jn.slug(sheet.id)}--*.jsonl")
    rows = [row(path) for path in reversed(paths[:MAX_SESSIONS])]
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


@dataclass(frozen=True)
class LeftOpen:
    """What earlier sessions left open: `taken` into the register of the new one, and what is `said` of it."""

    taken: tuple[ev.ItemOpened, ...] = ()
    said: Replies = ()


def left_open(
    state: State,
    folder: Path,
    besides: Path,
    language: Language,
    on_passed_over: Callable[[BenchError], None] = lambda error: None,
) -> LeftOpen:
    """What the newest session of each sheet on this machine left open, unless it was signed off. `state`: of the new
    session, whose journal is `besides`.

    The session before it of its own sheet never comes back, so the new one takes its entries over: they are asked for
    at the gate, and the session after this one finds them here. Another sheet's own session asks for them: they are
    only named, and so are entries that no words would close here.
    """
    machine, looked_at = state.sheet.machine_id, set()
    taken: list[ev.ItemOpened] = []
    unasked: list[str] = []
    others: list[Reply] = []
    for path in jn.newest_first(folder, f"*--{jn.slug(machine)}--*.jsonl"):
        job = path.name.partition("--")[0]
        if path == besides or job in looked_at:
            continue
        try:
            found = jn.read(path)
            if found.header.get("machine") != machine:
                continue
            if not found.lines:
                continue  # a start that came to nothing hides no session that was begun
            old = replayed(found)
        except BenchError as error:
            if error.slug != "journal-empty":
                on_passed_over(error)
            continue
        looked_at.add(job)
        if old.ended is Ending.SIGNED_OFF or not old.on_or_off():
            continue
        if old.sheet.id != state.sheet.id:
            names = tuple(entry.name for entry in old.on_or_off())
            others.append(Reply("left-other", {"title": old.sheet.title, "names": names}, is_urgent=True))
            continue
        for entry in old.on_or_off():
            opened = _taken_over(state, entry, language)
            if opened is not None:
                taken.append(opened)
            else:
                unasked.append(entry.name)
    said = list(others)
    if unasked:
        said.append(Reply("left-unasked", {"names": tuple(unasked)}, is_urgent=True))
    if taken:
        said.append(Reply("left-before", is_urgent=True))
    return LeftOpen(tuple(taken), tuple(said))


def _taken_over(state: State, entry: Entry, language: Language) -> ev.ItemOpened | None:
    """The entry in the new session's register; None where its own words would not close it there: the sheet may have
    been changed, and what cannot be closed cannot be signed off.
    """
    item = state.sheet.items.get(entry.key)
    if item is not None and item.kind is entry.kind:
        opened = ev.ItemOpened(entry.key, item.name, item.kind, OpenedBy.EARLIER)
    else:
        # No id of a sheet and no key of this session holds a colon: the entry never takes the place of another.
        opened = ev.ItemOpened(f"earlier:{entry.key}", entry.name, entry.kind, OpenedBy.EARLIER)
    with_it = apply(state, opened)
    words = f"{language.lead_ins[CLOSED_BY[entry.kind]][0]} {opened.name}"
    meant = understand(words, with_it.expected(), language)
    closed = close_item(with_it, meant) if isinstance(meant, ItemChange) else ()
    return opened if [event.key for event in closed if isinstance(event, ev.ItemClosed)] == [opened.key] else None
