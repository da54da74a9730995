"""The folder of journals: their names, which is the newest, which comes back."""

from __future__ import annotations

import contextlib
import json
import os
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from fnmatch import fnmatchcase
from pathlib import Path

from bench_voice.errors import JournalError
from bench_voice.session.journal.lines import NO_PREVIOUS
from bench_voice.session.journal.reading import JournalFile, checked, open_regular, read

_STAMP = "%Y%m%dT%H%M%S%fZ"
# So many of a sheet's journals are read at a start, so that a long life does not delay it.
_LOOKED_AT = 20
_LONGEST_HEADER = 8_000_000


def slug(text: str) -> str:
    """As it stands in a journal's file name."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") or "x"


def session_stem(sheet_id: str, machine: str) -> str:
    """Sheet and machine as they begin the names of a session's files."""
    return f"{slug(sheet_id)}--{slug(machine)}"


def session_files(folder: Path, pattern: str = "*.jsonl") -> list[Path]:
    """The journals there whose names fit; none where there is no folder yet. Raises JournalError where the folder
    cannot be listed: an open session may stand in it.
    """
    try:
        names = os.listdir(folder)
    except FileNotFoundError:
        return []
    except (OSError, ValueError) as error:
        raise JournalError(
            f"The folder of journals cannot be listed ({getattr(error, 'strerror', None) or error}): whether a session "
            "is open there is not known.",
            mend="Give its person read permission (chmod u+r), or name another folder with --journal.",
            slug="journal-unreadable",
            where=str(folder),
        ) from error
    return [folder / name for name in names if fnmatchcase(name, pattern)]


def new_name(folder: Path, sheet_id: str, machine: str, at_ms: int) -> str:
    """`sheet--machine--stamp` for a session that begins at `at_ms`. The stamp is later than those of the sheet's other
    journals even where the clock went back: which session is the newest is told by it.
    """
    stamp = datetime.fromtimestamp(at_ms / 1000, UTC)
    for path in session_files(folder, f"{slug(sheet_id)}--*.jsonl"):
        with contextlib.suppress(ValueError, OverflowError):
            other = datetime.strptime(_stamp(path).removesuffix(".jsonl"), _STAMP).replace(tzinfo=UTC)
            stamp = max(stamp, other + timedelta(microseconds=1))
    return f"{session_stem(sheet_id, machine)}--{stamp.strftime(_STAMP)}"


def _stamp(path: Path) -> str:
    return path.name.rpartition("--")[2]


def newest_first(folder: Path, pattern: str) -> list[Path]:
    return sorted(session_files(folder, pattern), key=_stamp, reverse=True)


def find_open(
    folder: Path, sheet_id: str, machine: str, on_passed_over: Callable[[JournalError], None] = lambda error: None
) -> JournalFile | None:
    """The newest session of this sheet and machine, unless it has ended: one before it never comes back.

    Raises JournalError where that one is damaged, or may be. A damaged one of another machine, or an older one, is told
    to `on_passed_over`.
    """
    newest: JournalFile | None = None
    for count, path in enumerate(newest_first(folder, f"{slug(sheet_id)}--*.jsonl")):
        if newest is not None and count >= _LOOKED_AT:
            break
        try:
            found = read(path)
        except JournalError as error:
            if error.slug == "journal-empty":
                continue
            if newest is None and _may_be_of(path, machine):
                raise
            on_passed_over(error)
            continue
        # One without an event is of a start that came to nothing: it hides no session that was begun.
        if newest is None and found.lines and found.header.get("machine") == machine:
            newest = found
    return None if newest is None or newest.is_ended else newest


def _may_be_of(path: Path, machine: str) -> bool:
    """Whether a journal that cannot be read may be of `machine`.

    A whole first line tells. Where it is damaged too, what can still be read of it and the file's name must both tell
    of another machine, as far as they tell anything.
    """
    try:
        with open_regular(path) as file:
            first = file.readline(_LONGEST_HEADER)
    except (JournalError, OSError):
        first = b""
    with contextlib.suppress(JournalError):
        named_there = checked(path, first, 0, NO_PREVIOUS).get("machine", machine)
        return bool(named_there == machine)
    told = None
    # Keys are sorted: the header's own comes before the text of the sheet.
    if match := re.search(rb'"machine":("(?:[^"\\]|\\.)*")', first):
        with contextlib.suppress(ValueError):
            told = json.loads(match[1])
    parts = path.stem.split("--")
    named = parts[1] if len(parts) == 3 else None
    return told == machine or named == slug(machine) or (told is None and named is None)
