"""The spoken side as a growing WAV file whose header is right after every sentence."""

from __future__ import annotations

import wave
from contextlib import suppress
from pathlib import Path

from bench_voice.errors import EngineError
from bench_voice.ports import RATE_HZ


class SaidFile:
    """Raises EngineError `say-to-unwritable`, when it is made and with every sentence; after that it takes no more."""

    def __init__(self, path: Path) -> None:
        self._path, self._lost = path, False
        try:
            self._file = path.open("wb")
        except OSError as error:
            raise self._unwritable(error) from error
        self._wave = wave.open(self._file, "wb")  # noqa: SIM115 (closed in close)
        self._wave.setnchannels(1)
        self._wave.setsampwidth(2)
        self._wave.setframerate(RATE_HZ)
        # The header at once: a full disk, or a device that takes nothing, shows before anything is said.
        self.write(b"")

    def write(self, pcm: bytes) -> None:
        """`pcm`: 16 kHz mono s16le."""
        if self._lost:
            raise self._unwritable(OSError("an earlier write failed"))
        try:
            self._wave.writeframes(pcm)
            self._file.flush()
        except OSError as error:
            self._give_up()
            raise self._unwritable(error) from error

    def close(self) -> None:
        """After a failed write only quiet: that has been told."""
        if self._lost:
            return
        try:
            self._wave.close()
            self._file.close()
        except OSError as error:
            self._give_up()
            raise self._unwritable(error) from error

    def _give_up(self) -> None:
        """Drops what is still in a buffer: else it is tried again, and fails, where nobody catches it."""
        self._lost = True
        for one in (self._wave, self._file):
            with suppress(OSError):
                one.close()

    def _unwritable(self, error: OSError) -> EngineError:
        return EngineError(
            f"The sound file cannot be written ({error.strerror or error}).",
            mend="Give --say-to a file in a folder that can be written and has room.",
            slug="say-to-unwritable",
            where=str(self._path),
        )
