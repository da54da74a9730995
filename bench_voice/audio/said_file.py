"""The spoken side as a growing WAV file whose header is right after every sentence."""

from __future__ import annotations

import wave
from pathlib import Path

from bench_voice.errors import EngineError
from bench_voice.ports import RATE_HZ


class SaidFile:
    """Raises EngineError `say-to-unwritable`."""

    def __init__(self, path: Path) -> None:
        try:
            self._file = path.open("wb")
        except OSError as error:
            raise EngineError(
                f"The sound file cannot be written ({error.strerror}).",
                mend="Give --say-to a file in a folder that can be written.",
                slug="say-to-unwritable",
                where=str(path),
            ) from error
        self._wave = wave.open(self._file, "wb")  # noqa: SIM115 (closed in close)
        self._wave.setnchannels(1)
        self._wave.setsampwidth(2)
        self._wave.setframerate(RATE_HZ)

    def write(self, pcm: bytes) -> None:
        """`pcm`: 16 kHz mono s16le."""
        self._wave.writeframes(pcm)
        self._file.flush()

    def close(self) -> None:
        self._wave.close()
        self._file.close()
