"""From journals into the logbook: as sessions end, after an outage, or all of it anew. Nothing twice, nothing
overwritten by less.
"""

from __future__ import annotations

import itertools
import json
import multiprocessing
import os
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import sqlalchemy as sa

from bench_voice.errors import BenchError, JournalError
from bench_voice.records.book.connect import Book
from bench_voice.records.book.extract import Found, extract
from bench_voice.records.book.schema import ENTRY, READING, SESSION, SOURCE, SUBJECT, storable

_BATCH = 50  # sessions a transaction: an outage costs at most so many, and they are read again
_MANY = 100  # journals from which on a second process is worth its start
_TRIES = 20  # for two benches that write the same session at the same moment
_SESSION_COLUMNS = tuple(column.name for column in SESSION.c if column.name != "id")


@dataclass
class Filled:
    """What a catch-up did. `problems`: journals that are not in the logbook, each with what a person is told."""

    read: int = 0
    events: int = 0
    problems: dict[str, str] = field(default_factory=dict)
    left: int = 0  # journals not looked at within the time that was given


@dataclass(frozen=True)
class _Read:
    """A journal as it was read: its rows, or the problem."""

    path: Path
    size: int
    mtime_ns: int
    found: Found | None
    problem: str

    @property
    def name(self) -> str:
        return storable(self.path.name)


def catch_up(
    book: Book,
    folder: Path,
    *,
    within_s: float | None = None,
    on_progress: Callable[[int, int], None] = lambda done, of: None,
) -> Filled:
    """Reads what is new or changed in `folder`. Raises JournalError where the logbook or the folder cannot be used;
    what was read until then stays read.

    `within_s`: stop after that, for a session's end; the rest comes next time.
    """
    filled = Filled()
    names = _journals(folder)
    with book.read() as connection:
        rows = connection.execute(sa.select(SOURCE).where(SOURCE.c.bench == book.bench)).all()
    ours = {storable(name) for name in names}
    known = {row.journal: (row.size, row.mtime_ns) for row in rows}
    filled.problems = {row.journal: row.problem for row in rows if row.problem and row.journal in ours}
    pending = [folder / name for name, stat in names.items() if known.get(storable(name)) != stat]
    end = None if within_s is None else time.monotonic() + within_s
    done = 0
    for batch in _batches(_read_all(pending, is_alone=within_s is not None)):
        _write(book, batch, filled)
        done += len(batch)
        on_progress(done, len(pending))
        if end is not None and time.monotonic() > end:
            break
    filled.left = len(pending) - done
    return filled


def rebuild(book: Book, folder: Path, on_progress: Callable[[int, int], None] = lambda done, of: None) -> Filled:
    """Forgets what was read from this folder, and reads all of it again. Sessions of other benches, and those whose
    journals are no longer here, stay: nobody else could bring them back.
    """
    ours = set(map(storable, _journals(folder)))
    with book.write() as connection:
        connection.execute(sa.delete(SOURCE).where(SOURCE.c.bench == book.bench))
        rows = connection.execute(sa.select(SESSION.c.id, SESSION.c.journal)).all()
        for ids in _slices([row.id for row in rows if row.journal in ours], 500):
            _delete(connection, ids)
    return catch_up(book, folder, on_progress=on_progress)


def _delete(connection: sa.Connection, ids: Sequence[int]) -> None:
    for table, column in ((READING, READING.c.session_id), (ENTRY, ENTRY.c.session_id), (SESSION, SESSION.c.id)):
        connection.execute(sa.delete(table).where(column.in_(ids)))


def _slices(values: list[int], size: int) -> Iterator[list[int]]:
    yield from (values[at : at + size] for at in range(0, len(values), size))


def check_folder(folder: Path) -> None:
    """Raises JournalError where the folder of journals cannot be read."""
    _journals(folder)


def _journals(folder: Path) -> dict[str, tuple[int, int]]:
    """Name of each journal with size and time of its last change, the oldest session first."""
    found = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.name.endswith(".jsonl"):
                    with suppress(OSError):
                        stat = entry.stat()
                        found.append((entry.name, (stat.st_size, stat.st_mtime_ns)))
    except (OSError, ValueError) as error:
        raise JournalError(
            f"The folder of journals cannot be read ({getattr(error, 'strerror', None) or error}).",
            mend="Check the path and its permissions.",
            slug="journal-unreadable",
            where=str(folder),
        ) from error
    return dict(sorted(found, key=lambda one: (one[0].rpartition("--")[2], one[0])))


def _read_all(paths: Sequence[Path], *, is_alone: bool) -> Iterator[_Read]:
    """In order; with many of them on every core."""
    cores = os.cpu_count() or 1
    if is_alone or len(paths) < _MANY or cores < 2:
        yield from map(_read_one, paths)
        return
    # A process that is begun anew: a fork of one with threads may stand still.
    with ProcessPoolExecutor(cores, mp_context=multiprocessing.get_context("forkserver")) as pool:
        ahead = cores * 4
        chunks = iter([paths[at : at + 16] for at in range(0, len(paths), 16)])
        waiting = [pool.submit(_read_some, chunk) for chunk in itertools.islice(chunks, ahead)]
        while waiting:
            found = waiting.pop(0).result()
            waiting += [pool.submit(_read_some, chunk) for chunk in itertools.islice(chunks, 1)]
            yield from found


def _read_some(paths: Sequence[Path]) -> list[_Read]:
    return [_read_one(path) for path in paths]


def _read_one(path: Path) -> _Read:
    found, problem, size, mtime_ns = None, "", 0, 0
    try:
        # Before it is read: a line that comes meanwhile makes it new again.
        stat = path.stat()
        size, mtime_ns = stat.st_size, stat.st_mtime_ns
        found = extract(path)
    except BenchError as error:
        # A start that came to nothing is no fault; its file may be a session's in a moment.
        problem = "" if error.slug == "journal-unbegun" else storable(str(error))
    except OSError as error:
        problem = (
            f"{storable(path.name)}: The journal cannot be read ({error.strerror}). Check it. [journal-unreadable]"
        )
    return _Read(path, size, mtime_ns, found, problem)


def _batches(found: Iterable[_Read]) -> Iterator[list[_Read]]:
    it = iter(found)
    while batch := list(itertools.islice(it, _BATCH)):
        yield batch


def _write(book: Book, batch: list[_Read], filled: Filled) -> None:
    """The batch in one transaction; again where another bench wrote the same session meanwhile."""
    for left in reversed(range(_TRIES)):
        try:
            with book.write() as connection:
                problems = _put(connection, book.bench, batch)
            break
        except (sa.exc.IntegrityError, JournalError) as error:
            if not left or not _is_rivalry(error):
                raise
    for one in batch:
        filled.problems.pop(one.name, None)
        filled.read += 1
        filled.events += one.found.session["events"] if one.found else 0
    filled.problems |= problems


def _is_rivalry(error: Exception) -> bool:
    cause = error if isinstance(error, sa.exc.IntegrityError) else error.__cause__
    state = getattr(getattr(cause, "orig", None), "sqlstate", None)
    return isinstance(error, sa.exc.IntegrityError) or state in ("40001", "40P01")


def _put(connection: sa.Connection, bench: str, batch: list[_Read]) -> dict[str, str]:
    problems = {one.name: one.problem for one in batch if one.problem}
    keys = [one.found.session["key"] for one in batch if one.found]
    columns = (SESSION.c.id, SESSION.c.key, SESSION.c.events, SESSION.c.last_hash, SESSION.c.journal)
    there = {
        row.key: (row.events, row.last_hash, row.journal, row.id)
        for row in connection.execute(sa.select(*columns).where(SESSION.c.key.in_(keys)))
    }
    new: dict[str, Found] = {}
    for one in batch:
        if one.found is None:
            continue
        now = one.found.session
        key, events, last_hash = now["key"], now["events"], now["last_hash"]
        if key in there:
            old_events, old_hash, old_journal, old_id = there[key]
            if (old_events, old_hash) == (events, last_hash):
                continue  # a copy, or nothing but the file's time has changed
            if events <= old_events or _hash_at(one.path, old_events) != old_hash:
                problems[one.name] = _claimed(one.name, events, old_journal, old_events)
                continue
            if old_id is not None:
                _delete(connection, [old_id])
        new[key] = one.found
        there[key] = (events, last_hash, one.name, None)
    insert(connection, list(new.values()))
    names = [one.name for one in batch]
    connection.execute(sa.delete(SOURCE).where(SOURCE.c.bench == bench, SOURCE.c.journal.in_(names)))
    connection.execute(
        sa.insert(SOURCE),
        [
            {"bench": bench, "journal": one.name, "size": one.size, "mtime_ns": one.mtime_ns}
            | {"problem": problems.get(one.name, "")}
            for one in batch
        ],
    )
    return problems


def insert(connection: sa.Connection, found: list[Found]) -> None:
    if not found:
        return
    rows = [{name: one.session[name] for name in _SESSION_COLUMNS} for one in found]
    connection.execute(sa.insert(SESSION), rows)
    keys = [row["key"] for row in rows]
    rows_there = connection.execute(sa.select(SESSION.c.key, SESSION.c.id).where(SESSION.c.key.in_(keys)))
    ids = {row.key: row.id for row in rows_there}
    subjects = _subjects(connection, sorted({row["subject"] for one in found for row in one.readings}))
    readings, entries = [], []
    for one in found:
        id_ = ids[one.session["key"]]
        for row in one.readings:
            row = {"session_id": id_, "subject_id": subjects[row["subject"]]} | row
            del row["subject"]
            readings.append(row)
        entries += [{"session_id": id_} | row for row in one.entries]
    for table, values in ((READING, readings), (ENTRY, entries)):
        if values:
            connection.execute(sa.insert(table), values)


def _subjects(connection: sa.Connection, wanted: list[tuple[str, str, str]]) -> dict[tuple[str, str, str], int]:
    """The id of each (sheet, reading, name); what is not there yet is put in."""
    columns = (SUBJECT.c.id, SUBJECT.c.sheet, SUBJECT.c.reading, SUBJECT.c.name)
    sheets = sorted({sheet for sheet, _, _ in wanted})

    def known() -> dict[tuple[str, str, str], int]:
        rows = connection.execute(sa.select(*columns).where(SUBJECT.c.sheet.in_(sheets)))
        return {(row.sheet, row.reading, row.name): row.id for row in rows}

    found = known()
    if lacking := [one for one in wanted if one not in found]:
        connection.execute(
            sa.insert(SUBJECT), [dict(zip(("sheet", "reading", "name"), one, strict=True)) for one in lacking]
        )
        found = known()
    return found


def _hash_at(path: Path, seq: int) -> str | None:
    """The hash of the journal's line `seq`; the file has been read and checked."""
    with suppress(OSError, ValueError, KeyError), path.open("rb") as file:
        raw = next(itertools.islice(file, seq, None), b"")
        return str(json.loads(raw)["hash"])
    return None


def _claimed(name: str, events: int, other: str, other_events: int) -> str:
    if name == other:
        return (
            f"{name}: The logbook has read {other_events} events of this session, and the journal has {events} now "
            "that do not go on from them. What the logbook has stays. Look for the whole journal in a backup; or take "
            "this one away. [logbook-claimed]"
        )
    return (
        f"{name}: It claims the same session as {other}, and does not go on from it. What the logbook has read first "
        "stays. Keep the right one of the two files, move the other away, then: bench-voice logbook --rebuild. "
        "[logbook-claimed]"
    )
