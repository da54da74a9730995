"""A live session whose spoken side goes into a file on a disk that is full goes on by its prints, without a hang."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench_voice.audio.said_file import SaidFile
from bench_voice.commands.work_live import FilePlayer
from bench_voice.errors import BenchError
from bench_voice.session.duplex import Duplex
from bench_voice.session.mouth import LiveMouth


class Voice:
    def speak(self, text: str) -> bytes:
        return b"\1\1" * 16_000


def test_it_is_told_once_and_what_follows_is_only_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said = SaidFile(tmp_path / "said.wav")
    shown: list[str] = []
    told: list[BenchError] = []
    duplex = Duplex()
    player = FilePlayer(said)
    mouth = LiveMouth(shown.append, Voice(), player, duplex, make_voice=Voice, on_voice_lost=told.append)
    mouth.say(("Take the wheel off.",))
    assert mouth.wait_quiet(10)

    def full(pcm: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(said._wave, "writeframes", full)
    for sentence in ("Take the drum off.", "Measure the lining."):
        mouth.say((sentence,))
        assert mouth.wait_quiet(10), "the thread that speaks has ended"
    mouth.close()
    player.close()
    assert [error.slug for error in told] == ["say-to-unwritable"]
    assert shown == ["Take the wheel off.", "Take the drum off.", "Measure the lining."]
    assert not duplex.is_speaking, "the ears would stay closed"
