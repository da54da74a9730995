"""What an utterance tells of its room and microphone. That a telephone passes 300 to 3400 Hz is ITU-T G.712 (from
memory); that the hiss of an s lies above 4 kHz is in any handbook of phonetics (from memory)."""

from __future__ import annotations

import numpy as np
import pytest

from bench_voice.audio.room import sound_evidence
from bench_voice.ports import RATE_HZ, Utterance

DICE = np.random.default_rng(5)


def utterance(sound: np.ndarray) -> Utterance:
    pcm = (np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes()
    return Utterance(pcm, 0, len(sound) * 1000 // RATE_HZ, 1.0)


def hum_and_hiss(noise_db: float) -> np.ndarray:
    """0.4 s of room, 0.8 s of a low voice, 0.2 s of hiss, in noise so many dB below."""
    at = np.arange(int(0.8 * RATE_HZ)) / RATE_HZ
    voice = sum(np.sin(2 * np.pi * 140 * k * at) / k for k in range(1, 12)) * 0.1
    hiss = DICE.standard_normal(int(0.2 * RATE_HZ)) * 0.05
    speech = np.concatenate([np.zeros(int(0.4 * RATE_HZ)), voice, hiss])
    level = float(np.sqrt(np.mean(np.square(voice))))
    return speech + DICE.standard_normal(len(speech)) * level * 10 ** (-noise_db / 20)


@pytest.mark.parametrize("noise_db", [10.0, 20.0, 30.0, 45.0])
def test_the_ratio_is_that_of_the_noise(noise_db: float) -> None:
    assert sound_evidence(utterance(hum_and_hiss(noise_db)))["snr_db"] == pytest.approx(noise_db, abs=3.0)


def test_a_telephone_has_no_hiss() -> None:
    whole = hum_and_hiss(45.0).astype(np.float32)
    spectrum = np.fft.rfft(whole)
    spectrum[np.fft.rfftfreq(len(whole), 1 / RATE_HZ) > 3800] = 0
    cut = np.fft.irfft(spectrum, len(whole))
    assert sound_evidence(utterance(whole))["hiss_db"] > -25
    assert sound_evidence(utterance(cut))["hiss_db"] < -40


def test_nothing_and_next_to_nothing_are_no_errors() -> None:
    for sound in (np.zeros(0), np.zeros(300), np.zeros(RATE_HZ)):
        found = sound_evidence(utterance(sound))
        assert found["speech_s"] == 1.0
        assert all(np.isfinite(value) for value in found.values())
