"""What a person asks a logbook: the machines, one machine's sessions, where something stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

import sqlalchemy as sa

from bench_voice.records.book.connect import Book
from bench_voice.records.book.schema import ENTRY, READING, SESSION, SUBJECT

NEWEST = 200  # sessions of a machine that are shown and plotted; `since` and `until` reach the others
MOST_HITS = 200
_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Span:
    """Days, both included, in the reader's own time zone; None: open."""

    since: date | None = None
    until: date | None = None

    def where(self) -> list[Any]:
        found = []
        if self.since is not None:
            found.append(SESSION.c.started_ms >= _midnight_ms(self.since))
        if self.until is not None:
            found.append(SESSION.c.started_ms < _midnight_ms(self.until + _DAY))
        return found


def _midnight_ms(day: date) -> int:
    return int(datetime(day.year, day.month, day.day).astimezone().timestamp() * 1000)


@dataclass(frozen=True)
class Machine:
    """One machine of the logbook. `names`, `marks`: all that its sessions gave, the newest first."""

    id: str
    names: tuple[str, ...]
    marks: tuple[str, ...]
    sessions: int
    first_ms: int
    last_ms: int


@dataclass(frozen=True)
class Hit:
    """Where what was looked for stands. `kind`: "machine", "reading" or an entry's."""

    journal: str
    machine_id: str
    title: str
    started_ms: int
    kind: str
    text: str


def machines(book: Book, words: str = "") -> list[Machine]:
    """Those whose id, name or mark holds `words`; one that is called exactly so goes before all others."""
    columns = (SESSION.c.machine_id, SESSION.c.machine, SESSION.c.marks)
    query = sa.select(
        *columns,
        sa.func.count().label("n"),
        sa.func.min(SESSION.c.started_ms).label("first_ms"),
        sa.func.max(SESSION.c.started_ms).label("last_ms"),
        sa.func.max(SESSION.c.stamp).label("stamp"),
    ).group_by(*columns)
    if words:
        query = query.where(sa.or_(*(_holds(column, words) for column in columns)))
    with book.read() as connection:
        rows = connection.execute(query.order_by(sa.desc("stamp"))).all()
    found: dict[str, list[Any]] = {}
    for row in rows:
        found.setdefault(row.machine_id, []).append(row)
    all_ = [
        Machine(
            id_,
            tuple(dict.fromkeys(row.machine for row in of)),
            tuple(dict.fromkeys(row.marks for row in of if row.marks)),
            sum(row.n for row in of),
            min(row.first_ms for row in of),
            max(row.last_ms for row in of),
        )
        for id_, of in found.items()
    ]
    exact = [one for one in all_ if words and words in (one.id, *one.names)]
    return exact or all_


def session_ids(book: Book, machine: str | None, span: Span = Span(), newest: int = NEWEST) -> tuple[list[int], int]:
    """Ids of the newest sessions there, the oldest of them first, and how many there are in all."""
    where = span.where()
    if machine is not None:
        where.append(SESSION.c.machine_id == machine)
    with book.read() as connection:
        total = connection.execute(sa.select(sa.func.count()).select_from(SESSION).where(*where)).scalar_one()
        order = (SESSION.c.stamp.desc(), SESSION.c.key)
        ids = connection.execute(sa.select(SESSION.c.id).where(*where).order_by(*order).limit(newest)).scalars().all()
    return list(reversed(ids)), total


def search(
    book: Book, words: str, *, machine: str | None = None, reading: str = "", span: Span = Span(), most: int = MOST_HITS
) -> tuple[list[Hit], bool]:
    """Where `words` stand (in the name of a machine, reading or job, in a note, a step, a reason), the newest first;
    whether there is more. `reading`: instead, the values of readings with that in their name.
    """
    where = span.where()
    if machine is not None:
        where.append(SESSION.c.machine_id == machine)
    found: list[Hit] = []
    with book.read() as connection:
        if not reading:
            found += _of_machines(connection, words, where, most + 1)
            found += _of_entries(connection, words, where, most + 1)
        found += _of_readings(connection, reading or words, where, most + 1)
    found.sort(key=lambda hit: (-hit.started_ms, hit.journal))
    return found[:most], len(found) > most


_HEAD = (SESSION.c.journal, SESSION.c.machine_id, SESSION.c.title, SESSION.c.started_ms)


def _newest(query: sa.Select[Any], where: list[Any], most: int) -> sa.Select[Any]:
    return query.where(*where).order_by(SESSION.c.started_ms.desc(), SESSION.c.journal).limit(most)


def _of_machines(connection: sa.Connection, words: str, where: list[Any], most: int) -> list[Hit]:
    columns = (SESSION.c.machine_id, SESSION.c.machine, SESSION.c.marks, SESSION.c.title, SESSION.c.who)
    named = sa.or_(*(_holds(column, words) for column in columns))
    query = _newest(sa.select(*_HEAD, SESSION.c.machine, SESSION.c.first_line).where(named), where, most)
    return [
        Hit(r.journal, r.machine_id, r.title, r.started_ms, "machine", f"{r.machine}: {r.first_line}")
        for r in connection.execute(query)
    ]


def _of_entries(connection: sa.Connection, words: str, where: list[Any], most: int) -> list[Hit]:
    query = sa.select(*_HEAD, ENTRY.c.kind, ENTRY.c.text).join(ENTRY, ENTRY.c.session_id == SESSION.c.id)
    rows = connection.execute(_newest(query.where(_holds(ENTRY.c.text, words)), where, most))
    return [Hit(r.journal, r.machine_id, r.title, r.started_ms, r.kind, r.text) for r in rows]


def _of_readings(connection: sa.Connection, words: str, where: list[Any], most: int) -> list[Hit]:
    # Names first, of which there are few; then their values by the index.
    named = sa.select(SUBJECT.c.id).where(sa.or_(_holds(SUBJECT.c.name, words), _holds(SUBJECT.c.reading, words)))
    ids = connection.execute(named).scalars().all()
    if not ids:
        return []
    # The sessions first, too: the newest of them fill the answer, and no others are sorted.
    has_one = sa.exists().where(READING.c.session_id == SESSION.c.id, READING.c.subject_id.in_(ids))
    sessions = connection.execute(_newest(sa.select(SESSION.c.id).where(has_one), where, most)).scalars().all()
    query = (
        sa.select(*_HEAD, SUBJECT.c.name, READING.c.point, READING.c.value, READING.c.unit)
        .add_columns(READING.c.verdict, READING.c.stage, READING.c.state)
        .join(READING, READING.c.session_id == SESSION.c.id)
        .join(SUBJECT, SUBJECT.c.id == READING.c.subject_id)
        .where(READING.c.session_id.in_(sessions), READING.c.subject_id.in_(ids))
        .order_by(SESSION.c.started_ms.desc(), SESSION.c.journal, READING.c.seq)
        .limit(most)
    )
    from bench_voice.core.signs import quantity

    return [
        Hit(
            r.journal,
            r.machine_id,
            r.title,
            r.started_ms,
            "reading",
            f"{r.name} {r.point + 1}: {quantity(r.value, r.unit)}, {r.verdict}"
            + (f" ({r.stage}, {r.state})" if r.state != "stands" else ""),
        )
        for r in connection.execute(query)
    ]


def _holds(column: sa.ColumnElement[str], words: str) -> sa.ColumnElement[bool]:
    """Whether the text holds each of the words, capitals or not."""
    escaped = (word.replace("\\", r"\\").replace("%", r"\%").replace("_", r"\_") for word in words.split())
    return sa.and_(*(column.ilike(f"%{word}%", escape="\\") for word in escaped))


def local(at_ms: int) -> datetime:
    """In the reader's own time zone."""
    return datetime.fromtimestamp(at_ms / 1000, UTC).astimezone()
