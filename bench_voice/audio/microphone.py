"""The microphone, by sounddevice (PortAudio), imported only when it is used: the import fails without the library.

The callback only copies a block into a bounded queue. Devices are named by name and host API, never by number: numbers
change when something is plugged in. An unplugged microphone raises nothing, so frames that stop are an error here.
"""

from __future__ import annotations

import contextlib
import queue
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from bench_voice.audio.resample import Framer, Resampler, from_s16, to_s16
from bench_voice.errors import EngineError
from bench_voice.ports import RATE_HZ

_PORTAUDIO = "Install PortAudio (Debian: apt install libportaudio2), or use --typed or --listen FILE.wav."
_PLUG = "Plug one in and try again, or use --typed or --listen FILE.wav."
_QUEUE_BLOCKS = 250  # 5 s of 20 ms: a decoder that is late loses nothing
# Microphones and players that are open in this process.
open_streams: set[int] = set()
_LATENCY_S = 0.1  # lower drops sound on virtual cards


@dataclass(frozen=True)
class Device:
    """`inputs`, `outputs`: numbers of channels. `rate_hz`: what it runs at by itself."""

    name: str
    host_api: str
    inputs: int
    outputs: int
    rate_hz: int
    index: int  # only for the call that follows; never kept


def sound_library() -> Any:
    """sounddevice. Raises EngineError `sound-no-portaudio`, `sound-not-installed`."""
    try:
        import sounddevice
    except OSError as error:
        raise EngineError("The sound library is missing.", mend=_PORTAUDIO, slug="sound-no-portaudio") from error
    except ImportError as error:
        raise EngineError(
            "sounddevice is not installed.",
            mend="Install it with: pip install sounddevice.",
            slug="sound-not-installed",
        ) from error
    return sounddevice


def list_devices(library: Any = None) -> list[Device]:
    """All sound devices. PortAudio freezes the list at its start, so it is started again first. Raises EngineError."""
    sounddevice = library or sound_library()
    try:
        # Starting again ends every open stream, so only while there is none.
        if not open_streams:
            sounddevice._terminate()
            sounddevice._initialize()
        apis = [str(api["name"]) for api in sounddevice.query_hostapis()]
        return [
            Device(
                name=str(raw["name"]),
                host_api=apis[int(raw["hostapi"])],
                inputs=int(raw["max_input_channels"]),
                outputs=int(raw["max_output_channels"]),
                rate_hz=int(raw["default_samplerate"]),
                index=index,
            )
            for index, raw in enumerate(sounddevice.query_devices())
        ]
    except sounddevice.PortAudioError as error:
        raise EngineError(
            f"The sound devices cannot be listed: {error}.", mend=_PLUG, slug="sound-no-device"
        ) from error


def choose_device(devices: list[Device], name: str | None, *, is_input: bool = True) -> Device | None:
    """The device whose name holds `name` (any case), None for the system's own choice.

    Raises EngineError `sound-no-device` when there is none, `sound-which-device` when several match.
    """
    side = "microphone" if is_input else "loudspeaker"
    usable = [device for device in devices if (device.inputs if is_input else device.outputs) > 0]
    if not usable:
        raise EngineError(f"There is no {side}.", mend=_PLUG, slug="sound-no-device")
    if name is None:
        return None
    exact = [device for device in usable if name in (device.name, f"{device.name}, {device.host_api}")]
    found = exact or [device for device in usable if name.lower() in f"{device.name}, {device.host_api}".lower()]
    listed = "; ".join(f"{device.name}, {device.host_api}" for device in found or usable)
    if not found:
        raise EngineError(f'There is no {side} "{name}".', mend=f"Choose from: {listed}.", slug="sound-no-device")
    if len(found) > 1:
        raise EngineError(
            f'Several devices match "{name}".', mend=f"Write one in full: {listed}.", slug="sound-which-device"
        )
    return found[0]


class Microphone:
    """ports.AudioSource, live. `frames` ends on `close`; raises EngineError `sound-stopped` when no block has come for
    `silent_s`. `overflows` counts blocks that were lost, `flat_s` is how long the signal has been exactly level (a
    muted or unplugged input)."""

    def __init__(self, device: str | None = None, *, silent_s: float = 3.0, library: Any = None) -> None:
        self._library = library or sound_library()
        chosen = choose_device(list_devices(self._library), device)
        index = chosen.index if chosen else None
        self.overflows = 0
        self.flat_s = 0.0
        self._silent_s = silent_s
        self._blocks: queue.Queue[bytes] = queue.Queue(maxsize=_QUEUE_BLOCKS)
        self._is_closed = False
        self.rate_hz = self._usable_rate(index)
        try:
            self._stream = self._library.RawInputStream(
                samplerate=self.rate_hz,
                blocksize=self.rate_hz // 50,
                device=index,
                channels=1,
                dtype="int16",
                latency=_LATENCY_S,
                callback=self._on_block,
            )
            self._stream.start()
            open_streams.add(id(self))
        except self._library.PortAudioError as error:
            raise EngineError(
                f"The microphone cannot be opened: {error}.", mend=_PLUG, slug="sound-no-device", where=device or ""
            ) from error

    def _usable_rate(self, index: int | None) -> int:
        """16 kHz where the device takes it, else its own rate (raw devices may refuse)."""
        try:
            self._library.check_input_settings(device=index, channels=1, dtype="int16", samplerate=RATE_HZ)
        except (self._library.PortAudioError, ValueError):
            info = self._library.query_devices(index, "input")
            return int(info["default_samplerate"])
        return RATE_HZ

    def _on_block(self, block: Any, _count: int, _time: Any, status: Any) -> None:
        # Runs in PortAudio's thread: copy and leave. An exception here would only reach standard error.
        if status:
            self.overflows += 1
        try:
            self._blocks.put_nowait(bytes(block))
        except queue.Full:
            self.overflows += 1

    def frames(self) -> Iterator[bytes]:
        resampler, framer = Resampler(self.rate_hz), Framer()
        while not self._is_closed:
            try:
                block = self._blocks.get(timeout=self._silent_s)
            except queue.Empty:
                if self._is_closed:
                    return
                raise EngineError(
                    f"No sound has come from the microphone for {self._silent_s:g} s.", mend=_PLUG, slug="sound-stopped"
                ) from None
            if not block:
                return
            is_flat = block.count(block[:2]) * 2 >= len(block)
            self.flat_s = self.flat_s + len(block) / 2 / self.rate_hz if is_flat else 0.0
            yield from framer.feed(to_s16(resampler.feed(from_s16(block))))

    def drain(self) -> None:
        """Forgets what was captured up to now: the assistant's own voice, after it has spoken."""
        with contextlib.suppress(queue.Empty):
            while True:
                self._blocks.get_nowait()

    def close(self) -> None:
        """From any thread but PortAudio's own: closing a stream from its callback hangs."""
        if self._is_closed:
            return
        self._is_closed = True
        open_streams.discard(id(self))
        self._stream.stop()
        self._stream.close()
        with contextlib.suppress(queue.Full):
            self._blocks.put_nowait(b"")  # wakes `frames`
