"""Devices, the sound card's child, microphone and loudspeaker, on stand-ins for the sound library and the child."""

from __future__ import annotations

import json
import queue
import struct
import threading
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from bench_voice.audio import devices
from bench_voice.audio.card import Capture, Playback
from bench_voice.audio.devices import Device, choose_device, find_shape
from bench_voice.audio.link import Change, Message
from bench_voice.audio.microphone import Microphone, mixed
from bench_voice.audio.player import Player, louder
from bench_voice.audio.resample import from_s16
from bench_voice.errors import EngineError


class Card:
    """Stands in for the sounddevice module: one card that takes what it is told to take."""

    class PortAudioError(Exception):
        pass

    def __init__(
        self,
        rates: tuple[int, ...] = (16_000, 48_000),
        channels: tuple[int, ...] = (1, 2),
        refusal: str = "Invalid sample rate",
    ) -> None:
        self.rates, self.channels, self.refusal = rates, channels, refusal
        self.callback: Any = None
        self.opened: dict[str, Any] = {}
        self.latency = 0.1

    def query_hostapis(self) -> list[dict[str, Any]]:
        return [{"name": "ALSA"}]

    def query_devices(self, index: int | None = None, kind: str = "") -> Any:
        most = max(self.channels)
        one = {"name": "card", "hostapi": 0, "max_input_channels": most, "max_output_channels": most}
        one["default_samplerate"] = float(self.rates[-1])
        return one if kind else [one]

    def check_input_settings(self, samplerate: int, channels: int, **_: Any) -> None:
        if samplerate not in self.rates or channels not in self.channels:
            raise self.PortAudioError(self.refusal)

    check_output_settings = check_input_settings

    def RawInputStream(self, callback: Any, **shape: Any) -> Card:
        self.callback, self.opened = callback, shape
        return self

    RawOutputStream = RawInputStream

    def start(self) -> None: ...


def test_a_card_of_96_khz_only_and_of_eight_channels_is_taken_as_it_is() -> None:
    shape = find_shape(Card(rates=(96_000,), channels=(8,)), None, is_input=True)
    assert (shape.rate_hz, shape.channels) == (96_000, 8)
    assert find_shape(Card(), None, is_input=True).rate_hz == 16_000
    assert find_shape(Card(rates=(44_100,), channels=(2,)), None, is_input=False).channels == 2


class Never(Card):
    def check_input_settings(self, samplerate: int, channels: int, **_: Any) -> None:
        raise self.PortAudioError("Sample format not supported")


def test_a_card_that_takes_no_rate_is_refused_with_what_to_do() -> None:
    with pytest.raises(
        EngineError, match=r'microphone "card" takes none of the rates 16000, .* 48000 Hz .*\[sound-rates\]$'
    ):
        find_shape(Never(), None, is_input=True)


@pytest.mark.parametrize(
    ("refusal", "slug", "mend"),
    [
        ("Device unavailable [PaErrorCode -9985]", "sound-busy", "Close what uses it"),
        ("Unanticipated host error: Permission denied", "sound-permission", "usermod -aG audio"),
    ],
)
def test_a_card_that_is_held_or_forbidden_says_so(refusal: str, slug: str, mend: str) -> None:
    with pytest.raises(EngineError, match=rf"{mend}.*\[{slug}\]$"):
        find_shape(Card(rates=(1,), refusal=refusal), None, is_input=True)


def test_cards_that_this_user_may_not_open_are_told_from_no_cards(monkeypatch: Any, tmp_path: Any) -> None:
    monkeypatch.setattr(devices, "_SOUND_NODES", tmp_path)
    with pytest.raises(EngineError, match=r"no microphone\. .*\[sound-no-device\]$"):
        choose_device([], None)
    (tmp_path / "pcmC0D0c").touch()
    monkeypatch.setattr(devices.os, "access", lambda path, mode: False)
    with pytest.raises(EngineError, match=r"may not open it.*\[sound-permission\]$"):
        choose_device([], None)


CARDS = [
    Device("USB mic", "ALSA", 1, 0, 48000, 0),
    Device("USB mic 2", "ALSA", 1, 0, 48000, 1),
    Device("out", "ALSA", 0, 2, 48000, 2),
]


def test_devices_are_chosen_by_name() -> None:
    assert choose_device(CARDS, None) is None
    first, second = choose_device(CARDS, "USB mic"), choose_device(CARDS, "mic 2")
    assert first is not None
    assert second is not None
    assert (first.index, second.index) == (0, 1)
    assert str(first) == "USB mic, ALSA (microphone, 48000 Hz)"
    with pytest.raises(EngineError, match=r"Several.*USB mic 2, ALSA.*\[sound-which-device\]$"):
        choose_device(CARDS, "usb")
    with pytest.raises(EngineError, match=r"Choose from: USB mic, ALSA; USB mic 2, ALSA\. \[sound-no-device\]$"):
        choose_device(CARDS, "out")


def test_without_portaudio_it_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    import builtins

    real = builtins.__import__

    def without(name: str, *rest: Any) -> Any:
        if name == "sounddevice":
            raise OSError("PortAudio library not found")
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(EngineError, match=r"libportaudio2.*\[sound-no-portaudio\]$"):
        devices.sound_library()


# -- the child's side


def test_the_capturing_child_sends_blocks_with_their_times_and_counts_what_is_lost() -> None:
    card, sent = Card(rates=(48_000,), channels=(2,)), []
    capture = Capture(card, None, lambda kind, body: sent.append((kind, body)), clock=lambda: 12.5)
    assert json.loads(sent[0][1]) == {"rate_hz": 48_000, "channels": 2, "name": ""}
    for _ in range(103):
        card.callback(b"\1\0" * 1920, 960, None, None)
    card.callback(b"\1\0" * 1920, 960, None, "input overflow")
    capture.step()
    kind, body = sent[1]
    assert kind == b"B"
    assert struct.unpack("<dI", body[:12]) == (
        12.5,
        5,
    )  # three over the queue's hundred, one overflow that was over too
    assert len(body) == 12 + 3840


def test_the_playing_child_plays_in_order_and_tells_start_and_end() -> None:
    card, sent = Card(), []
    playback = Playback(card, None, lambda kind, body: sent.append((kind, body)), clock=lambda: 5.0)
    playback.take(b"P", (1).to_bytes(4, "little") + b"\1\0" * 500)
    playback.take(b"P", (2).to_bytes(4, "little") + b"\2\0" * 100)
    heard = b""
    for _ in range(3):
        out = bytearray(640)
        card.callback(out, 320, None, None)
        heard += bytes(out)
    assert heard == b"\1\0" * 500 + b"\2\0" * 100 + bytes(720)
    for _ in range(4):
        playback.step()
    told = [(kind, *struct.unpack("<Id", body)) for kind, body in sent[1:]]
    assert [(kind, number) for kind, number, _ in told] == [(b"S", 1), (b"D", 1), (b"S", 2), (b"D", 2)]
    assert told[1][2] == pytest.approx(5.0 + card.latency + 0.02)


def test_what_was_cut_off_is_not_played() -> None:
    card = Card()
    playback = Playback(card, None, lambda kind, body: None)
    playback.take(b"P", (1).to_bytes(4, "little") + b"\1\0" * 5000)
    playback.take(b"C", b"")
    out = bytearray(b"x" * 640)
    card.callback(out, 320, None, None)
    assert bytes(out) == bytes(640)


# -- the parent's side


class FakeLink:
    """A child that says what it is given. `None` ends it."""

    def __init__(self, rate_hz: int = 16_000, channels: int = 1, error: dict[str, str] | None = None) -> None:
        self.messages: queue.SimpleQueue[Message | None] = queue.SimpleQueue()
        self.sent: list[Message] = []
        self.is_closed = False
        self.on_send: Any = None
        if error:
            self.messages.put((b"E", json.dumps(error).encode()))
        else:
            self.messages.put((b"H", json.dumps({"rate_hz": rate_hz, "channels": channels, "name": "c"}).encode()))

    def read(self, timeout_s: float) -> Message | None:
        try:
            message = self.messages.get(timeout=timeout_s)
        except queue.Empty:
            return None
        if message is None:
            raise EOFError
        return message

    def send(self, kind: bytes, body: bytes) -> None:
        self.sent.append((kind, body))
        if self.on_send:
            self.on_send(kind, body)

    def close(self) -> None:
        self.is_closed = True

    def block(self, samples: Any, at: float = 1.0, lost: int = 0) -> None:
        self.messages.put((b"B", struct.pack("<dI", at, lost) + np.asarray(samples, "<i2").tobytes()))


class Told:
    """Changes as they were told; `wait` until one has come."""

    def __init__(self) -> None:
        self.all: list[tuple[Change, str]] = []
        self._new: queue.SimpleQueue[Change] = queue.SimpleQueue()

    def __call__(self, change: Change, detail: str) -> None:
        self.all.append((change, detail))
        self._new.put(change)

    def wait(self) -> Change:
        return self._new.get(timeout=5)


def links(*given: FakeLink) -> Any:
    """Opens them one after the other, the last one again and again."""
    left = list(given)

    def open_link() -> FakeLink:
        return left.pop(0) if len(left) > 1 else left[0]

    return open_link


def noise(seed: int, count: int) -> Any:
    return np.random.default_rng(seed).integers(-500, 500, count)


@pytest.mark.parametrize(("rate_hz", "channels"), [(16_000, 1), (48_000, 2), (96_000, 8)])
def test_blocks_of_any_card_become_frames_of_20_ms_at_16_khz(rate_hz: int, channels: int) -> None:
    link = FakeLink(rate_hz, channels)
    at = np.arange(rate_hz) / rate_hz
    wave = np.repeat((8000 * np.sin(2 * np.pi * 440 * at)).astype("<i2"), channels)
    step = rate_hz // 50 * channels
    for start in range(0, len(wave), step):
        link.block(wave[start : start + step], at=3.25)
    microphone = Microphone(open_link=links(link))
    microphone.start()
    frames = microphone.frames()
    got = b"".join(next(frames) for _ in range(45))
    assert microphone.captured_s == 3.25
    link.messages.put(None)
    microphone.close()
    samples = from_s16(got)[3200:]
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    assert np.argmax(spectrum) * 16_000 / len(samples) == pytest.approx(440, abs=2)
    assert np.sqrt(np.mean(samples**2)) == pytest.approx(8000 / 32768 / np.sqrt(2), rel=0.02)


def test_two_channels_are_averaged_and_of_more_the_first_is_taken() -> None:
    two = np.array([100, 300, 200, 400], "<i2").tobytes()
    assert (mixed(two, 2) * 32768).tolist() == [200, 300]
    assert (mixed(np.array([7, 1, 1, 1, 9, 1, 1, 1], "<i2").tobytes(), 4) * 32768).tolist() == [7, 9]


def test_a_microphone_that_cannot_be_opened_says_what_its_child_said() -> None:
    error = {"what": "No.", "mend": "Do.", "slug": "sound-busy", "where": ""}
    microphone = Microphone(open_link=links(FakeLink(error=error)))
    with pytest.raises(EngineError, match=r"No\. Do\. \[sound-busy\]"):
        microphone.start()


def test_a_microphone_that_goes_away_is_told_once_gives_silence_and_comes_back() -> None:
    first, second, plugged_in = FakeLink(), FakeLink(), threading.Event()
    told, tries = Told(), []

    def open_link() -> FakeLink:
        tries.append(1)
        if len(tries) == 1:
            return first
        error = {"what": "It is gone.", "mend": "Plug it in.", "slug": "sound-no-device", "where": ""}
        return second if plugged_in.is_set() else FakeLink(error=error)

    microphone = Microphone(open_link=open_link, on_change=told, stall_s=0.3, retry_s=0.01)
    first.block(noise(1, 320))
    microphone.start()
    frames = microphone.frames()
    assert next(frames) != bytes(640)
    assert told.wait() is Change.LOST
    assert next(frames) == bytes(640), "the loop goes on without a card"
    for seed in range(50):
        second.block(noise(seed, 320))
    plugged_in.set()
    assert told.wait() is Change.BACK
    assert any(next(frames) != bytes(640) for _ in range(50))
    assert [change for change, _ in told.all][:2] == [Change.LOST, Change.BACK], "told once, not at every try"
    assert first.is_closed
    microphone.close()


@pytest.mark.parametrize(("kind", "detail"), [("zero", "zero"), ("constant", "stuck"), ("repeated", "stuck")])
def test_a_flat_or_stuck_microphone_is_told_within_two_seconds_of_sound(kind: str, detail: str) -> None:
    link, told = FakeLink(), Told()
    same = {"zero": np.zeros(320), "constant": np.full(320, 77), "repeated": noise(5, 320)}[kind]
    link.block(noise(0, 320))
    for _ in range(100):  # 2 s
        link.block(same)
    link.block(noise(9, 320))
    microphone = Microphone(open_link=links(link), on_change=told, stall_s=5)
    microphone.start()
    assert told.wait() is Change.FLAT
    assert told.all[0] == (Change.FLAT, detail)
    assert told.wait() is Change.SOUND
    link.messages.put(None)
    microphone.close()


def test_a_gated_microphone_is_told_twice_and_then_known() -> None:
    link, told = FakeLink(), Told()
    for turn in range(5):
        for _ in range(80):
            link.block(np.zeros(320))
        link.block(noise(turn, 320))
    link.block(noise(50, 320), lost=3)
    microphone = Microphone(open_link=links(link), on_change=told, stall_s=5)
    microphone.start()
    while told.wait() is not Change.OVERFLOW:
        pass
    assert [change for change, _ in told.all].count(Change.FLAT) == 2
    assert microphone.overflows >= 3
    link.messages.put(None)
    microphone.close()


def test_blocks_that_nobody_fetched_are_counted() -> None:
    link, told = FakeLink(), Told()
    for count in range(260):
        link.block(noise(count, 320))
    microphone = Microphone(open_link=links(link), on_change=told, stall_s=5)
    microphone.start()
    assert told.wait() is Change.OVERFLOW
    link.messages.put(None)
    microphone.close()


@pytest.fixture
def playing() -> Iterator[tuple[Player, FakeLink]]:
    """A loudspeaker that is done with each sound at once."""
    link = FakeLink(48_000, 2)

    def answer(kind: bytes, body: bytes) -> None:
        if kind == b"P":
            link.messages.put((b"D", body[:4] + struct.pack("<d", 9.5)))

    link.on_send = answer
    link.messages.put((b"T", struct.pack("<d", 1.0)))
    player = Player(open_link=links(link), stall_s=5)
    player.start()
    yield player, link
    link.messages.put(None)
    player.close()


def test_playing_ends_when_all_of_it_was_heard(playing: tuple[Player, FakeLink]) -> None:
    player, link = playing
    assert player.play(b"\1\0" * 1600)
    assert player.ended_s == 9.5
    assert len(link.sent[0][1]) == pytest.approx(4 + 1600 * 3 * 2 * 2, abs=64), "at the card's rate, on both channels"
    assert player.play(b"")


def test_playing_can_be_cut_off(playing: tuple[Player, FakeLink]) -> None:
    player, link = playing
    link.on_send = None
    turns = iter([False, False, True, True])
    assert not player.play(b"\1\0" * 16_000, lambda: next(turns))
    assert [kind for kind, _ in link.sent] == [b"P", b"C"]
    assert not player.play(b"\1\0", lambda: True)


def test_a_loudspeaker_that_goes_away_ends_the_sound_and_is_told() -> None:
    first, told = FakeLink(), Told()
    second = FakeLink()
    first.messages.put((b"T", bytes(8)))
    first.on_send = lambda kind, body: first.messages.put(None)
    player = Player(open_link=links(first, second), on_change=told, stall_s=2, retry_s=0.01)
    player.start()
    assert not player.play(b"\1\0" * 16_000)
    assert told.wait() is Change.LOST
    second.messages.put((b"T", bytes(8)))
    assert told.wait() is Change.BACK
    assert player.wait_open(5)
    second.messages.put(None)
    player.close()


def test_reopening_is_no_loss() -> None:
    first, second, told = FakeLink(), FakeLink(), Told()
    first.messages.put((b"T", bytes(8)))
    player = Player(open_link=links(first, second), on_change=told, stall_s=5, retry_s=0.01)
    player.start()
    is_second = threading.Event()
    second.on_send = lambda kind, body: is_second.set()
    player.reopen()
    first.messages.put((b"T", bytes(8)))
    second.messages.put((b"T", bytes(8)))
    while not is_second.is_set():
        player.mix(b"\1\0")
    assert told.all == []
    second.messages.put(None)
    player.close()


def test_loudness_is_rounded_off_and_never_clipped() -> None:
    """6.02 dB is a factor of two (20 log10 2)."""
    quiet = np.array([1000, -2000], "<i2").tobytes()
    assert (from_s16(louder(quiet, 6.0206)) * 32768).tolist() == pytest.approx([2000, -4000], abs=1)
    loud = np.array([12_000, -12_000, 13_000], "<i2").tobytes()
    out = np.frombuffer(louder(loud, 9.0), "<i2").astype(int)
    assert 27_000 < out[0] < out[2] < 32_767, "12000 times 2.8 would be over full scale"
    assert out[1] == -out[0]
    assert louder(loud, 0.0) == loud
