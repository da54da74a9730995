"""The view for whoever looks: what was said and heard, and below it one line with the step, what is open, how loud it
is and what was heard last. Where the output is no terminal: only the plain lines.

Plain control signs instead of a library: one line that is written over is all there is, and it is written only when it
has changed, so that listening to silence costs next to nothing.
"""

from __future__ import annotations

import os
import shutil
import textwrap
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TextIO

from bench_voice.words.visible import visible

_CLEAR = "\r\x1b[2K"
_BOLD, _DIM, _PLAIN = "\x1b[1m", "\x1b[2m", "\x1b[0m"
_METER_FROM_DB, _METER_DB_A_SIGN, _METER_SIGNS = -60.0, 6.0, 8


def meter(level_db: float) -> str:
    """Eight signs from -60 to -12 dB; the last is a ! when it is louder than that."""
    count = int((level_db - _METER_FROM_DB) / _METER_DB_A_SIGN)
    full = min(max(count, 0), _METER_SIGNS)
    bar = "#" * full + "." * (_METER_SIGNS - full)
    return bar[:-1] + "!" if count > _METER_SIGNS else bar


@dataclass(frozen=True)
class View:
    """`state`: listening, speaking, thinking, waiting, no microphone; `open_`: what stands open, in order."""

    step: int
    steps: int
    state: str
    level_db: float
    heard: str = ""
    open_: tuple[str, ...] = ()

    def line(self, width: int) -> str:
        """The view in one line of at most `width` signs: the parts that matter less go first."""
        head = f"{self.step}/{self.steps} {self.state} {meter(self.level_db)}"
        tail = []
        if self.open_:
            more = f" +{len(self.open_) - 1}" if len(self.open_) > 1 else ""
            tail.append(f"open: {self.open_[0]}{more}")
        if self.heard:
            tail.append(f'"{self.heard}"')
        for count in range(len(tail), -1, -1):
            text = " | ".join([head, *tail[:count]])
            if len(text) <= width:
                return text
        return head[:width]


class Console:
    """Lines and the status below them. From any thread. `environment`: NO_COLOR and TERM are looked at."""

    def __init__(self, out: TextIO, *, environment: Mapping[str, str] = os.environ, width: int | None = None) -> None:
        self._out, self._width = out, width
        # Standard output shows a control sign as an escape; this view's own are obeyed.
        self._write: Callable[[str], object] = getattr(out, "control", out.write)
        self._lock = threading.Lock()
        self.is_terminal = out.isatty() and environment.get("TERM") != "dumb"
        self._has_colour = self.is_terminal and not environment.get("NO_COLOR")
        self._status = ""

    def line(self, who: str, text: str) -> None:
        """`bench: ...` or `you: ...`; whole on one line where it is no terminal."""
        text = visible(text)
        with self._lock:
            if not self.is_terminal:
                self._write(f"{who}: {text}\n")
            else:
                wrapped = textwrap.wrap(f"{who}: {text}", self._columns(), subsequent_indent="  ") or [f"{who}:"]
                body = "\n".join(wrapped)
                if self._has_colour:
                    body = f"{_BOLD if who == 'bench' else _DIM}{body}{_PLAIN}"
                self._write(f"{_CLEAR}{body}\n{self._status}")
            self._out.flush()

    def show(self, view: View) -> None:
        """Writes the status line over the old one; nothing where it is no terminal or nothing has changed."""
        if not self.is_terminal:
            return
        text = visible(view.line(self._columns() - 1))
        with self._lock:
            if text != self._status:
                self._status = text
                self._write(_CLEAR + text)
                self._out.flush()

    def close(self) -> None:
        with self._lock:
            if self.is_terminal and self._status:
                self._status = ""
                self._write(_CLEAR)
                self._out.flush()

    def _columns(self) -> int:
        return max(20, self._width or shutil.get_terminal_size().columns)
