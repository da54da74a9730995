"""Standard output and its like where they were closed, broke or are full: no traceback, and no journal written over."""

from __future__ import annotations

import io
import os
import sys
from typing import Any

from bench_voice.errors import UsageError

PIPE_CLOSED = 141  # as a shell shows an end by SIGPIPE


class _Watched(io.FileIO):
    """Remembers why it took nothing more: an OSError that comes up from a command does not say which file it is of."""

    lost: OSError | None = None

    def write(self, data: Any) -> int:
        try:
            return super().write(data)
        except OSError as error:
            self.lost = error
            raise


def prepare() -> None:
    """Before a command runs."""
    _open_closed()
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")  # a badly encoded line is not understood; the next one may be
    out = sys.stdout
    if isinstance(out, io.TextIOWrapper):
        raw = io.BufferedWriter(_Watched(out.fileno(), "w", closefd=False))
        sys.stdout = io.TextIOWrapper(
            raw, out.encoding, out.errors, line_buffering=out.line_buffering, write_through=out.write_through
        )


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
    wrong = UsageError(
        f"Standard output cannot be written ({error.strerror}).",
        mend="Make room there, or send it elsewhere.",
        slug="output-unwritable",
    )
    print(wrong, file=sys.stderr)
    return wrong.exit_code
