"""A file that the person writes by hand: settings, instruments, pronunciations. Read alike, and complained of alike."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from bench_voice.errors import UsageError

Parsed = TypeVar("Parsed")


def read_own_file(path: Path, parse: Callable[[str], Parsed], *, what: str, slug: str) -> Parsed | None:
    """What `parse` makes of its text, UTF-8 with or without a byte order mark; None where there is no such file.

    Raises UsageError `slug` for what cannot be read and where `parse` raises ValueError; what else `parse` raises goes
    through. `what`: how the file is named ("settings").
    """
    try:
        return parse(path.read_text("utf-8-sig"))
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError) as error:
        raise UsageError(
            f"The {what} cannot be read: {error}.", mend="Mend or delete the file.", slug=slug, where=str(path)
        ) from error
