"""Sound devices by name: listing, choosing, and a rate and number of channels that one takes.

Devices are named by name and host API, never by number: numbers change when something is plugged in. Imports nothing
heavy, because the child processes of `card` use it.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bench_voice.errors import EngineError
from bench_voice.ports import RATE_HZ

_PORTAUDIO = "Install PortAudio (Debian: apt install libportaudio2), or use --typed or --listen FILE.wav."
PLUG = "Plug one in and try again, or use --typed or --listen FILE.wav."
# Tried in this order after 16 kHz and the device's own rate.
_OTHER_RATES = (48_000, 44_100, 32_000, 96_000, 192_000, 8_000)
_SOUND_NODES = Path("/dev/snd")


@dataclass(frozen=True)
class Device:
    """`inputs`, `outputs`: numbers of channels. `rate_hz`: what it runs at by itself."""

    name: str
    host_api: str
    inputs: int
    outputs: int
    rate_hz: int
    index: int  # only for the call that follows; never kept

    def __str__(self) -> str:
        sides = [text for count, text in ((self.inputs, "microphone"), (self.outputs, "loudspeaker")) if count]
        return f"{self.name}, {self.host_api} ({' and '.join(sides) or 'no channels'}, {self.rate_hz} Hz)"


@dataclass(frozen=True)
class Shape:
    """How a device is opened. `index` None: the system's own choice."""

    index: int | None
    rate_hz: int
    channels: int


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
    """All sound devices, as they were when this process first asked. Raises EngineError."""
    sounddevice = library or sound_library()
    try:
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
        raise EngineError(f"The sound devices cannot be listed: {error}.", mend=PLUG, slug="sound-no-device") from error


def choose_device(devices: list[Device], name: str | None, *, is_input: bool = True) -> Device | None:
    """The device whose name holds `name` (any case), None for the system's own choice.

    Raises EngineError `sound-no-device` when there is none, `sound-permission` when there are some that this user may
    not open, `sound-which-device` when several match.
    """
    side = _side(is_input)
    usable = [device for device in devices if (device.inputs if is_input else device.outputs) > 0]
    if not usable:
        if _has_closed_nodes():
            raise EngineError(
                f"There is a sound card, but this user may not open it, so there is no {side}.",
                mend=_permission(),
                slug="sound-permission",
            )
        raise EngineError(f"There is no {side}.", mend=PLUG, slug="sound-no-device")
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


def find_shape(library: Any, chosen: Device | None, *, is_input: bool) -> Shape:
    """A rate and number of channels that the device takes: 16 kHz and one channel where it can, else what it has.

    Raises EngineError `sound-rates` when it takes none, `sound-busy`, `sound-permission`, `sound-no-device`.
    """
    index = chosen.index if chosen else None
    try:
        info = library.query_devices(index, "input" if is_input else "output")
    except (library.PortAudioError, ValueError) as error:
        raise explained(error, is_input=is_input) from error
    most = int(info["max_input_channels" if is_input else "max_output_channels"])
    rates = dict.fromkeys((RATE_HZ, int(info["default_samplerate"]), *_OTHER_RATES))
    counts = [count for count in dict.fromkeys((1, 2, most)) if count <= max(1, most)]
    check = library.check_input_settings if is_input else library.check_output_settings
    refusal: Exception | None = None
    for channels in counts:
        for rate_hz in rates:
            try:
                check(device=index, channels=channels, dtype="int16", samplerate=rate_hz)
            except (library.PortAudioError, ValueError) as error:
                refusal = error
                if _slug_of(error) in ("sound-busy", "sound-permission"):
                    raise explained(error, is_input=is_input) from error
                continue
            return Shape(index, rate_hz, channels)
    raise EngineError(
        f'The {_side(is_input)} "{info["name"]}" takes none of the rates {", ".join(map(str, rates))} Hz with 16 bits '
        f"({refusal}).",
        mend="Choose another device in the settings, or set this one to 48000 Hz in the system's sound settings.",
        slug="sound-rates",
    )


def explained(error: Exception, *, is_input: bool) -> EngineError:
    """What PortAudio said, in words that help."""
    side, slug = _side(is_input), _slug_of(error)
    if slug == "sound-permission":
        return EngineError(f"This user may not open the {side}: {error}.", mend=_permission(), slug=slug)
    if slug == "sound-busy":
        return EngineError(
            f"The {side} cannot be had now, another program may hold it for itself: {error}.",
            mend="Close what uses it (a call, a recorder), or choose another device in the settings.",
            slug=slug,
        )
    return EngineError(f"The {side} cannot be opened: {error}.", mend=PLUG, slug=slug)


def _slug_of(error: Exception) -> str:
    # PortAudio's texts: "Device unavailable" (paDeviceUnavailable, -9985); host errors carry the system's own words.
    text = str(error).lower()
    if any(word in text for word in ("permission", "access denied", "not permitted", "eacces")):
        return "sound-permission"
    if any(word in text for word in ("unavailable", "busy", "in use", "exclusive")):
        return "sound-busy"
    return "sound-no-device"


def _side(is_input: bool) -> str:
    return "microphone" if is_input else "loudspeaker"


def _has_closed_nodes() -> bool:
    """Linux: sound cards that exist and cannot be opened by this user."""
    nodes = list(_SOUND_NODES.glob("pcm*")) if _SOUND_NODES.is_dir() else []
    return bool(nodes) and not any(os.access(node, os.R_OK | os.W_OK) for node in nodes)


def _permission() -> str:
    return (
        "Linux: add yourself to the group audio (sudo usermod -aG audio $USER) and log in again. macOS and Windows: "
        "allow the terminal to use the microphone under Privacy, Microphone."
    )
