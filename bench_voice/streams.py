"""Standard input and output where they were closed, broke, are full or cannot write a character: no traceback, and no
journal written over. What would not be seen is shown as an escape."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterator
from typing import Any

from bench_voice.errors import UsageError
from bench_voice.words.visible import ESCAPED, visible

PIPE_CLOSED = 141  # as a shell shows an end by SIGPIPE
LONGEST_LINE = 10_000  # characters of a typed line; a long note has some hundreds
_MOST_LEFT_OUT = 50_000_000  # of a line that does not end, as of a device


class _Watched(io.FileIO):
    """Remembers why it took nothing more: an OSError that comes up from a command does not say which file it is of."""

    lost: OSError | None = None
    is_told = False

    def write(self, data: Any) -> int:
        try:
            return super().write(data)
        except OSError as error:
            self.lost = error
            raise


class _Shown(io.TextIOWrapper):
    """Text for people. An escape stands for what would not be seen, or what the encoding lacks."""

    def write(self, text: str) -> int:
        super().write(visible(text))
        return len(text)

    def control(self, text: str) -> None:
        """Writes signs that a terminal obeys: the program's own, never a person's words."""
        super().write(text)


def prepare() -> None:
    """Before a command runs."""
    _open_closed()
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")  # a badly encoded line is not understood; the next one may be
    out = sys.stdout
    if isinstance(out, io.TextIOWrapper):
        sys.stdout = _shown(out, io.BufferedWriter(_Watched(out.fileno(), "w", closefd=False)))
    complaints = sys.stderr
    if isinstance(complaints, io.TextIOWrapper):
        sys.stderr = _shown(complaints, complaints.detach())


def _shown(old: io.TextIOWrapper, binary: Any) -> _Shown:
    # Asked first: of a stream that was detached nothing is known.
    encoding, is_lined, is_through = old.encoding, old.line_buffering, old.write_through
    return _Shown(binary, encoding, ESCAPED, line_buffering=is_lined, write_through=is_through)


def write_document(text: str) -> None:
    """A file's text on standard output: in UTF-8 and just as it is, but on a terminal."""
    out = sys.stdout
    if out.isatty() or not isinstance(out, _Shown):
        out.write(text)
        return
    out.flush()
    out.buffer.write(text.encode("utf-8", ESCAPED))


def typed_lines() -> Iterator[str]:
    """The lines of standard input. One over LONGEST_LINE is left out, which is told; one without an end ends them."""
    while line := sys.stdin.readline(LONGEST_LINE + 1):
        left_out = 0
        while line and not line.endswith("\n") and (left_out or len(line) > LONGEST_LINE):
            left_out += len(line)
            if left_out > _MOST_LEFT_OUT:
                break
            line = sys.stdin.readline(1_000_000)
        if left_out:
            print(f"This line was not taken: it has over {LONGEST_LINE} characters. [input-line-long]", file=sys.stderr)
            if left_out > _MOST_LEFT_OUT:
                return
        else:
            yield line


def _open_closed() -> None:
    """Streams that were closed from outside lead nowhere. Else the next file that is opened, such as a journal, would
    take the number of standard output, and a library that prints would write into it."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            number = os.open(os.devnull, os.O_RDWR)  # the lowest that is free
            os.set_inheritable(number, True)
            setattr(sys, name, os.fdopen(number, mode, encoding="utf-8", closefd=False))


def lost_output() -> OSError | None:
    """Why standard output takes nothing more, None where it does."""
    try:
        sys.stdout.flush()
    except OSError as error:
        return error
    raw = getattr(getattr(sys.stdout, "buffer", None), "raw", None)
    return raw.lost if isinstance(raw, _Watched) else None


def without_output(error: OSError) -> int:
    """The exit code; says why on standard error, but where whoever read it has enough, as `head` has."""
    if isinstance(error, BrokenPipeError):
        return PIPE_CLOSED
    raw = getattr(getattr(sys.stdout, "buffer", None), "raw", None)
    if isinstance(raw, _Watched):
        if raw.is_told:
            return UsageError.exit_code
        raw.is_told = True
    wrong = UsageError(
        f"Standard output cannot be written ({error.strerror}).",
        mend="Make room there, or send it elsewhere.",
        slug="output-unwritable",
    )
    print(wrong, file=sys.stderr)
    return wrong.exit_code
