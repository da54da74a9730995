"""Recordings: WAV files of any usual shape, read as 20 ms frames of 16 kHz mono s16le.

The header is parsed here because `wave` refuses WAVE_FORMAT_EXTENSIBLE and float files before Python 3.12.
Field meanings: the RIFF/WAVE description of 1991 and its 1994/2001 supplements (format tags 1, 3, 0xFFFE).
"""

from __future__ import annotations

import os
import struct
import wave
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np

from bench_voice.audio.resample import FRAME_BYTES, Framer, Resampler, Samples, to_s16
from bench_voice.errors import SoundFileError
from bench_voice.plain_file import open_plain
from bench_voice.ports import RATE_HZ

LOWEST_HZ, HIGHEST_HZ, MOST_CHANNELS = 8_000, 192_000, 8
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_OPEN_ENDED = 0xFFFFFFFF  # written by programs that stream into a pipe and don't know the length yet


@dataclass(frozen=True)
class WavShape:
    """What the header says. `data_at`, `data_bytes`: where the samples stand in the file."""

    rate_hz: int
    channels: int
    bits: int
    is_float: bool
    data_at: int
    data_bytes: int

    @property
    def frame_bytes(self) -> int:
        """Bytes of one sample of all channels."""
        return self.channels * self.bits // 8

    @property
    def seconds(self) -> float:
        return self.data_bytes / self.frame_bytes / self.rate_hz


def _fault(path: Path, slug: str, what: str, mend: str = "") -> SoundFileError:
    how = mend or f'Convert it with: ffmpeg -i "{path.name}" -ar 16000 -ac 1 -c:a pcm_s16le converted.wav.'
    return SoundFileError(what, mend=how, slug=slug, where=str(path))


def read_shape(path: Path) -> WavShape:
    """Reads and checks the header. Raises SoundFileError (`sound-missing`, `sound-unreadable`, `sound-empty`,
    `sound-not-wav`, `sound-truncated`, `sound-format`)."""
    try:
        with open_plain(path) as file:
            return _shape(path, file, os.fstat(file.fileno()).st_size)
    except FileNotFoundError:
        raise _fault(path, "sound-missing", "There is no such file.", "Check the name.") from None
    except OSError as error:
        reason = error.strerror or "it cannot be opened"
        raise _fault(path, "sound-unreadable", f"Cannot be read: {reason}.", "Give a readable WAV file.") from error


def _shape(path: Path, file: BinaryIO, size: int) -> WavShape:
    if size == 0:
        raise _fault(path, "sound-empty", "The file is empty.", "Record it again.")
    head = file.read(12)
    if head[:4] != b"RIFF"[: len(head)] or (len(head) >= 12 and head[8:12] != b"WAVE"):
        raise _fault(path, "sound-not-wav", "This is not a WAV file.")
    if len(head) < 12:
        raise _fault(path, "sound-truncated", "The file ends inside its header.", "Copy or record it again.")
    format_chunk: bytes | None = None
    while True:
        chunk = file.read(8)
        if len(chunk) < 8:
            missing = "its format" if format_chunk is None else "any sound"
            raise _fault(path, "sound-truncated", f"The file ends before {missing}.", "Copy or record it again.")
        name, length = struct.unpack("<4sI", chunk)
        if name == b"data":
            if format_chunk is None:
                raise _fault(path, "sound-not-wav", "The sound comes before its format.")
            return _checked(path, format_chunk, file.tell(), length, size)
        body = file.tell()
        if name == b"fmt ":
            format_chunk = file.read(min(length, 64))
        file.seek(body + length + (length & 1))


def _checked(path: Path, chunk: bytes, data_at: int, length: int, size: int) -> WavShape:
    if len(chunk) < 16:
        raise _fault(path, "sound-truncated", "The format in the header is cut short.", "Copy or record it again.")
    tag, channels, rate_hz, _, _, bits = struct.unpack("<HHIIHH", chunk[:16])
    if tag == _EXTENSIBLE and len(chunk) >= 26:
        tag = struct.unpack("<H", chunk[24:26])[0]
    if tag not in (_PCM, _FLOAT):
        raise _fault(path, "sound-format", f"The sound is compressed (format {tag}).")
    if bits not in ((8, 16, 24, 32) if tag == _PCM else (32, 64)):
        raise _fault(path, "sound-format", f"Samples of {bits} bits are not read.")
    if not 1 <= channels <= MOST_CHANNELS:
        raise _fault(path, "sound-format", f"{channels} channels are not read, only 1 to {MOST_CHANNELS}.")
    if not LOWEST_HZ <= rate_hz <= HIGHEST_HZ:
        raise _fault(path, "sound-format", f"A rate of {rate_hz} Hz is not read, only 8000 to 192000.")
    there = size - data_at
    frame = channels * bits // 8
    is_open_ended = length == _OPEN_ENDED or (length == 0 and there > 0)
    if not is_open_ended and length > there:
        promised, found = length / frame / rate_hz, max(there, 0) / frame / rate_hz
        short = f"The header promises {promised:.2f} s of sound, {found:.2f} s are there."
        raise _fault(path, "sound-truncated", short, "Copy or record it again.")
    data_bytes = (there if is_open_ended else length) // frame * frame
    if data_bytes == 0:
        raise _fault(path, "sound-empty", "There is no sound in the file.", "Record it again.")
    return WavShape(rate_hz, channels, bits, tag == _FLOAT, data_at, data_bytes)


def decode(raw: bytes, shape: WavShape) -> Samples:
    """Interleaved samples of the file to one channel of float32: channels averaged, not-a-numbers silent."""
    if shape.is_float:
        wide = np.frombuffer(raw, dtype="<f4" if shape.bits == 32 else "<f8").astype(np.float32)
        wide = np.nan_to_num(wide, nan=0.0, posinf=1.0, neginf=-1.0)
    elif shape.bits == 8:  # the one width that is unsigned
        wide = (np.frombuffer(raw, dtype=np.uint8).astype(np.float32) - 128.0) / 128.0
    elif shape.bits == 24:
        triples = np.frombuffer(raw, dtype=np.uint8).reshape(-1, 3)
        padded = np.zeros((len(triples), 4), dtype=np.uint8)
        padded[:, 1:] = triples
        wide = (padded.reshape(-1).view("<i4").astype(np.float64) / 2**31).astype(np.float32)
    else:
        width = np.dtype(f"<i{shape.bits // 8}")
        wide = (np.frombuffer(raw, dtype=width).astype(np.float64) / 2 ** (shape.bits - 1)).astype(np.float32)
    if shape.channels == 1:
        return wide
    mono: Samples = wide.reshape(-1, shape.channels).mean(axis=1, dtype=np.float32)
    return mono


class WavSource:
    """ports.AudioSource over a file. The header is checked at once, the sound is read a second at a time."""

    def __init__(self, path: Path | str) -> None:
        self.path = Path(path)
        self.shape = read_shape(self.path)
        self._is_closed = False

    def frames(self) -> Iterator[bytes]:
        shape, framer = self.shape, Framer()
        resampler = Resampler(shape.rate_hz)
        left = shape.data_bytes
        with open_plain(self.path) as file:
            file.seek(shape.data_at)
            while left and not self._is_closed:
                raw = file.read(min(left, shape.frame_bytes * shape.rate_hz))
                raw = raw[: len(raw) // shape.frame_bytes * shape.frame_bytes]
                if not raw:
                    break
                left -= len(raw)
                yield from framer.feed(to_s16(resampler.feed(decode(raw, shape), is_last=left == 0)))
        if not self._is_closed:
            yield from framer.rest()

    def close(self) -> None:
        self._is_closed = True


def read_wav(path: Path | str) -> bytes:
    """A whole recording as 16 kHz mono s16le; padded to whole frames."""
    return b"".join(WavSource(path).frames())


def write_wav(path: Path | str, pcm: bytes) -> None:
    """Writes 16 kHz mono s16le. Raises SoundFileError (`sound-unwritable`)."""
    try:
        with Path(path).open("wb") as raw, wave.open(raw, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(RATE_HZ)
            file.writeframes(pcm[: len(pcm) // 2 * 2])
    except OSError as error:
        reason = error.strerror or "it cannot be written"
        mend = "Choose a folder that can be written to."
        raise SoundFileError(
            f"Cannot be written: {reason}.", mend=mend, slug="sound-unwritable", where=str(path)
        ) from error


__all__ = ["FRAME_BYTES", "WavShape", "WavSource", "decode", "read_shape", "read_wav", "write_wav"]
