"""One process at a time works on a machine with a sheet: an advisory lock of the system, which ends with its process.

Who holds it, and since when, stands in a file beside the lock. The system's lock decides; that file only tells.
"""

from __future__ import annotations

import contextlib
import json
import os
import stat
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from bench_voice.errors import JournalError

_LONGEST_NOTE = 1000


class SessionLock:
    """Held from `take` to `release`. What a session goes on from is read while it is held."""

    def __init__(self, lock: FileLock, holder: Path) -> None:
        self._lock, self._holder = lock, holder

    @classmethod
    def take(cls, folder: Path, stem: str) -> SessionLock:
        """The lock `stem` in `folder`, which is made where it is missing. `stem`: sheet and machine, as in file names.

        Raises JournalError: "journal-locked" where another process works there, with its number and since when.
        """
        path, holder = folder / f"{stem}.lock", folder / f"{stem}.holder"
        lock = FileLock(path, mode=0o600, blocking=False)
        try:
            make_folder(folder)
            _must_be_a_file(path)
            lock.acquire()
        except Timeout as error:
            raise JournalError(
                f"Another process is working on this job and machine ({_who(holder)}).",
                mend="Go on there, or end it first: its session is kept.",
                slug="journal-locked",
                where=str(path),
            ) from error
        except (OSError, NotImplementedError) as error:
            raise unwritable(path, error) from error
        _tell(holder)
        return cls(lock, holder)

    def release(self) -> None:
        """Gives it free; a second time does nothing. The lock's own file stays: who waits for it has opened it."""
        if self._lock.is_locked:
            with contextlib.suppress(OSError):
                self._holder.unlink()
            self._lock.release()


def _must_be_a_file(path: Path) -> None:
    """Raises JournalError where a link, a pipe or a folder stands in the lock's place: nothing of it is touched."""
    with contextlib.suppress(FileNotFoundError):
        if not stat.S_ISREG(path.lstat().st_mode):
            raise JournalError(
                "What stands at the name of the lock is no lock: a link, a pipe, a device or a folder.",
                mend="Look who put it there, take it away, and start again.",
                slug="journal-lock-odd",
                where=str(path),
            )


def make_folder(folder: Path) -> None:
    """The folder of journals, for its person alone. Raises OSError. One that is there keeps its permissions."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.mkdir(mode=0o700, exist_ok=True)


def _tell(holder: Path) -> None:
    """Beside it and then renamed: nothing that stands at that name is followed, waited for or written to."""
    with contextlib.suppress(OSError):
        descriptor, name = tempfile.mkstemp(dir=holder.parent, prefix=".holder-")
        with os.fdopen(descriptor, "w", encoding="utf-8") as file:
            json.dump({"process": os.getpid(), "since_ms": time.time_ns() // 1_000_000}, file)
        os.replace(name, holder)


def _who(holder: Path) -> str:
    """ "process 4711, since 09:30 UTC on 2026-05-04"."""
    with contextlib.suppress(OSError, ValueError, TypeError, KeyError, OverflowError):
        flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOFOLLOW", 0)
        with os.fdopen(os.open(holder, flags), "rb") as file:
            if stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                told: dict[str, Any] = json.loads(file.read(_LONGEST_NOTE))
                since = datetime.fromtimestamp(told["since_ms"] / 1000, UTC)
                return f"process {int(told['process'])}, since {since:%H:%M} UTC on {since:%Y-%m-%d}"
    return "it does not tell which, nor since when"


def unwritable(path: Path, error: Exception) -> JournalError:
    why = getattr(error, "strerror", None) or str(error)
    return JournalError(
        f"The journal cannot be written ({why}). Nothing more is taken until it can.",
        mend="Make room or mend the permissions, then start again with the same folder: a session goes on where it "
        "was. In another folder (--journal) a new one begins; to go on there, copy this whole folder first.",
        slug="journal-unwritable",
        where=str(path),
    )
