"""Temporary files that no end of the process leaves behind, kill -9 among them.

A file is held in memory where the system can. A folder cannot be: it is locked for as long as its process lives, and
the next start removes those that nobody holds.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

_PREFIX = "bench_voice_"


@contextlib.contextmanager
def folder() -> Iterator[Path]:
    """A folder of this process; what killed processes left is removed first."""
    sweep()
    made = Path(tempfile.mkdtemp(prefix=_PREFIX))
    lock = _locked(made)
    try:
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)
        if lock is not None:
            os.close(lock)


@contextlib.contextmanager
def file(suffix: str) -> Iterator[Path]:
    """An empty file to be written to and read by its name, by this process."""
    if hasattr(os, "memfd_create"):
        handle = os.memfd_create(f"bench_voice{suffix}")
        try:
            yield Path(f"/proc/self/fd/{handle}")
        finally:
            os.close(handle)
        return
    handle, name = tempfile.mkstemp(suffix, _PREFIX)
    os.close(handle)
    try:
        yield Path(name)
    finally:
        with contextlib.suppress(OSError):
            Path(name).unlink()


def sweep() -> None:
    """Removes this person's folders that no living process holds."""
    if sys.platform == "win32":
        return  # no lock on a folder there
    with contextlib.suppress(OSError):
        for left in Path(tempfile.gettempdir()).glob(f"{_PREFIX}*"):
            with contextlib.suppress(OSError):
                if left.is_symlink() or not left.is_dir() or left.stat().st_uid != os.getuid():
                    continue
                lock = _locked(left)
                if lock is not None:
                    shutil.rmtree(left, ignore_errors=True)
                    os.close(lock)


def _locked(path: Path) -> int | None:
    """The lock's handle; None where another holds it, and where there are none. It goes with the process."""
    if sys.platform == "win32":
        return None
    import fcntl  # not every system has it

    handle = os.open(path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        return None
    return handle
