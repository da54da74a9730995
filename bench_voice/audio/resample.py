"""Rates in, 16 kHz out: the only user of soxr. Samples are float32 in -1..1, one channel."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from bench_voice.ports import RATE_HZ

Samples = npt.NDArray[np.float32]
FRAME_SAMPLES = RATE_HZ // 50  # 20 ms
FRAME_BYTES = FRAME_SAMPLES * 2


def to_s16(samples: Samples) -> bytes:
    """Float samples to s16le bytes; what is louder than full scale is clipped."""
    return (np.clip(samples, -1.0, 32767 / 32768) * 32768.0).round().astype("<i2").tobytes()


def from_s16(pcm: bytes) -> Samples:
    """S16le bytes to float samples; an odd last byte is ignored."""
    return np.frombuffer(pcm, dtype="<i2", count=len(pcm) // 2).astype(np.float32) / 32768.0


class Resampler:
    """A stream from `from_hz` to `to_hz`. Feed blocks of any length; `is_last` flushes what the filter still holds."""

    def __init__(self, from_hz: float, to_hz: float = RATE_HZ) -> None:
        self._stream: Any = None
        if from_hz != to_hz:
            import soxr

            self._stream = soxr.ResampleStream(from_hz, to_hz, 1, dtype="float32")

    def feed(self, samples: Samples, is_last: bool = False) -> Samples:
        if self._stream is None:
            return samples
        out: Samples = self._stream.resample_chunk(samples, last=is_last)
        return out


def resample(samples: Samples, from_hz: float, to_hz: float = RATE_HZ) -> Samples:
    """A whole sound at once."""
    return Resampler(from_hz, to_hz).feed(np.ascontiguousarray(samples, dtype=np.float32), is_last=True)


class Framer:
    """Bytes of any length in, frames of exactly 640 bytes out; `rest` pads the last one with silence."""

    def __init__(self) -> None:
        self._held = bytearray()

    def feed(self, pcm: bytes) -> list[bytes]:
        self._held += pcm
        whole = len(self._held) // FRAME_BYTES * FRAME_BYTES
        frames = [bytes(self._held[at : at + FRAME_BYTES]) for at in range(0, whole, FRAME_BYTES)]
        del self._held[:whole]
        return frames

    def rest(self) -> list[bytes]:
        if not self._held:
            return []
        last = bytes(self._held).ljust(FRAME_BYTES, b"\0")
        self._held.clear()
        return [last]
