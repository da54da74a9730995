"""One synthetic voice for all tests of this folder: espeak-ng from its wheel, in a quiet room."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import pytest

from bench_voice.audio.resample import from_s16, to_s16
from bench_voice.audio.voice_pyttsx3 import Pyttsx3Voice
from bench_voice.ports import Utterance


@pytest.fixture(scope="session")
def voice() -> Iterator[Pyttsx3Voice]:
    made = Pyttsx3Voice()
    yield made
    made.close()


@pytest.fixture(scope="session")
def say(voice: Pyttsx3Voice) -> Callable[[str], Utterance]:
    """The words as an utterance with 0.3 s before and 0.6 s after, and noise 60 dB down."""

    def spoken(words: str) -> Utterance:
        speech = from_s16(voice.speak(words))
        padded = np.concatenate([np.zeros(4800, np.float32), speech, np.zeros(9600, np.float32)])
        padded += np.random.default_rng(1).standard_normal(len(padded)).astype(np.float32) * 1e-4
        pcm = to_s16(padded)
        return Utterance(pcm, 0, len(pcm) // 32, len(speech) / 16_000)

    return spoken
