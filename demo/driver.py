"""Plays one `bench-voice work` process turn by turn: sound goes in on its standard input, lines come out.

The child is started with `--listen - --turns`: it takes raw 16 kHz mono s16le on standard input as a live stream,
and prints `ready` on standard error each time it starts to listen. Nothing but sound goes in.
"""

from __future__ import annotations

import os
import selectors
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from bench_voice.ports import RATE_HZ

CHUNK_BYTES = RATE_HZ // 10 * 2  # 0.1 s
READY = "ready"


@dataclass(frozen=True)
class Line:
    """One printed line of the conversation: `who` is "bench" or "you"."""

    who: str
    text: str


class ChildEndedError(Exception):
    """The process ended while a turn was waited for, as it also does when it has signed off.

    `code` is its exit code, `lines` what it said last.
    """

    def __init__(self, code: int, errors: str, lines: list[Line]) -> None:
        super().__init__(f"bench-voice ended with exit code {code}.\n{errors}".rstrip())
        self.code, self.lines = code, lines


class NotReadyError(Exception):
    """The process neither answered nor listened again within the time."""


class Bench:
    """The child process. Use as: `start`, then `say` for each utterance, then `close` or `kill`.

    `say_to`: the sound file of the spoken side; None: nothing is spoken, only printed.
    """

    def __init__(
        self, sheet: Path, journal: Path, *, say_to: Path | None, new: bool, options: tuple[str, ...] = ()
    ) -> None:
        self._command = [
            *(sys.executable, "-m", "bench_voice.cli", "work", str(sheet), "--listen", "-", "--turns"),
            *("--journal", str(journal)),
            *(["--say-to", str(say_to)] if say_to else ["--mute"]),
            *(["--new"] if new else []),
            *options,
        ]
        self._errors: list[str] = []
        self._tails: dict[str, str] = {"out": "", "err": ""}

    def spawn(self) -> None:
        """Starts the process and returns at once."""
        self._child = subprocess.Popen(
            self._command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, bufsize=0
        )
        self._stdin, out, err = (_piped(self._child.stdin), _piped(self._child.stdout), _piped(self._child.stderr))
        self._err_fd = err.fileno()
        os.set_blocking(self._stdin.fileno(), False)
        self._selector = selectors.DefaultSelector()
        for stream, name in ((out, "out"), (err, "err")):
            os.set_blocking(stream.fileno(), False)
            self._selector.register(stream, selectors.EVENT_READ, name)

    @property
    def pid(self) -> int:
        """Of the running process."""
        return self._child.pid

    def start(self, timeout_s: float = 60) -> list[Line]:
        """Starts the process and returns what it says before it first listens."""
        self.spawn()
        lines, is_ready = self._collect(b"", timeout_s)
        if not is_ready:
            raise NotReadyError(f"bench-voice did not listen within {timeout_s:g} s of its start.")
        return lines

    def say(self, pcm: bytes, timeout_s: float, *, room_bytes: int = 0) -> tuple[list[Line], bool]:
        """Feeds sound; returns the lines it brought and whether the bench listens again.

        `room_bytes`: so much at the end of `pcm` is only the room; an answer may come before all of that was taken.
        False: all of the sound was taken and nothing came back within `timeout_s`, so it was not taken for speech,
        or its end was not reached yet: feed more of the room.
        """
        return self._collect(pcm, timeout_s, room_bytes)

    def close(self, timeout_s: float = 30) -> tuple[list[Line], int]:
        """Ends the sound and waits for the process; returns its last lines and its exit code."""
        self._stdin.close()
        lines: list[Line] = []
        end = time.monotonic() + timeout_s
        while self._child.poll() is None and time.monotonic() < end:
            lines += self._drain(0.1)[0]
        if self._child.poll() is None:
            self._child.kill()
        code = self._child.wait()
        lines += self._drain(0)[0]
        self._selector.close()
        return lines, code

    def kill(self) -> None:
        """SIGKILL: nothing is flushed, closed or said."""
        self._child.send_signal(signal.SIGKILL)
        self._child.wait()
        self._stdin.close()
        self._selector.close()

    @property
    def errors(self) -> str:
        """What it printed on standard error besides `ready`."""
        return "\n".join(self._errors)

    def _collect(self, pcm: bytes, timeout_s: float, room_bytes: int = 0) -> tuple[list[Line], bool]:
        """Writes while there is sound left and reads all the time, so that neither side can block the other."""
        lines, _ = self._drain(0)
        is_ready = False
        end = time.monotonic() + timeout_s
        while pcm or (not is_ready and time.monotonic() < end):
            wait_s = 0.0 if pcm else 0.05
            if pcm:
                try:
                    pcm = pcm[os.write(self._stdin.fileno(), pcm[:CHUNK_BYTES]) :]
                    end = time.monotonic() + timeout_s  # the time runs from the last sound taken
                except BlockingIOError:
                    wait_s = 0.02  # its pipe is full: it is busy deciding or speaking
                except BrokenPipeError:
                    pcm = b""
            more, came = self._drain(wait_s)
            lines += more
            # Before the speech is out, "ready" belongs to something earlier.
            is_ready |= came and len(pcm) <= room_bytes
            if self._child.poll() is not None:
                lines += self._drain(0)[0]
                raise ChildEndedError(self._child.returncode, self.errors, lines)
        return lines, is_ready

    def _drain(self, wait_s: float) -> tuple[list[Line], bool]:
        """Reads what is there. A `ready` is reported only after standard output has been read behind it."""
        lines: list[Line] = []
        is_ready = False
        events = self._selector.select(wait_s)
        if any(key.data == "err" for key, _ in events):
            is_ready = self._read_errors()
        for key, _ in self._selector.select(0):
            if key.data == "out":
                lines += self._read_lines(key.fd)
        return lines, is_ready

    def _read_errors(self) -> bool:
        is_ready = False
        for line in self._complete("err", self._err_fd):
            if line.strip() == READY:
                is_ready = True
            elif line.strip():
                self._errors.append(line)
        return is_ready

    def _read_lines(self, fd: int) -> list[Line]:
        found = []
        for line in self._complete("out", fd):
            who, colon, text = line.partition(": ")
            if colon and who in ("bench", "you"):
                found.append(Line(who, text))
            elif line.strip():
                found.append(Line("bench", line))  # a reply of several lines
        return found

    def _complete(self, name: str, fd: int) -> list[str]:
        """Whole lines; what stands after the last newline waits for its end."""
        data = b""
        while True:
            try:
                piece = os.read(fd, 65536)
            except BlockingIOError:
                break
            if not piece:
                for key in list(self._selector.get_map().values()):
                    if key.fd == fd:
                        self._selector.unregister(key.fileobj)
                break
            data += piece
        *whole, self._tails[name] = (self._tails[name] + data.decode("utf-8", "replace")).split("\n")
        return whole


def _piped(stream: IO[bytes] | None) -> IO[bytes]:
    """`Popen` types its streams as optional; with PIPE they are there."""
    assert stream is not None
    return stream
