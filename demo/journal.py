"""Reads a journal for the comparison: each event as a flat dictionary, numbers as the text that stands in the file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any


def newest(folder: Path) -> Path | None:
    """The journal written to last, or None where there is none yet."""
    found = sorted(folder.rglob("*.jsonl"), key=lambda path: path.stat().st_mtime_ns)
    return found[-1] if found else None


def events_of(path: Path | None) -> list[dict[str, Any]]:
    """Every event after the header, in order. Fields that have their usual value are not in the file, nor here."""
    if path is None:
        return []
    lines = (json.loads(line) for line in path.read_text(encoding="utf-8").splitlines())
    return [{**line["event"], "event": line["event"]["type"]} for line in lines if "event" in line]
