"""Notices that the system's default microphone or loudspeaker is another one: by the sound server's own announcements
(`pactl subscribe`, PulseAudio and PipeWire). Where there is no pactl nothing is noticed, and the old device is used on.
"""

from __future__ import annotations

import shutil
import subprocess
import threading
from collections.abc import Callable

_ASK_S = 2.0


class DefaultWatch:
    """Calls `on_change` from a thread of its own. Costs nothing while nothing changes."""

    def __init__(self, on_change: Callable[[], None]) -> None:
        self._on_change = on_change
        self._child: subprocess.Popen[str] | None = None
        self._is_closed = threading.Event()
        self._thread = threading.Thread(target=self._run, name="defaults", daemon=True)
        if shutil.which("pactl"):
            self._thread.start()

    def _run(self) -> None:
        known: tuple[str, str] | None = None
        while not self._is_closed.is_set():
            known = self._ask() or known
            self._child = subprocess.Popen(
                ["pactl", "subscribe"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
            )
            assert self._child.stdout is not None
            for line in self._child.stdout:
                if " on server" not in line:
                    continue
                now = self._ask()
                if now and known and now != known and not self._is_closed.is_set():
                    known = now
                    self._on_change()
                known = now or known
            self._child.wait()
            # The server has ended; that is told by the streams themselves. Look again when it may be back.
            self._is_closed.wait(2.0)

    def _ask(self) -> tuple[str, str] | None:
        found = []
        for what in ("get-default-source", "get-default-sink"):
            try:
                done = subprocess.run(["pactl", what], capture_output=True, text=True, timeout=_ASK_S, check=True)
            except (OSError, subprocess.SubprocessError):
                return None
            found.append(done.stdout.strip())
        return found[0], found[1]

    def close(self) -> None:
        self._is_closed.set()
        child = self._child
        if child is not None and child.poll() is None:
            child.kill()
        if self._thread.is_alive():
            self._thread.join(timeout=3)
