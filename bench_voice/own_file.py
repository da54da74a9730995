"""A file that the person writes by hand: settings, instruments, pronunciations. Read alike, and complained of alike."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from bench_voice.errors import UsageError
from bench_voice.plain_file import open_plain

Parsed = TypeVar("Parsed")
_MOST_BYTES = 1_000_000


def read_own_file(path: Path, parse: Callable[[str], Parsed], *, what: str, slug: str) -> Parsed | None:
    """What `parse` makes of its text, UTF-8 with or without a byte order mark; None where there is no such file.

    Raises UsageError `slug` for what cannot be read and where `parse` raises ValueError; what else `parse` raises goes
    through. `what`: how the file is named ("settings").
    """
    try:
        with open_plain(path) as file:
            content = file.read(_MOST_BYTES + 1)
        if len(content) > _MOST_BYTES:
            raise ValueError("it is larger than 1 MB")
        return parse(content.decode("utf-8-sig"))
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError, RecursionError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        if isinstance(error, RecursionError):
            why = "it is nested too deep"
        raise UsageError(
            f"The {what} cannot be read: {why}.", mend="Mend or delete the file.", slug=slug, where=str(path)
        ) from error
