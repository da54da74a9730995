"""What stands in a logbook, without what differs from one store to the next: to compare two, and to carry one away."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa

from bench_voice.records.book.connect import Book
from bench_voice.records.book.extract import Found
from bench_voice.records.book.schema import ENTRY, READING, SESSION, SUBJECT

_CHUNK = 200


def sessions(book: Book, ids: list[int] | None = None) -> Iterator[Found]:
    """Every session with its rows, by the time it was begun; `ids`: only these."""
    with book.read() as connection:
        order = (SESSION.c.stamp, SESSION.c.key)
        wanted = ids
        if wanted is None:
            wanted = list(connection.execute(sa.select(SESSION.c.id).order_by(*order)).scalars())
        for at in range(0, len(wanted), _CHUNK):
            yield from _some(connection, wanted[at : at + _CHUNK])


def _some(connection: sa.Connection, ids: list[int]) -> Iterator[Found]:
    heads = {row["id"]: row for row in connection.execute(sa.select(SESSION).where(SESSION.c.id.in_(ids))).mappings()}
    readings: dict[int, list[dict[str, Any]]] = {id_: [] for id_ in ids}
    joined = sa.select(READING, SUBJECT.c.sheet, SUBJECT.c.reading, SUBJECT.c.name).join(SUBJECT)
    for row in connection.execute(joined.where(READING.c.session_id.in_(ids)).order_by(READING.c.seq)).mappings():
        values = dict(row)
        values["subject"] = tuple(values.pop(name) for name in ("sheet", "reading", "name"))
        del values["subject_id"]
        readings[values.pop("session_id")].append(values)
    entries: dict[int, list[dict[str, Any]]] = {id_: [] for id_ in ids}
    for row in connection.execute(
        sa.select(ENTRY).where(ENTRY.c.session_id.in_(ids)).order_by(ENTRY.c.number)
    ).mappings():
        values = dict(row)
        entries[values.pop("session_id")].append(values)
    for id_ in ids:
        head = {name: value for name, value in heads[id_].items() if name != "id"}
        yield Found(head, tuple(readings[id_]), tuple(entries[id_]))


def as_json(found: Found) -> str:
    """One line, keys sorted: the same session is the same text on every store."""
    body = {"session": found.session, "readings": found.readings, "entries": found.entries}
    return json.dumps(body, ensure_ascii=False, sort_keys=True)


def from_json(line: str) -> Found:
    """Raises ValueError, KeyError or TypeError for what `as_json` did not write."""
    body = json.loads(line)
    readings = tuple({**row, "subject": tuple(row["subject"])} for row in body["readings"])
    return Found(dict(body["session"]), readings, tuple(body["entries"]))


def digest(book: Book) -> str:
    """SHA-256 over every session."""
    found = hashlib.sha256()
    for one in sessions(book):
        found.update(as_json(one).encode() + b"\n")
    return found.hexdigest()
