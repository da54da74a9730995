"""Keys and pedals: each press is told at once, from a thread of its own.

A terminal is read key by key (cbreak mode: no Enter, Ctrl-C still ends). Another file can be named: a terminal, a named
pipe, or a Linux input device such as /dev/input/by-id/...-event-kbd, which also tells when a key is released (a HID
pedal is a keyboard to the system).
"""

from __future__ import annotations

import contextlib
import os
import select
import stat
import struct
import sys
import threading
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from bench_voice.errors import UsageError

# struct input_event of linux/input.h on 64-bit systems: two longs of time, type, code, value.
_EVENT = struct.Struct("llHHi")
_EV_KEY = 1
_RELEASED, _PRESSED, _REPEATED = 0, 1, 2

Press = Callable[[str, bool], None]


class Keys:
    """`on_key(name, is_press)`: the sign typed, or "pedal" for an input device. `close` gives the terminal back."""

    def __init__(self, fd: int, on_key: Press, *, is_device: bool = False, owns_fd: bool = False) -> None:
        self._fd, self._on_key, self._is_device, self._owns_fd = fd, on_key, is_device, owns_fd
        self._saved: Any = None
        if os.isatty(fd):
            import termios
            import tty

            self._saved = termios.tcgetattr(fd)
            tty.setcbreak(fd)
        self._wake, self._end = os.pipe()
        self._thread = threading.Thread(target=self._run, name="keys", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while True:
            ready = select.select([self._fd, self._wake], [], [])[0]
            if self._wake in ready:
                return
            try:
                data = os.read(self._fd, 24 * 64 if self._is_device else 64)
            except OSError:
                return  # unplugged
            if not data:
                return
            if self._is_device:
                self._events(data)
            else:
                for sign in data.decode("utf-8", "replace"):
                    self._on_key(sign, True)

    def _events(self, data: bytes) -> None:
        for at in range(0, len(data) - _EVENT.size + 1, _EVENT.size):
            _, _, kind, _, value = _EVENT.unpack_from(data, at)
            if kind == _EV_KEY and value in (_PRESSED, _RELEASED):
                self._on_key("pedal", value == _PRESSED)

    def close(self) -> None:
        with contextlib.suppress(OSError):
            os.write(self._end, b"x")
        self._thread.join(timeout=1)
        if self._saved is not None:
            import termios

            with contextlib.suppress(termios.error, OSError):
                termios.tcsetattr(self._fd, termios.TCSADRAIN, self._saved)
        for fd in (self._wake, self._end, *([self._fd] if self._owns_fd else [])):
            with contextlib.suppress(OSError):
                os.close(fd)


def open_keys(path: str | None, on_key: Press) -> Keys | None:
    """Keys of the file named, else of the terminal on standard input; None where there is none.

    Raises UsageError `keys-unreadable`.
    """
    if path is None:
        # Windows has terminals, but nothing that reads them key by key beside other files.
        is_terminal = sys.stdin is not None and sys.stdin.isatty() and find_spec("termios") is not None
        return Keys(sys.stdin.fileno(), on_key) if is_terminal else None
    try:
        mode = os.stat(path).st_mode
        # A named pipe is opened for both, so that it neither waits for a writer nor ends with one.
        flags = os.O_RDWR if stat.S_ISFIFO(mode) else os.O_RDONLY
        fd = os.open(path, flags | getattr(os, "O_NOCTTY", 0))
    except OSError as error:
        raise UsageError(
            f"The keys cannot be read ({error.strerror}).",
            mend="Name a terminal, a named pipe or an input device that you may read (Linux: group input).",
            slug="keys-unreadable",
            where=path,
        ) from error
    is_device = stat.S_ISCHR(mode) and Path(path).resolve().name.startswith("event")
    return Keys(fd, on_key, is_device=is_device, owns_fd=True)
