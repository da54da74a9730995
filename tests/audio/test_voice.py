"""The voice through its child, from the wheel's library; what it says is heard by the detector."""

from __future__ import annotations

import numpy as np
import pytest

from bench_voice.audio import tones
from bench_voice.audio.endpointer import WINDOW, SileroDetector
from bench_voice.audio.resample import from_s16
from bench_voice.audio.voice_pyttsx3 import Pyttsx3Voice, Synthesiser
from bench_voice.errors import EngineError


def test_it_speaks_and_each_sentence_is_its_own(voice: Pyttsx3Voice) -> None:
    first, second = voice.speak("Say again."), voice.speak("Block both wheels, then loosen the nuts.")
    assert len(second) > 1.5 * len(first) > 16_000
    detector, sound = SileroDetector(), from_s16(second)
    spoken = [detector(sound[at : at + WINDOW]) > 0.5 for at in range(0, len(sound) - WINDOW, WINDOW)]
    assert np.mean(spoken) > 0.5


def test_a_sentence_said_before_is_kept(voice: Pyttsx3Voice) -> None:
    assert voice.speak("  Next \n step. ") is voice.speak("Next step.")


def test_empty_text_is_no_sound(voice: Pyttsx3Voice) -> None:
    assert voice.speak(" \n") == b""


def test_without_a_library_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "pyttsx3", None)  # as if it were not installed
    with pytest.raises(EngineError, match=r"No voice.*espeak-ng.*\[voice-none\]"):
        Synthesiser()


@pytest.mark.parametrize("which", list(tones.Tone))
def test_tones_are_short_and_begin_and_end_silent(which: tones.Tone) -> None:
    sound = np.frombuffer(tones.tone(which), "<i2")
    assert 0.04 <= len(sound) / 16_000 <= 0.6
    assert (abs(int(sound[0])), abs(int(sound[-1]))) < (50, 50)
    assert 3000 < np.max(np.abs(sound.astype(int))) < 12_000


def test_tones_differ() -> None:
    assert len({tones.tone(which) for which in tones.Tone}) == len(tones.Tone)
