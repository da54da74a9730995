"""A stream of the sound card kept alive: runs the child of `card`, notices when it stops, and opens it again.

Says what happened through `on_change`, from a thread of its own, at most once for each change.
"""

from __future__ import annotations

import contextlib
import json
import os
import select
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import Protocol

from bench_voice.audio.card import pack
from bench_voice.errors import EngineError
from bench_voice.interrupts import held_back

Message = tuple[bytes, bytes]


class Change(StrEnum):
    """What became of a microphone or loudspeaker."""

    LOST = "lost"
    BACK = "back"
    FLAT = "flat"  # it runs and gives exactly nothing, a constant, or the same block for ever
    SOUND = "sound"  # it was flat and gives sound again
    OVERFLOW = "overflow"  # blocks were dropped


OnChange = Callable[[Change, str], None]


class Link(Protocol):
    """One running child. `read`: a message, or None after `timeout_s`; raises EOFError when it has ended."""

    def read(self, timeout_s: float) -> Message | None: ...
    def send(self, kind: bytes, body: bytes) -> None: ...
    def close(self) -> None: ...


Open = Callable[[], Link]


class ChildLink:
    """A real child process on a real card."""

    def __init__(self, side: str, device: str | None) -> None:
        root = str(Path(__file__).resolve().parents[2])
        environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, [root, os.environ.get("PYTHONPATH")]))}
        with held_back():
            self._child = subprocess.Popen(
                [sys.executable, "-c", f"from bench_voice.audio.card import main; main({side!r}, {device or ''!r})"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,  # PortAudio lists there what it does not find
                env=environment,
            )
        assert self._child.stdout is not None
        self._out = self._child.stdout.fileno()
        self._held = bytearray()
        self._sending = threading.Lock()

    @property
    def pid(self) -> int:
        return self._child.pid

    def read(self, timeout_s: float) -> Message | None:
        while True:
            if len(self._held) >= 5:
                size = int.from_bytes(self._held[1:5], "little")
                if len(self._held) >= 5 + size:
                    message = bytes(self._held[:1]), bytes(self._held[5 : 5 + size])
                    del self._held[: 5 + size]
                    return message
            if not select.select([self._out], [], [], timeout_s)[0]:
                return None
            piece = os.read(self._out, 65_536)
            if not piece:
                raise EOFError
            self._held += piece

    def send(self, kind: bytes, body: bytes) -> None:
        assert self._child.stdin is not None
        with self._sending, contextlib.suppress(OSError, ValueError):  # its end is told by `read`
            self._child.stdin.write(pack(kind, body))
            self._child.stdin.flush()

    def close(self) -> None:
        """Ends the child at once: a card that is gone cannot be closed in order."""
        self._child.kill()
        self._child.wait()
        for pipe in (self._child.stdin, self._child.stdout):
            with contextlib.suppress(OSError):
                if pipe is not None:
                    pipe.close()


class KeptStream:
    """Base of Microphone and Player. `stall_s`: so long without a sign of life, and it counts as gone; then it is
    opened again, at first after `retry_s`, with longer waits up to `longest_retry_s`, for ever."""

    STALL_S, RETRY_S, LONGEST_RETRY_S, START_S = 1.0, 0.3, 2.0, 6.0
    # Virtual and wireless cards take their time for the first block, and stumble once in the seconds after it.
    FIRST_S, YOUNG_S, YOUNG_STALL_S = 3.0, 3.0, 1.6

    def __init__(
        self, open_link: Open, on_change: OnChange, *, stall_s: float = STALL_S, retry_s: float = RETRY_S
    ) -> None:
        self._open_link, self._on_change = open_link, on_change
        self._stall_s, self._retry_s = stall_s, retry_s
        self._link: Link | None = None
        self._is_open = threading.Event()
        self._is_closed = threading.Event()
        self._hurry = threading.Event()
        self._first_error: EngineError | None = None
        self._has_answered = threading.Event()
        self._is_told_lost = False
        self.rate_hz = self.channels = 0
        self._thread = threading.Thread(target=self._run, name=type(self).__name__, daemon=True)

    @property
    def is_open(self) -> bool:
        """Whether the card runs now."""
        return self._is_open.is_set()

    def begin(self) -> None:
        """Begins to open it for the first time; `start` waits for it."""
        if not self._thread.is_alive():
            self._thread.start()

    def start(self) -> None:
        """Opens it for the first time. Raises the EngineError of a card that cannot be opened."""
        self.begin()
        self._has_answered.wait(self.START_S)
        if not self.is_open:
            self.close()
            raise self._first_error or EngineError(
                "The sound card does not answer.",
                mend="Unplug it and plug it in again, choose another in the settings, or use --typed.",
                slug="sound-no-answer",
            )

    def wait_open(self, timeout_s: float) -> bool:
        return self._is_open.wait(timeout_s)

    def reopen(self) -> None:
        """Opens it anew now: after sleep, or when the system's choice of devices has changed."""
        self._hurry.set()

    def close(self) -> None:
        """From any thread."""
        self._is_closed.set()
        self._hurry.set()
        if self._thread.is_alive() and threading.current_thread() is not self._thread:
            self._thread.join(timeout=2 * self._stall_s + 1)

    # -- the thread

    def _run(self) -> None:
        wait_s, was_open = self._retry_s, False
        while not self._is_closed.is_set():
            self._hurry.clear()
            is_hurried = False
            try:
                self._link = link = self._open_link()
                self._greet(link, was_open)
                self._took(link.read(max(self.FIRST_S, self._stall_s)))
                was_open, wait_s = True, self._retry_s
                old_s = now_s() + self.YOUNG_S
                while not self._hurry.is_set():
                    is_young = self._stall_s >= self.STALL_S and now_s() < old_s
                    self._took(link.read(self.YOUNG_STALL_S if is_young else self._stall_s))
                is_hurried = True
                why = ""
            except EngineError as error:
                why = str(error)
                self._first_error = self._first_error or error
            except (EOFError, OSError, ValueError) as error:
                why = f"{type(error).__name__} {error}".strip()
            self._drop(is_told=was_open and not is_hurried, why=why)
            self._has_answered.set()
            if not is_hurried and not self._is_closed.is_set():
                self._hurry.wait(wait_s)
                wait_s = min(2 * wait_s, self.LONGEST_RETRY_S)

    def _greet(self, link: Link, was_open: bool) -> None:
        message = link.read(self.START_S)
        if message is None:
            raise EOFError("no answer")
        kind, body = message
        if kind == b"E":
            raise EngineError(**json.loads(body))
        hello = json.loads(body)
        self.rate_hz, self.channels = int(hello["rate_hz"]), int(hello["channels"])
        self._opened()
        has_lost = self._is_told_lost
        self._is_told_lost = False
        self._is_open.set()
        self._has_answered.set()
        if has_lost:
            self._on_change(Change.BACK, str(hello.get("name", "")))

    def _took(self, message: Message | None) -> None:
        if message is None:
            raise EOFError(f"nothing for {self._stall_s:g} s")
        kind, body = message
        if kind == b"E":
            raise EngineError(**json.loads(body))
        self._on_message(kind, body)

    def _drop(self, *, is_told: bool, why: str) -> None:
        link, self._link = self._link, None
        self._is_open.clear()
        self._lost()
        if link is not None:
            link.close()
        if is_told and not self._is_told_lost and not self._is_closed.is_set():
            self._is_told_lost = True
            self._on_change(Change.LOST, why)

    # -- for the two sides

    def _opened(self) -> None: ...
    def _lost(self) -> None: ...
    def _on_message(self, kind: bytes, body: bytes) -> None: ...

    def _send(self, kind: bytes, body: bytes) -> bool:
        link = self._link
        if link is None or not self.is_open:
            return False
        link.send(kind, body)
        return True


def now_s() -> float:
    """The clock of the times in messages."""
    return time.monotonic()
