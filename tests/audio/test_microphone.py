"""Microphone and player on a stand-in for the sound library, and on the real one where there is no card."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from bench_voice.audio.microphone import Device, Microphone, choose_device
from bench_voice.audio.player import Player
from bench_voice.errors import EngineError


class Card:
    """Stands in for the sounddevice module: one card at 48 kHz that may refuse 16 kHz."""

    class PortAudioError(Exception):
        pass

    def __init__(self, takes_16k: bool = True) -> None:
        self.takes_16k, self.callback, self.written, self.aborted = takes_16k, None, b"", False

    def _initialize(self) -> None: ...
    def _terminate(self) -> None: ...

    def query_hostapis(self) -> list[dict[str, Any]]:
        return [{"name": "ALSA"}]

    def query_devices(self, index: int | None = None, kind: str = "") -> Any:
        one = {
            "name": "card",
            "hostapi": 0,
            "max_input_channels": 1,
            "max_output_channels": 2,
            "default_samplerate": 48000.0,
        }
        return one if kind else [one]

    def check_input_settings(self, samplerate: int, **_: Any) -> None:
        if not self.takes_16k:
            raise self.PortAudioError("Invalid sample rate")

    check_output_settings = check_input_settings

    def RawInputStream(self, callback: Any, **_: Any) -> Card:
        self.callback = callback
        return self

    def RawOutputStream(self, **_: Any) -> Card:
        return self

    def start(self) -> None: ...
    def stop(self) -> None: ...
    def close(self) -> None: ...

    def abort(self) -> None:
        self.aborted = True

    def write(self, piece: bytes) -> None:
        self.written += piece


@pytest.mark.parametrize(("takes_16k", "rate_hz"), [(True, 16_000), (False, 48_000)])
def test_blocks_become_frames_of_20_ms_at_16_khz(takes_16k: bool, rate_hz: int) -> None:
    card = Card(takes_16k)
    microphone = Microphone(library=card)
    assert microphone.rate_hz == rate_hz
    block = (8000 * np.sin(2 * np.pi * 440 * np.arange(rate_hz // 50) / rate_hz)).astype("<i2").tobytes()
    for _ in range(50):
        card.callback(block, len(block) // 2, None, None)
    frames = microphone.frames()
    got = [next(frames) for _ in range(45)]
    assert {len(frame) for frame in got} == {640}
    microphone.close()
    microphone.close()


def test_lost_blocks_are_counted_and_silence_of_the_card_is_an_error() -> None:
    card = Card()
    microphone = Microphone(library=card, silent_s=0.01)
    for _ in range(260):
        card.callback(bytes(640), 320, None, None)
    assert microphone.overflows == 10
    with pytest.raises(EngineError, match=r"\[sound-stopped\]$"):
        list(microphone.frames())
    assert microphone.flat_s == pytest.approx(5.0)
    microphone.close()


def test_playing_can_be_cut_off() -> None:
    card = Card()
    player = Player(library=card)
    assert player.play(b"\1\0" * 16_000)
    assert card.written.endswith(b"\1\0" * 16_000)
    turns = iter([False, False, True])
    card.written = b""
    assert not player.play(b"\1\0" * 16_000, lambda: next(turns))
    assert len(card.written) == 2 * 1280
    assert card.aborted
    player.close()


CARDS = [Device("USB mic", "ALSA", 1, 0, 48000, 0), Device("USB mic 2", "ALSA", 1, 0, 48000, 1), Device("out", "ALSA", 0, 2, 48000, 2)]  # fmt: skip  # noqa: E501


def test_devices_are_chosen_by_name() -> None:
    assert choose_device(CARDS, None) is None
    assert choose_device(CARDS, "USB mic").index == 0
    assert choose_device(CARDS, "mic 2").index == 1
    with pytest.raises(EngineError, match=r"Several.*USB mic 2, ALSA.*\[sound-which-device\]$"):
        choose_device(CARDS, "usb")
    with pytest.raises(EngineError, match=r"\[sound-no-device\]$"):
        choose_device(CARDS, "out")
    with pytest.raises(EngineError, match=r"no microphone\. .*\[sound-no-device\]$"):
        choose_device(CARDS[2:], None)


def test_without_portaudio_it_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    import builtins

    real = builtins.__import__

    def without(name: str, *rest: Any) -> Any:
        if name == "sounddevice":
            raise OSError("PortAudio library not found")
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(EngineError, match=r"libportaudio2.*\[sound-no-portaudio\]$"):
        Microphone()
