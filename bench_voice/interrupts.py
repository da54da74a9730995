"""Ctrl-C where nothing is there yet to be kept or told: while the program loads, and in its workers."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from collections.abc import Iterator
from types import FrameType

INTERRUPTED = 130  # as a shell shows an end by SIGINT


def _end(number: int, frame: FrameType | None) -> None:
    os._exit(INTERRUPTED)


def quiet_while_loading() -> None:
    """Until `raise_again`, Ctrl-C ends the process without a traceback. For the command alone: a program that imports
    the package keeps its own ways. Under `python -m` the first argument is "-m" at this time."""
    is_command = os.path.basename(sys.argv[0] if sys.argv else "") in ("bench-voice", "bench-voice.exe", "-m")
    names = getattr(sys, "orig_argv", [])
    if is_command and (sys.argv[0] != "-m" or "bench_voice.cli" in names):
        with contextlib.suppress(ValueError):  # not in the main thread
            if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
                signal.signal(signal.SIGINT, _end)


def raise_again() -> None:
    """From here on Ctrl-C is a KeyboardInterrupt, which the command catches."""
    if signal.getsignal(signal.SIGINT) is _end:
        signal.signal(signal.SIGINT, signal.default_int_handler)


@contextlib.contextmanager
def held_back() -> Iterator[None]:
    """A process started inside never gets Ctrl-C, from its first instruction: whoever started it ends it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
