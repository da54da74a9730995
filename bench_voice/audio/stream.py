"""Raw 16 kHz mono s16le as it comes from a pipe: a sound source for programs that feed sound themselves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

from bench_voice.audio.resample import FRAME_BYTES


class StreamSource:
    """ports.AudioSource. The last frame is filled up with silence."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream

    def frames(self) -> Iterator[bytes]:
        while frame := self._stream.read(FRAME_BYTES):
            yield frame.ljust(FRAME_BYTES, b"\0")

    def close(self) -> None:
        """The pipe is its owner's."""
