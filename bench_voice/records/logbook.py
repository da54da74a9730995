"""Every session of a machine, oldest first, and the last standing value of each reading."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from bench_voice.errors import BenchError
from bench_voice.records.summary import open_job, summary


def rows(folder: Path, machine: str | None) -> list[dict[str, Any]]:
    """One row a session; a journal that cannot be read is a row that says so."""
    found: list[dict[str, Any]] = []
    for path in sorted(folder.glob("*.jsonl"), key=lambda one: one.name.rpartition("--")[2]):
        try:
            body = summary(open_job(path))
        except BenchError as error:
            found.append({"journal": path.name, "error": str(error)})
            continue
        if machine and machine not in (body["machine_id"], body["machine"]):
            continue
        readings = [r for r in body["readings"] if r["state"] == "stands"]
        found.append(
            {"journal": path.name}
            | {key: body[key] for key in ("machine_id", "title", "status", "started", "ended", "first_line")}
            | {"readings": [{k: r[k] for k in ("reading", "point", "value", "unit", "verdict")} for r in readings]}
        )
    return found


def as_text(found: list[dict[str, Any]]) -> str:
    lines = []
    for row in found:
        if "error" in row:
            lines.append(f"{row['journal']}: {row['error']}")
            continue
        lines.append(f"{row['started']}  {row['machine_id']}  {row['title']}: {row['first_line']}")
        lines += [
            f"    {r['reading']} {r['point'] + 1}: {r['value']} {r['unit']}, {r['verdict']}" for r in row["readings"]
        ]
    return "\n".join(lines) or "No sessions."
