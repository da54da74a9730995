"""The live microphone: 20 ms frames of 16 kHz with their times, whatever the card does.

While the card is gone it gives silence in real time, so that the loop goes on; `on_change` says what happened.
An unplugged microphone raises nothing, so a card that stops, goes flat or repeats itself is noticed here.
"""

from __future__ import annotations

import queue
import struct
from collections.abc import Iterator

import numpy as np

from bench_voice.audio.link import Change, ChildLink, KeptStream, OnChange, Open, now_s
from bench_voice.audio.resample import FRAME_BYTES, Framer, Resampler, Samples, from_s16, to_s16

_QUEUE_BLOCKS = 250  # 5 s of 20 ms: a decoder that is late loses nothing
FLAT_S = 1.2
_MOST_FLAT_TOLD = 2  # a microphone that gates its noise is exactly silent between words: said twice, then known
_SILENCE = bytes(FRAME_BYTES)
_IDLE_S = 0.1


def mixed(block: bytes, channels: int) -> Samples:
    """One channel: the mean of two, the first of more (the others of an array or a mixer are something else)."""
    samples = from_s16(block)
    if channels == 1:
        return samples
    rows = samples[: len(samples) // channels * channels].reshape(-1, channels)
    return np.ascontiguousarray(rows.mean(axis=1, dtype=np.float32) if channels == 2 else rows[:, 0])


class Microphone(KeptStream):
    """ports.AudioSource, live; ends on `close`. `captured_s`: when the frame that was given last was captured (end of
    it, monotonic clock). `overflows`: blocks lost so far."""

    def __init__(
        self,
        device: str | None = None,
        *,
        on_change: OnChange = lambda change, detail: None,
        open_link: Open | None = None,
        stall_s: float = KeptStream.STALL_S,
        retry_s: float = KeptStream.RETRY_S,
    ) -> None:
        super().__init__(
            open_link or (lambda: ChildLink("capture", device)), on_change, stall_s=stall_s, retry_s=retry_s
        )
        self.overflows = 0
        self.captured_s = 0.0
        self._blocks: queue.Queue[tuple[float, Samples] | None] = queue.Queue(maxsize=_QUEUE_BLOCKS)
        self._flat_s = 0.0
        self._flat_told = 0
        self._is_flat = False
        self._child_lost = 0
        self._last = b""
        self._resampler: Resampler | None = None

    def frames(self) -> Iterator[bytes]:
        framer = Framer()
        while not self._is_closed.is_set():
            try:
                item = self._blocks.get(timeout=_IDLE_S)
            except queue.Empty:
                if not self.is_open:
                    for _ in range(round(_IDLE_S * 50)):
                        self.captured_s = now_s()
                        yield _SILENCE
                continue
            if item is None:
                return
            self.captured_s = item[0]
            yield from framer.feed(to_s16(item[1]))

    def close(self) -> None:
        super().close()
        try:
            self._blocks.put_nowait(None)
        except queue.Full:
            return

    def _opened(self) -> None:
        self._resampler = Resampler(self.rate_hz)
        self._flat_s, self._is_flat, self._child_lost, self._last = 0.0, False, 0, b""

    def _on_message(self, kind: bytes, body: bytes) -> None:
        if kind != b"B" or self._resampler is None:
            return
        at, lost = struct.unpack("<dI", body[:12])
        block = body[12:]
        self._count_lost(lost - self._child_lost)
        self._child_lost = lost
        self._watch_flat(block)
        try:
            self._blocks.put_nowait((at, self._resampler.feed(mixed(block, self.channels))))
        except queue.Full:
            self._count_lost(1)

    def _count_lost(self, count: int) -> None:
        if count <= 0:
            return
        self.overflows += count
        self._on_change(Change.OVERFLOW, str(self.overflows))

    def _watch_flat(self, block: bytes) -> None:
        is_same = block == self._last or block == block[:2] * (len(block) // 2)
        self._last = block
        if not is_same:
            self._flat_s = 0.0
            if self._is_flat:
                self._is_flat = False
                self._on_change(Change.SOUND, "")
            return
        self._flat_s += len(block) / 2 / self.channels / self.rate_hz
        if self._flat_s >= FLAT_S and not self._is_flat and self._flat_told < _MOST_FLAT_TOLD:
            self._is_flat = True
            self._flat_told += 1
            self._on_change(Change.FLAT, "zero" if not any(block) else "stuck")
