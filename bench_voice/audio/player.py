"""The live loudspeaker: plays samples through the child of `card`, can be cut off at once, and survives its loss."""

from __future__ import annotations

import struct
import threading
from collections.abc import Callable

import numpy as np

from bench_voice.audio.link import ChildLink, KeptStream, OnChange, Open
from bench_voice.audio.resample import from_s16, resample, to_s16
from bench_voice.ports import RATE_HZ

QUIETEST_DB, LOUDEST_DB, STEP_DB = -18.0, 9.0, 3.0
_POLL_S = 0.05
_KNEE = 0.7  # above it loud speech is rounded off instead of clipped


def louder(pcm: bytes, gain_db: float) -> bytes:
    """16-bit samples at another loudness; what would be over full scale is rounded off."""
    if gain_db == 0:
        return pcm
    samples = from_s16(pcm) * np.float32(10 ** (gain_db / 20))
    if gain_db > 0:
        over = np.abs(samples) > _KNEE
        room = 1 - _KNEE
        rounded = np.sign(samples) * (_KNEE + room * np.tanh((np.abs(samples) - _KNEE) / room))
        samples = np.where(over, rounded, samples).astype(np.float32)
    return to_s16(samples)


class Player(KeptStream):
    """`play` from one thread at a time; `loudness_db` may be set from any, between QUIETEST_DB and LOUDEST_DB."""

    def __init__(
        self,
        device: str | None = None,
        *,
        on_change: OnChange = lambda change, detail: None,
        open_link: Open | None = None,
        stall_s: float = KeptStream.STALL_S,
        retry_s: float = KeptStream.RETRY_S,
        loudness_db: float = 0.0,
    ) -> None:
        super().__init__(
            open_link or (lambda: ChildLink("playback", device)), on_change, stall_s=stall_s, retry_s=retry_s
        )
        self.loudness_db = loudness_db
        self._number = 0
        self._state = threading.Condition()
        self._done = -1
        self.ended_s = 0.0  # when the last sound was over

    def play(self, pcm: bytes, is_cancelled: Callable[[], bool] = lambda: False) -> bool:
        """Blocks until all of it was heard: True. False: cut off, or the card went away meanwhile (`is_open`).

        `pcm`: 16 kHz mono s16le.
        """
        if not pcm:
            return True
        if is_cancelled():
            return False
        self._number += 1
        number, sound = self._number, self._shaped(louder(pcm, self.loudness_db))
        if not self._send(b"P", number.to_bytes(4, "little") + sound):
            return False
        with self._state:
            while self._done < number:
                if is_cancelled():
                    self._send(b"C", b"")
                    return False
                if not self.is_open:
                    return False
                self._state.wait(_POLL_S)
        return True

    def mix(self, pcm: bytes) -> None:
        """Plays a short sound without waiting for its end."""
        self._number += 1
        self._send(b"P", self._number.to_bytes(4, "little") + self._shaped(louder(pcm, self.loudness_db)))

    def wake(self) -> None:
        """Lets `play` look again whether it is cancelled."""
        with self._state:
            self._state.notify_all()

    def _shaped(self, pcm: bytes) -> bytes:
        if self.rate_hz not in (0, RATE_HZ):
            pcm = to_s16(resample(from_s16(pcm), RATE_HZ, self.rate_hz))
        if self.channels > 1:
            pcm = np.repeat(np.frombuffer(pcm, "<i2"), self.channels).tobytes()
        return pcm

    def _lost(self) -> None:
        self.wake()

    def _on_message(self, kind: bytes, body: bytes) -> None:
        if kind == b"D":
            number, at = struct.unpack("<Id", body)
            with self._state:
                self._done, self.ended_s = number, at
                self._state.notify_all()
