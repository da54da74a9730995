"""Plays samples through sounddevice in short pieces, so that it can be cut off at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bench_voice.audio.microphone import choose_device, list_devices, open_streams, sound_library
from bench_voice.audio.resample import from_s16, resample, to_s16
from bench_voice.audio.tones import silence
from bench_voice.errors import EngineError
from bench_voice.ports import RATE_HZ

_PIECE_S = 0.04
_WAKE_S = 0.15  # of silence first: some outputs swallow the first syllable after idle
_MEND = "Plug in a loudspeaker, or use --mute."


class Player:
    """For one thread. `play` blocks until the end, or at most 0.15 s longer than `is_cancelled` becomes true."""

    def __init__(self, device: str | None = None, *, library: Any = None) -> None:
        self._library = library or sound_library()
        chosen = choose_device(list_devices(self._library), device, is_input=False)
        index = chosen.index if chosen else None
        try:
            self._library.check_output_settings(device=index, channels=1, dtype="int16", samplerate=RATE_HZ)
            self.rate_hz = RATE_HZ
        except (self._library.PortAudioError, ValueError):
            self.rate_hz = int(self._library.query_devices(index, "output")["default_samplerate"])
        try:
            self._stream = self._library.RawOutputStream(
                samplerate=self.rate_hz, device=index, channels=1, dtype="int16", latency=0.1
            )
            open_streams.add(id(self))
        except self._library.PortAudioError as error:
            raise EngineError(
                f"The loudspeaker cannot be opened: {error}.", mend=_MEND, slug="sound-no-device", where=device or ""
            ) from error

    def play(self, pcm: bytes, is_cancelled: Callable[[], bool] = lambda: False) -> bool:
        """True when all of it was played. `pcm`: 16 kHz mono s16le. Raises EngineError `sound-stopped`."""
        sound = silence(_WAKE_S) + pcm
        if self.rate_hz != RATE_HZ:
            sound = to_s16(resample(from_s16(sound), RATE_HZ, self.rate_hz))
        piece = 2 * int(self.rate_hz * _PIECE_S)
        try:
            self._stream.start()
            for at in range(0, len(sound), piece):
                if is_cancelled():
                    self._stream.abort()
                    return False
                self._stream.write(sound[at : at + piece])
            self._stream.stop()  # waits until what is buffered has been played
        except self._library.PortAudioError as error:
            raise EngineError(f"The loudspeaker stopped: {error}.", mend=_MEND, slug="sound-stopped") from error
        return True

    def close(self) -> None:
        open_streams.discard(id(self))
        self._stream.close()
