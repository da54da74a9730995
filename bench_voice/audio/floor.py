"""A room that talks: a radio, people at the next bench. The voice detector takes it for speech, so its level must tell.

Only for such a room: in plain noise the detector is not fooled, and nothing is to be gained (tests/bench/floor.py).
Everything here favours the person: sound is held down only where it is no louder than the room's own loud moments, and
not at all any more once the room has become quieter, because people lower their voices then.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from bench_voice.audio.resample import Samples

# Own choices. The level is taken over a syllable, so that the soft sounds inside of a word are as loud as the word.
OVER_WINDOWS = 6  # of 32 ms
_TAIL_WINDOWS = 8  # a sentence dies away below the room
QUIETER_DB = 6.0
_RECENT_WINDOWS = 312  # 10 s
_LOOK_WINDOWS = 31  # 1 s


def power_of(window: Samples) -> float:
    """Mean square of its samples; full scale is 1."""
    return float(np.mean(np.square(window, dtype=np.float64)))


class Floor:
    """Levels in dB below full scale. `floor_db`: what the room keeps below nine tenths of the time; `room_db`: its
    median. `is_past`: the room has become quieter; everything is over it from then on."""

    def __init__(self, floor_db: float, room_db: float) -> None:
        self.floor_db, self.room_db = floor_db, room_db
        self._power = 10 ** (floor_db / 10)
        self._last: deque[float] = deque(maxlen=OVER_WINDOWS)
        self._recent: deque[float] = deque(maxlen=_RECENT_WINDOWS)
        self._seen = self._tail = 0
        self.is_past = False

    def is_over(self, window: Samples) -> bool:
        """Whether the last fifth of a second stands above the room, or did a moment ago. For every window, once."""
        power = power_of(window)
        self._last.append(power)
        if power:  # nothing at all is the assistant speaking, not the room
            self._recent.append(power)
            self._seen += 1
            if len(self._recent) == _RECENT_WINDOWS and self._seen % _LOOK_WINDOWS == 0:
                usual_db = 10 * np.log10(np.median(self._recent))
                self.is_past = self.is_past or bool(usual_db < self.room_db - QUIETER_DB)
        if sum(self._last) / len(self._last) > self._power:
            self._tail = _TAIL_WINDOWS
            return True
        self._tail -= 1
        return self.is_past or self._tail >= 0
