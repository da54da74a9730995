"""The journal: a session's append-only file, one JSON object a line, and the only truth.

Line 0 is the header with the sheet's whole text and hash; then one line an event. Each line carries the hash of the
line before (`prev`) and its own (`hash`, SHA-256 over the canonical JSON of the rest). A decision's events are written
at once, flushed and fsynced before anything is applied or spoken; `more` on a line says how many of its decision still
follow.

A torn end (the process ended while writing: half a line, or a decision without all of its events) was never accepted:
it is set aside and reported. Damage before it stops the resume.
"""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import json
import os
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import IO, Any

from pydantic import TypeAdapter, ValidationError

from bench_voice.core import events as ev
from bench_voice.core.apply import apply
from bench_voice.core.sheet import JobSheet
from bench_voice.core.state import State
from bench_voice.errors import JournalError

FORMAT = 1
_NO_PREVIOUS = "0" * 64
_STAMP = "%Y%m%dT%H%M%S%fZ"
# So many of a sheet's journals are read at a start, so that a long life does not delay it.
_LOOKED_AT = 20
_ADAPTERS: dict[str, TypeAdapter[Any]] = {name: TypeAdapter(cls) for name, cls in ev.EVENT_TYPES.items()}


@dataclass(frozen=True)
class Line:
    """One event with its place: `seq` counts from 1, `at_ms` is wall clock (ms since 1970 UTC)."""

    seq: int
    at_ms: int
    event: ev.Event


@dataclass(frozen=True)
class JournalFile:
    """A journal as read: whole decisions only. `torn`: bytes after the last one; `last_hash` links the next line."""

    path: Path
    header: dict[str, Any]
    lines: tuple[Line, ...]
    torn: bytes
    last_hash: str
    whole_bytes: int

    @property
    def is_ended(self) -> bool:
        return any(isinstance(line.event, ev.SignedOff | ev.JobStopped) for line in self.lines)


def _canonical(value: dict[str, Any]) -> bytes:
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def _sealed(body: dict[str, Any]) -> tuple[bytes, str]:
    digest = hashlib.sha256(_canonical(body)).hexdigest()
    return _canonical({**body, "hash": digest}) + b"\n", digest


def sheet_hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def encode(event: ev.Event) -> dict[str, Any]:
    """An event as JSON values; decimals as strings that keep their digits."""
    name = type(event).__name__
    return {"type": name, **_ADAPTERS[name].dump_python(event, mode="json", exclude_defaults=True)}


def decode(body: dict[str, Any]) -> ev.Event:
    fields = dict(body)
    name = fields.pop("type")
    event: ev.Event = _ADAPTERS[name].validate_python(fields)
    return event


def read(path: Path) -> JournalFile:
    """Reads and checks the whole file. Raises JournalError for anything but a torn end."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise JournalError(
            f"The journal cannot be read ({error.strerror}).",
            mend="Check the path and its permissions.",
            slug="journal-unreadable",
            where=str(path),
        ) from error
    header: dict[str, Any] = {}
    lines: list[Line] = []
    previous, position, more = _NO_PREVIOUS, 0, 0
    # Where the last whole decision ends: byte, number of events, hash.
    whole = (0, 0, _NO_PREVIOUS)
    while position < len(raw):
        end = raw.find(b"\n", position)
        if end < 0:
            break
        number = len(lines) + 1 if header else 0
        body = _checked(path, raw[position : end + 1], number, previous, is_last=end + 1 == len(raw))
        if body is None:
            break
        if not header:
            header = _header(path, body)
        else:
            lines.append(Line(number, body["at_ms"], _event(path, body, number)))
        if more and body.get("more", 0) != more - 1:
            raise _damaged(path, number, "the decision before it is cut short")
        previous, position, more = body["hash"], end + 1, body.get("more", 0)
        if not more:
            whole = (position, len(lines), previous)
    if not header:
        raise JournalError(
            "The journal's first line is cut off: there is not one whole line in it."
            if raw
            else "The journal is empty: nothing was written to it.",
            mend="Start a new session; keep this file if there was more in it, and look for a copy of it."
            if raw
            else "Start a new session; this file can be deleted.",
            slug="journal-empty",
            where=str(path),
        )
    position, count, previous = whole
    return JournalFile(path, header, tuple(lines[:count]), raw[position:], previous, position)


def _damaged(path: Path, number: int, why: str) -> JournalError:
    return JournalError(
        f"The journal is damaged at line {number + 1} (sequence {number}): {why}.",
        mend="Keep the file as it is, take a copy from a backup, or start a new session with --new.",
        slug="journal-damaged",
        where=str(path),
    )


def _checked(path: Path, raw: bytes, number: int, previous: str, is_last: bool) -> dict[str, Any] | None:
    """The line's body, or None where it is the torn last line. Byte for byte what was written, or damage."""
    try:
        body = json.loads(raw)
        whole = isinstance(body, dict) and {"seq", "prev", "hash", "at_ms"} <= set(body)
    except ValueError:
        whole = False
    if not whole:
        if is_last and number > 0:
            return None
        raise _damaged(path, number, "it is not a journal line")
    # The hash is over the line as it was written but for the hash itself: byte for byte, without writing it anew.
    sealed = f',"hash":"{body["hash"]}"'.encode()
    if raw.count(sealed) != 1 or hashlib.sha256(raw.replace(sealed, b"")[:-1]).hexdigest() != body["hash"]:
        raise _damaged(path, number, "its content does not match its hash")
    if body["prev"] != previous:
        raise _damaged(path, number, "it does not follow the line before")
    if body["seq"] != number:
        raise _damaged(path, number, f"it says sequence {body['seq']}")
    return dict(body)


def _header(path: Path, body: dict[str, Any]) -> dict[str, Any]:
    version = body.get("format")
    if not isinstance(version, int) or version > FORMAT:
        raise JournalError(
            f"The journal was written by a newer version (format {version}; this one knows {FORMAT}).",
            mend="Update bench-voice, then open it again.",
            slug="journal-newer",
            where=str(path),
        )
    return body


def _event(path: Path, body: dict[str, Any], number: int) -> ev.Event:
    try:
        return decode(body["event"])
    except (KeyError, ValidationError, TypeError) as error:
        raise _damaged(path, number, "its event is not known") from error


def replay(sheet: JobSheet, lines: Iterable[Line]) -> State:
    """The state after these lines: a session is the fold of its journal."""
    state = State(sheet)
    for line in lines:
        state = apply(state, line.event, line.at_ms)
    return state


class JournalWriter:
    """The only writer. Raises JournalError and takes nothing more once a write has failed."""

    def __init__(self, path: Path, file: IO[bytes], last_hash: str, seq: int) -> None:
        self.path, self._file, self._hash, self._seq = path, file, last_hash, seq
        self._is_broken = False

    @classmethod
    def create(cls, folder: Path, name: str, sheet_text: str, sheet: JobSheet, at_ms: int) -> JournalWriter:
        """A new journal `folder/name.jsonl` with its header on disk. Raises JournalError."""
        path = folder / f"{name}.jsonl"
        try:
            folder.mkdir(parents=True, exist_ok=True)
            file = path.open("xb", buffering=0)
        except OSError as error:
            raise _unwritable(path, error) from error
        writer = cls(path, file, _NO_PREVIOUS, -1)
        writer._lock()
        header = {
            "format": FORMAT,
            "sheet": sheet.id,
            "sheet_version": sheet.version,
            "machine": sheet.machine_id,
            "sheet_hash": sheet_hash(sheet_text),
            "sheet_text": sheet_text,
        }
        writer._write([header], at_ms)
        with contextlib.suppress(OSError):
            directory = os.open(folder, os.O_RDONLY)
            os.fsync(directory)
            os.close(directory)
        return writer

    def discard(self) -> None:
        """Takes away a journal that nothing was written to but its header: the session did not begin."""
        self.close()
        if self._seq == 0:
            with contextlib.suppress(OSError):
                self.path.unlink()

    @classmethod
    def reopen(cls, found: JournalFile) -> JournalWriter:
        """Goes on after the last whole line; torn bytes are kept beside the journal in `….torn`."""
        try:
            file = found.path.open("r+b", buffering=0)
        except OSError as error:
            raise _unwritable(found.path, error) from error
        writer = cls(found.path, file, found.last_hash, len(found.lines))
        writer._lock()
        try:
            if found.torn:
                with found.path.with_suffix(".torn").open("ab") as aside:
                    aside.write(found.torn + b"\n")
                file.truncate(found.whole_bytes)
            file.seek(0, os.SEEK_END)
        except OSError as error:
            raise _unwritable(found.path, error) from error
        return writer

    def _lock(self) -> None:
        holder = self.path.with_suffix(".lock")
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            self._file.close()
            who = holder.read_text().strip() if holder.exists() else ""
            raise JournalError(
                f"Another process is working on this session ({who or 'unknown'}).",
                mend="End it first, or start another session with --new.",
                slug="journal-locked",
                where=str(self.path),
            ) from error
        with contextlib.suppress(OSError):
            holder.write_text(f"process {os.getpid()}\n")

    def append(self, events: Iterable[ev.Event], at_ms: int) -> None:
        """Events of one decision: on disk when this returns. Raises JournalError; then nothing of them counts."""
        self._write([{"event": encode(event)} for event in events], at_ms)

    def _write(self, bodies: list[dict[str, Any]], at_ms: int) -> None:
        if self._is_broken:
            raise _unwritable(self.path, OSError("an earlier write failed"))
        chunks, last, seq = [], self._hash, self._seq
        for number, body in enumerate(bodies, 1):
            seq += 1
            more = {"more": len(bodies) - number} if number < len(bodies) else {}
            raw, last = _sealed({**body, **more, "seq": seq, "at_ms": at_ms, "prev": last})
            chunks.append(raw)
        start = self._file.tell()
        try:
            data = memoryview(b"".join(chunks))
            while data:
                data = data[self._file.write(data) :]
            os.fsync(self._file.fileno())
        except OSError as error:
            self._is_broken = True
            # What was not accepted must not come back at the next start.
            with contextlib.suppress(OSError):
                self._file.truncate(start)
                os.fsync(self._file.fileno())
            raise _unwritable(self.path, error) from error
        self._hash, self._seq = last, seq

    def close(self) -> None:
        self._file.close()
        with contextlib.suppress(OSError):
            self.path.with_suffix(".lock").unlink()


def _unwritable(path: Path, error: OSError) -> JournalError:
    why = error.strerror or str(error)
    return JournalError(
        f"The journal cannot be written ({why}). Nothing more is taken until it can.",
        mend="Make room or mend the permissions, then start again with the same folder: a session goes on where it "
        "was. In another folder (--journal) a new one begins; to go on there, copy this whole folder first.",
        slug="journal-unwritable",
        where=str(path),
    )


def slug(text: str) -> str:
    """As it stands in a journal's file name."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") or "x"


def new_name(folder: Path, sheet_id: str, machine: str, at_ms: int) -> str:
    """`sheet--machine--stamp` for a session that begins at `at_ms`. The stamp is later than those of the sheet's other
    journals even where the clock went back: which session is the newest is told by it.
    """
    stamp = datetime.fromtimestamp(at_ms / 1000, UTC)
    for path in folder.glob(f"{slug(sheet_id)}--*.jsonl"):
        with contextlib.suppress(ValueError, OverflowError):  # the last microsecond of the year 9999
            other = datetime.strptime(_stamp(path).removesuffix(".jsonl"), _STAMP).replace(tzinfo=UTC)
            stamp = max(stamp, other + timedelta(microseconds=1))
    return f"{slug(sheet_id)}--{slug(machine)}--{stamp.strftime(_STAMP)}"


def _stamp(path: Path) -> str:
    return path.name.rpartition("--")[2]


def newest_first(folder: Path, pattern: str) -> list[Path]:
    return sorted(folder.glob(pattern), key=_stamp, reverse=True)


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
        with path.open("rb") as file:
            first = file.readline()
    except OSError:
        first = b""
    with contextlib.suppress(JournalError):
        header = _checked(path, first, 0, _NO_PREVIOUS, is_last=False)
        return header is None or header.get("machine", machine) == machine
    told = None
    # Keys are sorted: the header's own comes before the text of the sheet.
    if match := re.search(rb'"machine":("(?:[^"\\]|\\.)*")', first):
        with contextlib.suppress(ValueError):
            told = json.loads(match[1])
    parts = path.stem.split("--")
    named = parts[1] if len(parts) == 3 else None
    return told == machine or named == slug(machine) or (told is None and named is None)
