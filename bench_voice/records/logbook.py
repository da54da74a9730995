"""Every session of a machine, oldest first, and the last standing value of each reading."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from bench_voice.core.signs import quantity
from bench_voice.errors import BenchError, JournalError
from bench_voice.records.kept import not_begun, open_job
from bench_voice.records.summary import summary
from bench_voice.records.words import difference_words
from bench_voice.session import journal as jn

_KEYS = ("sheet", "machine", "machine_id", "title", "status", "started", "ended", "first_line")
_DIFFERENCE = ("reading", "side", "differ_by", "at_most", "unit", "margin", "verdict")


def rows(folder: Path, machine: str | None) -> list[dict[str, Any]]:
    """One row a session, oldest first; a journal that cannot be read is a row that says so. Raises JournalError for
    the folder.
    """
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
        body = summary(open_job(path))
        if not body["journal"]["events"]:
            raise not_begun(path)
    except BenchError as error:
        return {"journal": path.name, "error": str(error), "slug": error.slug}
    readings = [r for r in body["readings"] if r["state"] == "stands"]
    return (
        {"journal": path.name}
        | {key: body[key] for key in _KEYS}
        | {"readings": [{k: r[k] for k in ("reading", "point", "value", "unit", "verdict")} for r in readings]}
        | {"differences": [{k: d[k] for k in _DIFFERENCE} for d in body["differences"] if d["state"] == "stands"]}
        | {"wear": body["wear"]}
        | {"last_hash": body["journal"]["last_hash"], "torn_bytes": body["journal"]["torn_bytes"]}
    )


def as_text(found: list[dict[str, Any]]) -> str:
    lines = []
    for row in found:
        if "error" in row:
            lines.append(f"{row['journal']}: {row['error']}")
            continue
        lines.append(f"{row['started']}  {row['machine_id']}  {row['title']}: {row['first_line']}")
        if row["torn_bytes"]:
            lines.append(f"    the end of {row['journal']} is cut off: what was said last is not in it")
        last = {r["reading"]: number for number, r in enumerate(row["readings"])}
        for number, r in enumerate(row["readings"]):
            lines.append(f"    {r['reading']} {r['point'] + 1}: {quantity(r['value'], r['unit'])}, {r['verdict']}")
            lines += [
                f"    {d['reading']}, {difference_words(d)}: {d['verdict']}"
                for d in row["differences"]
                if d["reading"] == r["reading"] and last[r["reading"]] == number
            ]
        lines += [f"    wear, {one['name']} {one['point'] + 1}: {one['text']}" for one in row["wear"]]
    return "\n".join(lines) or "No sessions."
