"""Who is speaking: which frames of the microphone count. Pure: times come from outside, in seconds of one clock.

By default nothing counts that was captured while the assistant spoke or within a short tail after it: the assistant
never hears itself as the person. Only where the person has said in the settings that the microphone cannot hear the
loudspeaker (a headset, echo cancellation) does everything count, and their voice stops the assistant.
"""

from __future__ import annotations

import threading
from collections import deque

# Common practice, no source: a room's echo at speech level is gone after 0.2 to 0.4 s, cards hold back 0.1 to 0.2 s.
TAIL_S = 0.3
_CAPTURE_S = 0.1  # a frame's time is its end at the earliest; what the card held back was captured before it


class Duplex:
    """`began` before the first sample goes out, `ended` with the time when the last one was over. From any thread."""

    def __init__(self, *, is_echo_free: bool = False, tail_s: float = TAIL_S) -> None:
        self.is_echo_free, self._tail_s = is_echo_free, tail_s
        self._lock = threading.Lock()
        self._began_s: float | None = None  # since when it speaks
        self._deaf: deque[tuple[float, float]] = deque(maxlen=32)  # stretches that are over, with their tails

    def began(self, at_s: float) -> None:
        with self._lock:
            if self._began_s is None:
                self._began_s = at_s

    def ended(self, at_s: float) -> None:
        with self._lock:
            if self._began_s is not None:
                self._deaf.append((self._began_s, at_s + self._tail_s + _CAPTURE_S))
            self._began_s = None

    @property
    def is_speaking(self) -> bool:
        with self._lock:
            return self._began_s is not None

    def is_for_us(self, captured_s: float) -> bool:
        """Whether a frame that was captured until then may be heard."""
        if self.is_echo_free:
            return True
        with self._lock:
            if self._began_s is not None and captured_s >= self._began_s:
                return False
            return not any(began <= captured_s < until for began, until in self._deaf)
