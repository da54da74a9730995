"""Recordings of every shape. Headers: RIFF/WAVE, format tags 1 (PCM), 3 (float), 0xFFFE (extensible)."""

from __future__ import annotations

import struct
import wave
from pathlib import Path

import numpy as np
import pytest

from bench_voice.audio.resample import FRAME_BYTES, from_s16
from bench_voice.audio.wav import WavSource, read_wav, write_wav
from bench_voice.errors import SoundFileError

TONE_HZ = 440.0


def tone(rate_hz: int, seconds: float = 0.5) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * TONE_HZ * np.arange(int(rate_hz * seconds)) / rate_hz)


def body(samples: np.ndarray, bits: int, is_float: bool) -> bytes:
    if is_float:
        return samples.astype("<f4" if bits == 32 else "<f8").tobytes()
    if bits == 8:
        return np.round(samples * 127 + 128).astype(np.uint8).tobytes()
    whole = np.round(samples * (2 ** (bits - 1) - 1)).astype("<i4")
    if bits == 24:
        return whole.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    return whole.astype(f"<i{bits // 8}").tobytes()


def riff(data: bytes, rate_hz: int, channels: int, bits: int, tag: int = 1, length: int | None = None) -> bytes:
    block = channels * bits // 8
    fmt = struct.pack("<HHIIHH", tag, channels, rate_hz, rate_hz * block, block, bits)
    if tag == 0xFFFE:
        guid = struct.pack("<H", 1) + bytes.fromhex("000000001000800000aa00389b71")
        fmt += struct.pack("<HHI", 22, bits, 0) + guid
    chunks = b"fmt " + struct.pack("<I", len(fmt)) + fmt
    chunks += b"LIST" + struct.pack("<I", 3) + b"abc\0"  # an odd chunk, padded
    chunks += b"data" + struct.pack("<I", len(data) if length is None else length) + data
    return b"RIFF" + struct.pack("<I", 4 + len(chunks)) + b"WAVE" + chunks


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000, 192_000])
@pytest.mark.parametrize(("bits", "tag"), [(8, 1), (16, 1), (24, 1), (32, 1), (32, 3), (64, 3), (16, 0xFFFE)])
@pytest.mark.parametrize("channels", [1, 2, 8])
def test_any_rate_width_and_channels_become_the_same_tone(
    tmp_path: Path, rate_hz: int, bits: int, tag: int, channels: int
) -> None:
    samples = np.repeat(tone(rate_hz)[:, None], channels, axis=1).reshape(-1)
    path = tmp_path / "a.wav"
    path.write_bytes(riff(body(samples, bits, tag == 3), rate_hz, channels, bits, tag))
    frames = list(WavSource(path).frames())
    assert {len(frame) for frame in frames} == {FRAME_BYTES}
    sound = from_s16(b"".join(frames))
    assert len(sound) == pytest.approx(8000, abs=FRAME_BYTES)
    spectrum = np.abs(np.fft.rfft(sound[:8000]))
    assert np.argmax(spectrum) * 16_000 / 8000 == pytest.approx(TONE_HZ, abs=2)
    assert np.sqrt(np.mean(sound[1000:7000] ** 2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.02)


def test_what_the_standard_library_wrote_comes_back_bit_for_bit(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    pcm = np.random.default_rng(1).integers(-30000, 30000, 3200).astype("<i2").tobytes()
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(16_000)
        out.writeframes(pcm)
    assert read_wav(path) == pcm


def test_written_files_are_read_by_the_standard_library(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    write_wav(path, b"\1\0" * 700 + b"\7")
    with wave.open(str(path)) as back:
        assert (back.getframerate(), back.getnchannels(), back.getsampwidth(), back.getnframes()) == (16000, 1, 2, 700)


def test_the_last_frame_is_padded_with_silence(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    write_wav(path, b"\1\0" * 321)
    first, last = WavSource(path).frames()
    assert last == b"\1\0" + bytes(FRAME_BYTES - 2)
    assert first == b"\1\0" * 320


def test_a_length_left_open_by_a_pipe_is_read_to_the_end(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(riff(b"\1\0" * 640, 16_000, 1, 16, length=0xFFFFFFFF))
    assert len(read_wav(path)) == 1280


def test_not_a_number_and_too_loud_floats_stay_in_range(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    loud = np.array([np.nan, np.inf, -np.inf, 7.0, -7.0] * 64, dtype="<f4")
    path.write_bytes(riff(loud.tobytes(), 16_000, 1, 32, 3))
    sound = np.frombuffer(read_wav(path), "<i2")
    assert sound[:5].tolist() == [0, 32767, -32768, 32767, -32768]


GOOD = riff(b"\1\0" * 1600, 16_000, 1, 16)
BAD = {
    "sound-empty": [b"", riff(b"", 16_000, 1, 16)],
    "sound-not-wav": [b"ID3\4" + bytes(100), b"no sound at all, only text", b"RIFF\0\0\0\0AVI LIST"],
    "sound-truncated": [GOOD[:9], GOOD[:30], GOOD[:46], GOOD[:-400]],
    "sound-format": [
        riff(b"\1\0" * 100, 16_000, 1, 16, tag=2),
        riff(b"\1\0" * 100, 16_000, 9, 16),
        riff(b"\1\0" * 100, 4_000, 1, 16),
        riff(b"\1\0" * 100, 400_000, 1, 16),
        riff(b"\1\0" * 100, 16_000, 1, 12),
    ],
}


@pytest.mark.parametrize(("slug", "content"), [(slug, c) for slug, contents in BAD.items() for c in contents])
def test_what_cannot_be_read_says_what_and_how_to_mend(tmp_path: Path, slug: str, content: bytes) -> None:
    path = tmp_path / "bad.wav"
    path.write_bytes(content)
    with pytest.raises(SoundFileError, match=rf"bad\.wav: .+\. .+\[{slug}\]$") as caught:
        WavSource(path)
    assert caught.value.slug == slug
    if slug in ("sound-format", "sound-not-wav"):
        assert "ffmpeg" in caught.value.mend


def test_missing_folder_and_unwritable(tmp_path: Path) -> None:
    with pytest.raises(SoundFileError, match=r"\[sound-missing\]"):
        WavSource(tmp_path / "nowhere.wav")
    with pytest.raises(SoundFileError, match=r"\[sound-unreadable\]"):
        WavSource(tmp_path)
    with pytest.raises(SoundFileError, match=r"\[sound-unwritable\]"):
        write_wav(tmp_path / "no" / "a.wav", b"")


def test_closing_ends_the_frames(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    write_wav(path, bytes(32_000 * 5))
    source = WavSource(path)
    frames = source.frames()
    next(frames)
    source.close()
    assert len(list(frames)) < 60  # at most what was already read: one second
