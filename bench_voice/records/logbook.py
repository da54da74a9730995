"""Every session of a machine, oldest first, and the last standing value of each reading: from the store
(`bench_voice.records.book`), or from journals where there is none.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from bench_voice.core.signs import quantity
from bench_voice.errors import BenchError, JournalError
from bench_voice.records.book import content
from bench_voice.records.book.connect import Book
from bench_voice.records.book.extract import Found, extract
from bench_voice.records.lines import when
from bench_voice.records.words import difference_words
from bench_voice.session import journal as jn

_READING = ("point", "value", "unit", "verdict")
_MORE = ("stage", "in_limit_unit", "limit_unit", "at_least", "at_most", "new", "uncertainty")


def rows(folder: Path, machine: str | None) -> list[dict[str, Any]]:
    """One row a journal, read anew; one that cannot be read is a row with "error". Raises JournalError."""
    try:
        os.listdir(folder)  # one that is missing is a slip here
    except (OSError, ValueError) as error:
        raise JournalError(
            f"The folder of journals cannot be read ({getattr(error, 'strerror', None) or error}).",
            mend="Check the path and its permissions.",
            slug="journal-unreadable",
            where=str(folder),
        ) from error
    found: list[dict[str, Any]] = []
    for path in reversed(jn.newest_first(folder, "*.jsonl")):
        one = row(path)
        if one.get("slug") == "journal-unbegun":
            continue
        if "error" in one or not machine or machine in (one["machine_id"], one["machine"]):
            found.append(one)
    return found


def row(path: Path) -> dict[str, Any]:
    """One session, with the values that stand at its end; "error" and its "slug" for a journal that cannot be read."""
    try:
        return row_of(extract(path))
    except BenchError as error:
        return {"journal": path.name, "error": str(error), "slug": error.slug}


def kept_rows(book: Book, ids: list[int]) -> list[dict[str, Any]]:
    """The same of sessions in the logbook."""
    return [row_of(found) for found in content.sessions(book, ids)]


def row_of(found: Found) -> dict[str, Any]:
    """`readings`: what stands; `replaced`: as found on parts that are no longer there; `entries`: steps that were done,
    notes, decisions, what was left open, what is to be done."""
    head = found.session
    more = json.loads(head["more"])
    return (
        {"journal": head["journal"]}
        | {key: head[key] for key in ("sheet", "machine", "machine_id", "title", "status")}
        | {"started": when(head["started_ms"]), "ended": when(head["ended_ms"]), "first_line": head["first_line"]}
        | {"readings": [_reading(one) for one in found.readings if one["state"] == "stands"]}
        | {"differences": more["differences"], "wear": more["wear"]}
        | {"replaced": [_reading(one) for one in found.readings if one["state"] != "stands"]}
        | {"entries": [{key: one[key] for key in ("kind", "what", "text")} for one in found.entries]}
        | {key: head[key] for key in ("sheet_version", "marks", "who", "at", "at_unit", "events", "last_hash")}
        | {"torn_bytes": more["torn_bytes"], "clock_went_back": bool(head["clock_went_back"])}
    )


def _reading(one: dict[str, Any]) -> dict[str, Any]:
    _, reading, name = one["subject"]
    return (
        {"reading": reading} | {key: one[key] for key in _READING} | {"name": name} | {key: one[key] for key in _MORE}
    )


def as_text(found: Iterable[dict[str, Any]]) -> str:
    lines = []
    for row in found:
        if "error" in row:
            lines.append(f"{row['journal']}: {row['error']}")
            continue
        lines.append(f"{row['started']}  {row['machine_id']}  {row['title']}: {row['first_line']}")
        if row["torn_bytes"]:
            lines.append(f"    the end of {row['journal']} is cut off: what was said last is not in it")
        if row["at"]:
            lines.append(
                f"    at {quantity(row['at'], row['at_unit'])}" + (f", {row['marks']}" if row["marks"] else "")
            )
        if row["clock_went_back"]:
            lines.append("    the machine's clock went back during this session: its times cannot be trusted")
        for r in row["replaced"]:
            lines.append(
                f"    {r['reading']} {r['point'] + 1}, part replaced: {quantity(r['value'], r['unit'])}, {r['verdict']}"
            )
        last = {r["reading"]: number for number, r in enumerate(row["readings"])}
        for number, r in enumerate(row["readings"]):
            lines.append(f"    {r['reading']} {r['point'] + 1}: {quantity(r['value'], r['unit'])}, {r['verdict']}")
            lines += [
                f"    {d['reading']}, {difference_words(d)}: {d['verdict']}"
                for d in row["differences"]
                if d["reading"] == r["reading"] and last[r["reading"]] == number
            ]
        lines += [f"    wear, {one['name']} {one['point'] + 1}: {one['text']}" for one in row["wear"]]
        lines += [f"    {one['kind']}: {one['text']}" for one in row["entries"] if one["kind"] != "step"]
    return "\n".join(lines) or "No sessions."
