"""What is known before a session begins: the person's own instruments and the machine's earlier readings.

Read from files here, at the edge; the session keeps what it was told in its journal and never looks again.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import platformdirs

from bench_voice.core import events as ev
from bench_voice.core.sheet import JobSheet
from bench_voice.errors import UsageError
from bench_voice.reckon import instruments


def instruments_file() -> Path:
    """Where the person's instruments stand: beside the settings."""
    return Path(platformdirs.user_config_dir("bench-voice")) / instruments.FILE_NAME


def instruments_taken(sheet: JobSheet, path: Path, now_ms: int) -> ev.InstrumentsTaken | None:
    """None without the file, and where it has nothing to say about this sheet. Raises UsageError [instruments]."""
    try:
        text = path.read_text("utf-8")
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(
            f"The instruments cannot be read: {error}.",
            mend="Mend or delete the file.",
            slug="instruments",
            where=str(path),
        ) from error
    found = instruments.parse(text, str(path))
    taken = instruments.for_sheet(found, sheet, datetime.fromtimestamp(now_ms / 1000, UTC).date())
    return taken if taken != ev.InstrumentsTaken() else None


def at_start(sheet: JobSheet, folder: Path, now_ms: int) -> tuple[ev.Event, ...]:
    """Events for the beginning of a session; `folder`: where the journals live."""
    taken = instruments_taken(sheet, instruments_file(), now_ms)
    return (taken,) if taken else ()
