"""The synthetic mechanic: a voice that is not the assistant's, in a workshop that is not silent.

Sound here is what the rest of the project uses: 16 kHz, mono, signed 16-bit little endian (`RATE_HZ`), as `bytes`.
Everything is generated with a fixed seed, so that two runs feed the same sound.
"""

from __future__ import annotations

import wave
from pathlib import Path
from typing import Protocol

import numpy as np
import numpy.typing as npt

from bench_voice.ports import RATE_HZ

Samples = npt.NDArray[np.float32]

SPEECH_RMS = 0.08  # the level an utterance is brought to; full scale is 1.0
SNR_DB = 20.0  # speech to workshop noise, over the stretches that are speech


class MechanicVoice(Protocol):
    """Words to 16 kHz samples between -1 and 1, without noise and without a fixed level."""

    name: str

    def speak(self, text: str, *, speed: float = 1.0) -> Samples: ...


class NeuralVoice:
    """The English voice inside the hibari-tts wheel (24 kHz, resampled). Loads in about 0.6 s."""

    name = "hibari-tts heart (neural)"

    def __init__(self, seed: int = 7) -> None:
        from hibari import Hibari

        self._tts = Hibari()
        self._seed = seed

    def speak(self, text: str, *, speed: float = 1.0) -> Samples:
        import soxr

        sound = self._tts(text, speed=speed, seed=self._seed)
        return np.asarray(soxr.resample(sound, self._tts.sample_rate, RATE_HZ), dtype=np.float32)


class FormantVoice:
    """A second espeak-ng voice, for where hibari-tts is not installed. Robotic, and nearer to the assistant's own."""

    def __init__(self, voice: str = "gmw/en-us-nyc") -> None:
        from bench_voice.audio.voice_pyttsx3 import Pyttsx3Voice

        self._voice = Pyttsx3Voice(voice=voice)
        self.name = f"espeak-ng {voice} (formant)"

    def speak(self, text: str, *, speed: float = 1.0) -> Samples:
        return to_samples(self._voice.speak(text))


def make_mechanic(prefer: str = "auto") -> MechanicVoice:
    """`prefer`: "neural", "formant", or "auto", which takes the neural one where it is installed."""
    if prefer != "formant":
        try:
            return NeuralVoice()
        except ImportError:
            if prefer == "neural":
                raise
    return FormantVoice()


class Workshop:
    """Pink noise and a compressor's hum, one endless bed: stretches taken one after the other join without a seam."""

    def __init__(self, *, snr_db: float = SNR_DB, seed: int = 3, loop_s: int = 20) -> None:
        bed = _pink(loop_s * RATE_HZ, seed) + 0.5 * _hum(loop_s * RATE_HZ)
        bed /= np.sqrt(np.mean(bed**2))
        self._bed = (bed * SPEECH_RMS * 10 ** (-snr_db / 20)).astype(np.float32)
        self._at = 0

    def room(self, seconds: float) -> bytes:
        """Only the workshop."""
        return to_pcm(self._take(round(seconds * RATE_HZ)))

    def around(self, speech: Samples, *, before_s: float = 0.3, after_s: float = 1.2) -> bytes:
        """The utterance at its level in the workshop, with room noise before and after it."""
        loud = speech[np.abs(speech) > 0.05 * np.max(np.abs(speech), initial=1e-6)]
        level = float(np.sqrt(np.mean(loud**2))) if loud.size else 1.0
        padded = np.concatenate(
            [
                np.zeros(round(before_s * RATE_HZ), np.float32),
                speech * (SPEECH_RMS / level),
                np.zeros(round(after_s * RATE_HZ), np.float32),
            ]
        )
        return to_pcm(padded + self._take(padded.size))

    def _take(self, n_samples: int) -> Samples:
        index = (self._at + np.arange(n_samples)) % self._bed.size
        self._at = int((self._at + n_samples) % self._bed.size)
        return np.asarray(self._bed[index], dtype=np.float32)


def _pink(n_samples: int, seed: int) -> Samples:
    """Noise with equal power an octave: white noise divided by the root of the frequency, from 30 Hz up, rms 1."""
    spectrum = np.fft.rfft(np.random.default_rng(seed).standard_normal(n_samples))
    hz = np.fft.rfftfreq(n_samples, 1 / RATE_HZ)
    spectrum *= np.where(hz >= 30, 1 / np.sqrt(np.maximum(hz, 30)), 0)
    noise = np.fft.irfft(spectrum, n_samples).astype(np.float32)
    return np.asarray(noise / np.sqrt(np.mean(noise**2)), dtype=np.float32)


def _hum(n_samples: int) -> Samples:
    """A piston compressor: 50 Hz and harmonics, swelling with 12 strokes a second, rms 1."""
    seconds = np.arange(n_samples) / RATE_HZ
    tone = sum(np.sin(2 * np.pi * 50 * n * seconds + n) / n for n in range(1, 9))
    hum = tone * (1 + 0.5 * np.sin(2 * np.pi * 12 * seconds))
    return np.asarray(hum / np.sqrt(np.mean(hum**2)), dtype=np.float32)


def to_pcm(samples: Samples) -> bytes:
    """-1 to 1 -> s16le; louder is clipped."""
    return (np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes()


def to_samples(pcm: bytes) -> Samples:
    return np.asarray(np.frombuffer(pcm, "<i2").astype(np.float32) / 32768, dtype=np.float32)


def write_wav(path: Path, pcm: bytes) -> None:
    """16 kHz, mono, s16le."""
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        out.writeframes(pcm)
