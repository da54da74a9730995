"""The person's own file of pronunciations, read."""

from __future__ import annotations

from pathlib import Path

from bench_voice.own_file import read_own_file
from bench_voice.phonetics import parse_own


def read_own(path: Path | None) -> dict[str, str]:
    """The person's own file; nothing where there is none. Raises UsageError `pronunciations`."""
    if path is None:
        return {}
    found = read_own_file(path, lambda text: parse_own(text, str(path)), what="pronunciations", slug="pronunciations")
    return found or {}
