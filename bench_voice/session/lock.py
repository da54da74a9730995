"""One writer a file, by what the system has for it: flock (Linux, macOS) or a locked region (Windows, untested)."""

from __future__ import annotations

import importlib
from typing import IO, Any

# Windows keeps others from reading what is locked: a byte that no journal reaches.
_FAR_BYTE = 1 << 40


def lock(file: IO[bytes]) -> None:
    """Held until the file is closed or the process ends. Raises OSError where another process holds it.

    On a system that has neither, nothing is held."""
    if (posix := _module("fcntl")) is not None:
        posix.flock(file, posix.LOCK_EX | posix.LOCK_NB)
    elif (windows := _module("msvcrt")) is not None:
        here = file.tell()
        file.seek(_FAR_BYTE)
        try:
            windows.locking(file.fileno(), windows.LK_NBLCK, 1)
        finally:
            file.seek(here)


def _module(name: str) -> Any:
    try:
        return importlib.import_module(name)
    except ImportError:
        return None
