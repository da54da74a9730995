"""Short sounds that say more quickly than words what happened. 16 kHz mono s16le, made here, no files."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from bench_voice.audio.resample import to_s16
from bench_voice.ports import RATE_HZ


class Tone(StrEnum):
    """What happened. A rise is good news, a fall is bad, a level pair asks."""

    LISTENING = "listening"
    HEARD = "heard"  # and thinking about it
    TAKEN = "taken"
    REFUSED = "refused"
    AGAIN = "again"
    HOLD = "hold"


# (frequency in Hz, length in ms) one after the other. Own choice; 400 Hz to 1.3 kHz carries over workshop noise and
# stays inside what small speakers play.
_NOTES: dict[Tone, tuple[tuple[float, int], ...]] = {
    Tone.LISTENING: ((880.0, 60), (1175.0, 80)),
    Tone.HEARD: ((784.0, 45),),
    Tone.TAKEN: ((660.0, 60), (990.0, 90)),
    Tone.REFUSED: ((520.0, 110), (390.0, 160)),
    Tone.AGAIN: ((700.0, 70), (0.0, 40), (700.0, 70)),
    Tone.HOLD: ((590.0, 140), (0.0, 60), (590.0, 140), (0.0, 60), (590.0, 140)),
}
_EDGE_MS = 8  # faded in and out, or it clicks
_LOUDNESS = 0.25


def tone(which: Tone) -> bytes:
    """The samples of one tone, at most 0.6 s."""
    return to_s16(np.concatenate([_note(hz, ms) for hz, ms in _NOTES[which]]))


def silence(seconds: float) -> bytes:
    """So much silence; played before speech after idle, since some outputs swallow the first syllable."""
    return bytes(2 * round(seconds * RATE_HZ))


def _note(hz: float, ms: int) -> np.ndarray[tuple[int], np.dtype[np.float32]]:
    count = RATE_HZ * ms // 1000
    edge = RATE_HZ * _EDGE_MS // 1000
    at = np.arange(count)
    shape = np.minimum(1.0, np.minimum(at, count - 1 - at) / edge)
    return (_LOUDNESS * shape * np.sin(2 * np.pi * hz * at / RATE_HZ)).astype(np.float32)
