"""A word that the sheet spells for the voice is spoken so and printed as it stands."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bench_voice.session.duplex import Duplex
from bench_voice.session.mouth import LiveMouth, Mouth


class Voice:
    def __init__(self) -> None:
        self.said: list[str] = []

    def speak(self, text: str) -> bytes:
        self.said.append(text)
        return b"\0\0"

    def close(self) -> None:
        return


class Keep:
    def write(self, pcm: bytes) -> None:
        return

    def close(self) -> None:
        return


class Player:
    loudness_db, ended_s, is_open = 0.0, 0.0, True

    def play(self, pcm: bytes, is_cancelled: Callable[[], bool]) -> bool:
        return True

    def mix(self, pcm: bytes) -> None:
        return

    def wake(self) -> None:
        return

    def wait_open(self, timeout_s: float) -> bool:
        return True


@pytest.mark.parametrize("is_live", [False, True], ids=["into a file", "live"])
def test_the_voice_gets_the_sheets_spelling(is_live: bool) -> None:
    voice, shown = Voice(), []  # type: Voice, list[str]
    mouth = (
        LiveMouth(shown.append, voice, Player(), Duplex(), make_voice=Voice)
        if is_live
        else Mouth(shown.append, voice, Keep())
    )
    mouth.respell = lambda text: text.replace("knurled", "nurled")
    mouth.say(("Screw the knurled cap on.",))
    assert mouth.wait_quiet(10)
    mouth.close()
    assert voice.said == ["Screw the nurled cap on."]
    assert shown == ["Screw the knurled cap on."]
