"""Reading a journal: line by line, each held against its hash and the line before."""

from __future__ import annotations

import hashlib
import json
import os
import re
import stat
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from pydantic import ValidationError

from bench_voice.core import events as ev
from bench_voice.core.apply import apply
from bench_voice.core.sheet import JobSheet
from bench_voice.core.state import State
from bench_voice.errors import JournalError
from bench_voice.session.journal.fits import Fit
from bench_voice.session.journal.lines import EARLIEST_MS, FORMAT, LATEST_MS, NO_PREVIOUS, Line, decode, sheet_hash

# A header holds a sheet of at most 1 MB, each character of it up to six bytes in JSON; no event comes near it.
_LONGEST_LINE = 8_000_000
_HASH = re.compile(r"[0-9a-f]{64}")
_TEXTS = ("sheet", "machine", "sheet_hash", "sheet_text")


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
    def n_events(self) -> int:
        return len(self.lines)

    @property
    def last_ms(self) -> int:
        return self.lines[-1].at_ms if self.lines else 0

    @property
    def is_ended(self) -> bool:
        return any(isinstance(line.event, ev.SignedOff | ev.JobStopped) for line in self.lines)


class Scan:
    """A journal that is read while it is gone through, so that a long one takes no more memory than a short one.

    `header` is there at once. Iterating yields the lines of whole decisions, checked; it can be done again and then
    reads anew. After an iteration `n_events`, `last_ms` (of the last event), `last_hash`, `whole_bytes` and `torn` say
    what was found. `kept`: the beginning of a hash to look for; `kept_at` is the event that has it. Raises JournalError
    for anything but a torn end.
    """

    def __init__(self, path: Path, kept: str = "") -> None:
        self.path, self._kept = path, kept
        self.kept_at: int | None = None
        self.n_events, self.last_ms, self.last_hash, self.whole_bytes, self.torn = 0, 0, NO_PREVIOUS, 0, b""
        with open_regular(path) as file:
            self.header = self._header(file)

    def _header(self, file: IO[bytes]) -> dict[str, Any]:
        raw = _line_of(file, self.path, 0)
        if not raw.endswith(b"\n"):
            raise _empty(self.path, raw)
        body = checked(self.path, raw, 0, NO_PREVIOUS)
        self.last_hash, self.whole_bytes = body["hash"], len(raw)
        return _header(self.path, body)

    def __iter__(self) -> Iterator[Line]:
        self.n_events, self.torn = 0, b""
        with open_regular(self.path) as file:
            self._header(file)
            previous, position, more = self.last_hash, self.whole_bytes, 0
            decision: list[Line] = []  # what of a decision has been read, while the rest of it is to come
            number = 0
            while (raw := _line_of(file, self.path, number + 1)).endswith(b"\n"):
                number += 1
                body = checked(self.path, raw, number, previous)
                if more and body.get("more", 0) != more - 1:
                    raise damaged(self.path, number, "the decision before it is cut short")
                if self._kept and body["hash"].startswith(self._kept):
                    self.kept_at = number
                decision.append(Line(number, body["at_ms"], _event(self.path, body, number)))
                previous, position, more = body["hash"], position + len(raw), body.get("more", 0)
                if not more:
                    self.n_events, self.last_ms = number, decision[-1].at_ms
                    self.last_hash, self.whole_bytes = previous, position
                    yield from decision
                    decision = []
            _must_be_torn(self.path, raw, number + 1)
            if raw or decision:
                file.seek(self.whole_bytes)
                self.torn = file.read()


def read(path: Path) -> JournalFile:
    """Reads and checks the whole file. Raises JournalError for anything but a torn end."""
    scan = Scan(path)
    lines = tuple(scan)
    return JournalFile(path, scan.header, lines, scan.torn, scan.last_hash, scan.whole_bytes)


def open_regular(path: Path) -> IO[bytes]:
    """The file to read. Raises JournalError; a pipe or a device is not waited for."""
    why = "It is a pipe, a device or a folder"
    try:
        file = os.fdopen(os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)), "rb")
        if stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            return file
        file.close()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
    raise JournalError(
        f"The journal cannot be read ({why}).",
        mend="Check the path and its permissions.",
        slug="journal-unreadable",
        where=str(path),
    )


def _line_of(file: IO[bytes], path: Path, number: int) -> bytes:
    try:
        raw = file.readline(_LONGEST_LINE + 1)
    except OSError as error:
        raise JournalError(
            f"The journal cannot be read ({error.strerror}).",
            mend="Check the path and its permissions.",
            slug="journal-unreadable",
            where=str(path),
        ) from error
    if len(raw) > _LONGEST_LINE:
        raise damaged(path, number, "it is longer than any line of a journal")
    return raw


def _empty(path: Path, raw: bytes) -> JournalError:
    return JournalError(
        "The journal's first line is cut off: there is not one whole line in it."
        if raw
        else "The journal is empty: nothing was written to it.",
        mend="Start a new session; keep this file if there was more in it, and look for a copy of it."
        if raw
        else "Start a new session; this file can be deleted.",
        slug="journal-empty",
        where=str(path),
    )


def damaged(path: Path, number: int, why: str) -> JournalError:
    return JournalError(
        f"The journal is damaged at line {number + 1} (sequence {number}): {why}.",
        mend="Keep the file as it is, take a copy from a backup, or start a new session with --new.",
        slug="journal-damaged",
        where=str(path),
    )


def foreign(path: Path, number: int, why: str) -> JournalError:
    """The chain is whole, and what stands in it is nothing that this version writes."""
    return JournalError(
        f"The journal is foreign at line {number + 1} (sequence {number}): {why}.",
        mend="Another version of bench-voice wrote it, or another program: open it with that one, or start a new "
        "session with --new.",
        slug="journal-foreign",
        where=str(path),
    )


def checked(path: Path, raw: bytes, number: int, previous: str) -> dict[str, Any]:
    """The body of a line that ends in a newline: byte for byte what was written. Raises JournalError.

    Such a line was written whole, the last one too: what is wrong with it is damage, and no torn end.
    """
    try:
        # Strictly: json itself would let half of a surrogate pair pass.
        body = json.loads(raw.decode())
    except (ValueError, RecursionError):
        body = None
    if not isinstance(body, dict) or not _HASH.fullmatch(str(body.get("hash"))):
        raise damaged(path, number, "it is not a journal line")
    # The hash is over the line as it was written but for the hash itself: byte for byte, without writing it anew.
    sealed = f',"hash":"{body["hash"]}"'.encode()
    if raw.count(sealed) != 1 or hashlib.sha256(raw.replace(sealed, b"")[:-1]).hexdigest() != body["hash"]:
        raise damaged(path, number, "its content does not match its hash")
    if body.get("prev") != previous:
        raise damaged(path, number, "it does not follow the line before")
    if type(body.get("seq")) is not int or body["seq"] != number:
        raise damaged(path, number, f"it says sequence {str(body.get('seq'))[:40]}")
    if type(body.get("more", 0)) is not int or body.get("more", 0) < 0:
        raise damaged(path, number, "it does not say how many events follow")
    if type(body.get("at_ms")) is not int or not EARLIEST_MS <= body["at_ms"] <= LATEST_MS:
        raise foreign(path, number, "its time is no time")
    if b"\\ud" in raw.lower() and _has_half_a_pair(body):
        raise foreign(path, number, "half of a surrogate pair stands in it, which is no text")
    return body


def _has_half_a_pair(body: dict[str, Any]) -> bool:
    """This version never writes one: UTF-8 has none."""
    try:
        json.dumps(body, ensure_ascii=False).encode()
    except (UnicodeEncodeError, RecursionError):
        return True
    return False


def _must_be_torn(path: Path, raw: bytes, number: int) -> None:
    """What has no newline is a torn end where it is the beginning of a line. A whole one with something behind it had
    its newline, and lost it since."""
    text = raw.rstrip(b"\0")
    end = text.rfind(b"}")
    if end < 0 or end + 1 == len(text):
        return
    try:
        json.loads(text[: end + 1].decode())
    except (ValueError, RecursionError):
        return
    raise damaged(path, number, "its newline is gone")


def _header(path: Path, body: dict[str, Any]) -> dict[str, Any]:
    version = body.get("format")
    if type(version) is int and version > FORMAT:
        raise JournalError(
            f"The journal was written by a newer version (format {str(version)[:20]}; this one knows {FORMAT}).",
            mend="Update bench-voice, then open it again.",
            slug="journal-newer",
            where=str(path),
        )
    if type(version) is not int or version < 1:
        raise foreign(path, 0, f"it says format {str(version)[:40]}, which no version of bench-voice wrote")
    if not all(isinstance(body.get(name), str) for name in _TEXTS):
        raise foreign(path, 0, "its first line does not name a sheet and a machine")
    if body["sheet_hash"] != sheet_hash(body["sheet_text"]):
        raise damaged(path, 0, "the sheet kept in it is not the one that it was begun with")
    return body


def _event(path: Path, body: dict[str, Any], number: int) -> ev.Event:
    try:
        return decode(body["event"])
    except (KeyError, ValidationError, TypeError, ValueError, AttributeError, RecursionError) as error:
        raise foreign(path, number, "its event is not known") from error


def replay(sheet: JobSheet, lines: Iterable[Line], path: Path = Path("journal")) -> State:
    """The state after these lines: a session is the fold of its journal. Raises JournalError where an event cannot
    belong to the job; `path` names it there.
    """
    for _, _, state in fold(sheet, lines, path):
        last = state
    return last


def fold(
    sheet: JobSheet, lines: Iterable[Line], path: Path = Path("journal")
) -> Iterator[tuple[Line | None, State, State]]:
    """Each line with the state before and after it; first, without a line, the state that a session begins with."""
    fit, state = Fit(sheet), State(sheet)
    yield None, state, state
    for line in lines:
        if why := fit.misfit(line.event):
            raise foreign(path, line.seq, why)
        before = state
        with as_foreign(path, line.seq):
            state = apply(before, line.event, line.at_ms)
        yield line, before, state


class as_foreign:
    """What goes wrong with a journal's content here is said to be foreign, with its place.

    The chain proves that nobody bent the line by accident, so it was written so: by a version that allowed it, or by
    somebody who reckoned the hashes anew. Neither may end in a fault of the program, or stop other journals.
    """

    def __init__(self, path: Path, number: int) -> None:
        self._path, self._number = path, number

    def __enter__(self) -> None: ...

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: object) -> None:
        if isinstance(error, Exception) and not isinstance(error, JournalError):
            why = f"it does not fit the job sheet kept in it ({type(error).__name__})"
            raise foreign(self._path, self._number, why) from error
