"""A file that a command writes is never one that it reads, and never a journal: a slip in a name loses nothing."""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from bench_voice.errors import EngineError
from bench_voice.plain_file import open_plain
from bench_voice.words.visible import ESCAPED

# A journal's first line holds its whole sheet: at most 1 MB of text, each character of it up to six bytes in JSON.
_LONGEST_HEADER = 8_000_000


def why_not(out: Path, inputs: Iterable[Path]) -> str:
    """What writing to `out` would destroy, as a sentence; "" where it may be written. `inputs`: what is read."""
    try:
        mode = out.stat().st_mode
    except (OSError, ValueError):
        return ""  # nothing is there, or opening it says why not
    if stat.S_ISFIFO(mode) and not _is_read(out):
        return "This is a pipe that nobody reads; writing would wait for ever."
    if not stat.S_ISREG(mode):
        return ""
    for one in inputs:
        with suppress(OSError, ValueError):
            # By any name: a link and another spelling are the same file.
            if out.samefile(one):
                return "This file is read here; writing would destroy it."
    return "This file is a journal; writing would destroy it." if _is_journal(out) else ""


def write(out: Path, text: str, what: str, inputs: Iterable[Path], newline: str | None = None) -> str:
    """Writes `text` there, in UTF-8. Why it was not written, as a sentence; "" where it was. `what`: "The page"."""
    if why := why_not(out, inputs):
        return why
    try:
        out.write_text(text, "utf-8", ESCAPED, newline)
    except OSError as error:
        return f"{what} cannot be written ({error.strerror})."
    except ValueError:
        return f"{what} cannot be written (the name holds a character that no file name has)."
    return ""


def _is_read(pipe: Path) -> bool:
    try:
        os.close(os.open(pipe, os.O_WRONLY | os.O_NONBLOCK))
    except OSError:
        return False
    return True


def check_say_to(say_to: str | None, inputs: Iterable[Path]) -> None:
    """Raises EngineError where --say-to names what is read, or a journal."""
    if say_to and (why := why_not(Path(say_to), inputs)):
        raise EngineError(why, mend="Choose another --say-to.", slug="say-to-unwritable", where=say_to)


def _is_journal(path: Path) -> bool:
    """By its first line: a damaged or newer journal is one too."""
    try:
        with open_plain(path) as file:
            header = json.loads(file.readline(_LONGEST_HEADER))
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(header, dict) and {"format", "sheet_text", "seq", "hash"} <= set(header)
