"""Writing a journal: the events of one decision at once, on disk before anything is applied or spoken."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable
from importlib import metadata
from pathlib import Path
from typing import IO, Any

from bench_voice.core import events as ev
from bench_voice.core.sheet import JobSheet
from bench_voice.errors import JournalError
from bench_voice.session.journal.folder import session_stem
from bench_voice.session.journal.lines import FORMAT, NO_PREVIOUS, encode, sealed, sheet_hash
from bench_voice.session.journal.lock import SessionLock, make_folder, unwritable
from bench_voice.session.journal.reading import JournalFile

_FLAGS = os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)


class JournalWriter:
    """The only writer. Raises JournalError and takes nothing more once a write has failed."""

    def __init__(self, path: Path, file: IO[bytes] | None, last_hash: str, seq: int, lock: SessionLock) -> None:
        self.path, self._file, self.last_hash, self._seq, self._lock = path, file, last_hash, seq, lock
        self._header: dict[str, Any] | None = None
        self._is_broken = False

    @property
    def n_events(self) -> int:
        return max(self._seq, 0)

    @classmethod
    def create(
        cls, folder: Path, name: str, sheet_text: str, sheet: JobSheet, lock: SessionLock | None = None
    ) -> JournalWriter:
        """A new journal `folder/name.jsonl`, which is written with its first decision. Raises JournalError.

        `lock`: of its sheet and machine, taken before anything was read; given free by `close`. Without one it is
        taken here.
        """
        path = folder / f"{name}.jsonl"
        try:
            make_folder(folder)
            if os.path.lexists(path):
                raise FileExistsError(None, "File exists")
        except OSError as error:
            raise unwritable(path, error) from error
        lock = lock or SessionLock.take(folder, session_stem(sheet.id, sheet.machine_id))
        writer = cls(path, None, NO_PREVIOUS, -1, lock)
        writer._header = {
            "format": FORMAT,
            "program": _program(),
            "sheet": sheet.id,
            "sheet_version": sheet.version,
            "machine": sheet.machine_id,
            "sheet_hash": sheet_hash(sheet_text),
            "sheet_text": sheet_text,
        }
        return writer

    @classmethod
    def reopen(cls, found: JournalFile, lock: SessionLock | None = None) -> JournalWriter:
        """Goes on after the last whole decision; torn bytes are kept beside the journal in `….torn`. Raises
        JournalError, also where another process has written to it since it was read (which `lock` rules out: see
        `create`).
        """
        stem = session_stem(found.header["sheet"], found.header["machine"])
        own = lock or SessionLock.take(found.path.parent, stem)
        try:
            file = found.path.open("r+b", buffering=0)
            writer = cls(found.path, file, found.last_hash, len(found.lines), own)
            if os.fstat(file.fileno()).st_size != found.whole_bytes + len(found.torn):
                file.close()
                raise JournalError(
                    "Another process has written to this session since it was read.",
                    mend="Start again: it goes on after that.",
                    slug="journal-locked",
                    where=str(found.path),
                )
            if found.torn:
                with os.fdopen(os.open(found.path.with_suffix(".torn"), _FLAGS, 0o600), "ab") as aside:
                    aside.write(found.torn + b"\n")
                file.truncate(found.whole_bytes)
            file.seek(0, os.SEEK_END)
        except OSError as error:
            own.release()
            raise unwritable(found.path, error) from error
        except JournalError:
            own.release()
            raise
        return writer

    def append(self, events: Iterable[ev.Event], at_ms: int) -> None:
        """Events of one decision: on disk when this returns. Raises JournalError; then nothing of them counts."""
        bodies: list[dict[str, Any]] = [{"event": encode(event)} for event in events]
        if not bodies:
            return
        if self._is_broken:
            raise unwritable(self.path, OSError("an earlier write failed"))
        chunks, last, seq = [], self.last_hash, self._seq
        if self._header is not None:
            raw, last = sealed({**self._header, "seq": 0, "at_ms": at_ms, "prev": last})
            chunks.append(raw)
            seq = 0
        for left, body in zip(range(len(bodies) - 1, -1, -1), bodies, strict=True):
            seq += 1
            raw, last = sealed({**body, **({"more": left} if left else {}), "seq": seq, "at_ms": at_ms, "prev": last})
            chunks.append(raw)
        self._write(b"".join(chunks))
        self.last_hash, self._seq, self._header = last, seq, None

    def _write(self, chunk: bytes) -> None:
        start = 0
        try:
            if self._file is None:
                self._file = _new_file(self.path)
            start = self._file.tell()
            data = memoryview(chunk)
            while data:
                data = data[self._file.write(data) :]
            os.fsync(self._file.fileno())
        except OSError as error:
            self._is_broken = True
            # What was not accepted must not come back at the next start.
            if self._file is not None:
                with contextlib.suppress(OSError):
                    self._file.truncate(start)
                    os.fsync(self._file.fileno())
                if start == 0:
                    with contextlib.suppress(OSError):
                        self.path.unlink()
            raise unwritable(self.path, error) from error
        if start == 0:
            _sync_folder(self.path.parent)

    def close(self) -> None:
        if self._file is not None:
            self._file.close()
        self._lock.release()


def _new_file(path: Path) -> IO[bytes]:
    """For its person alone, and never in place of anything. Raises OSError."""
    flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    return os.fdopen(os.open(path, flags, 0o600), "r+b", buffering=0)


def _sync_folder(folder: Path) -> None:
    """So that the new file's name outlives a power cut as well."""
    with contextlib.suppress(OSError):
        directory = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(directory)
        finally:
            os.close(directory)


def _program() -> str:
    """The version that writes, told where another one cannot read it."""
    with contextlib.suppress(metadata.PackageNotFoundError):
        return metadata.version("bench-voice")
    return ""
