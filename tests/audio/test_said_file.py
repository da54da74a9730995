"""The spoken side as a file: whole after every sentence, and one message where it cannot be written."""

from __future__ import annotations

import gc
import wave
from pathlib import Path

import pytest

from bench_voice.audio.said_file import SaidFile
from bench_voice.errors import EngineError

FULL = Path("/dev/full")
PCM = bytes(3200)


class Filling:
    """Stands in for the open file: takes `room` writes, then the disk is full."""

    def __init__(self, room: int) -> None:
        self.room = room

    def flush(self) -> None:
        self.room -= 1
        if self.room < 0:
            raise OSError(28, "No space left on device")

    def close(self) -> None:
        self.flush()


def test_the_header_is_right_after_every_sentence(tmp_path: Path) -> None:
    path = tmp_path / "said.wav"
    said = SaidFile(path)
    for count in range(4):
        with wave.open(str(path)) as sound:
            assert (sound.getframerate(), sound.getnchannels(), sound.getsampwidth()) == (16_000, 1, 2)
            assert sound.getnframes() == count * 1600
        said.write(PCM)
    said.close()
    with wave.open(str(path)) as sound:
        assert sound.getnframes() == 4 * 1600


@pytest.mark.skipif(not FULL.exists(), reason="this system has no /dev/full")
def test_a_device_that_takes_nothing_is_told_before_anything_is_said(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(EngineError, match=r"cannot be written \(No space left on device\)") as raised:
        SaidFile(FULL)
    assert (raised.value.slug, raised.value.where, raised.value.exit_code) == ("say-to-unwritable", "/dev/full", 4)
    del raised
    gc.collect()
    assert capfd.readouterr() == ("", ""), "nothing is tried again when the file is thrown away"


@pytest.mark.parametrize("is_closing", [False, True])
def test_a_disk_that_fills_up_is_told_once(is_closing: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said = SaidFile(tmp_path / "said.wav")
    said.write(PCM)
    monkeypatch.setattr(said, "_file", Filling(0))
    with pytest.raises(EngineError, match="No space left on device") as raised:
        said.close() if is_closing else said.write(PCM)
    assert raised.value.slug == "say-to-unwritable"
    said.close()
    with pytest.raises(EngineError, match="cannot be written"):
        said.write(PCM)
