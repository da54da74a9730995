"""Workshop noise from generators, and the sound of a clip: speech at a ratio over it, a room before and after.

Kinds: pink, hum (mains), compressor (strokes, hum and hiss), hammer, ratchet, babble (five other voices at once).
The ratio is power over the speech that is speech (above a twentieth of its top) to power over all of the noise.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from bench_voice.audio.resample import Samples, to_s16

RATE = 16_000
LEVEL = 0.07  # root mean square of the speech; full scale is 1
QUIET_DB = 45.0  # "clean": a quiet room
BEFORE_S, AFTER_S = 0.5, 1.3


def pink(n: int, dice: np.random.Generator) -> Samples:
    spectrum = np.fft.rfft(dice.standard_normal(n))
    hz = np.fft.rfftfreq(n, 1 / RATE)
    return unit(np.fft.irfft(spectrum * np.where(hz >= 30, 1 / np.sqrt(np.maximum(hz, 30)), 0), n))


def hum(n: int, dice: np.random.Generator) -> Samples:
    t = np.arange(n) / RATE
    base = 50 + dice.uniform(-0.2, 0.2)
    parts = [np.sin(2 * np.pi * base * k * t + dice.uniform(0, 6)) / k for k in range(1, 13)]
    return unit(np.sum(parts, axis=0))


def compressor(n: int, dice: np.random.Generator) -> Samples:
    t = np.arange(n) / RATE
    strokes = dice.uniform(9, 15)
    swell = 1 + 0.8 * np.sin(2 * np.pi * strokes * t + dice.uniform(0, 6))
    hiss = np.diff(dice.standard_normal(n + 1)) * 0.3
    return unit((pink(n, dice) * 1.0 + hum(n, dice) * 0.8 + unit(hiss) * 0.4) * swell)


def hammer(n: int, dice: np.random.Generator) -> Samples:
    return unit(_hits(n, dice, every_s=0.55, decay_s=0.08, tones=(420, 1130, 2210, 3470)) + 0.05 * pink(n, dice))


def ratchet(n: int, dice: np.random.Generator) -> Samples:
    return unit(_hits(n, dice, every_s=0.06, decay_s=0.006, tones=(2600, 3900, 5200)) + 0.05 * pink(n, dice))


def _hits(n: int, dice: np.random.Generator, every_s: float, decay_s: float, tones: tuple[int, ...]) -> Samples:
    sound = np.zeros(n, np.float32)
    t = np.arange(int(decay_s * 6 * RATE)) / RATE
    at = dice.uniform(0, every_s)
    while at * RATE < n:
        ring = sum(dice.uniform(0.4, 1) * np.sin(2 * np.pi * f * dice.uniform(0.97, 1.03) * t) for f in tones)
        ring = (ring + 0.5 * dice.standard_normal(len(t))) * np.exp(-t / decay_s) * dice.uniform(0.5, 1)
        start = int(at * RATE)
        sound[start : start + len(t)] += ring[: n - start].astype(np.float32)
        at += every_s * dice.uniform(0.7, 1.4)
    return sound


NOISES: dict[str, Callable[[int, np.random.Generator], Samples]] = {
    "pink": pink,
    "hum": hum,
    "compressor": compressor,
    "hammer": hammer,
    "ratchet": ratchet,
}


def unit(x: np.ndarray) -> Samples:
    """Root mean square 1."""
    return np.asarray(x / max(1e-9, float(np.sqrt(np.mean(np.square(x))))), dtype=np.float32)


def babble(voices: list[Samples], n: int, dice: np.random.Generator) -> Samples:
    """Five of the sentences at a time, each at the same level, end to end."""
    sound = np.zeros(n, np.float32)
    for _ in range(5):
        at = -int(dice.uniform(0, 2) * RATE)
        while at < n:
            one = voices[int(dice.integers(len(voices)))]
            one = one / max(1e-9, speech_level(one))
            a, b = max(0, at), min(n, at + len(one))
            if b > a:
                sound[a:b] += one[a - at : b - at]
            at += len(one) + int(dice.uniform(0.1, 0.5) * RATE)
    return unit(sound)


def speech_level(speech: Samples) -> float:
    loud = speech[np.abs(speech) > 0.05 * np.max(np.abs(speech), initial=1e-6)]
    return float(np.sqrt(np.mean(loud**2))) if loud.size else 1.0


def in_room(speech: Samples, noise: Samples, snr_db: float) -> bytes:
    """16-bit PCM; `noise` has root mean square 1 and `padded_length(speech)` samples."""
    padded = np.concatenate([np.zeros(int(BEFORE_S * RATE)), speech * (LEVEL / speech_level(speech))])
    sound = np.zeros(len(noise), np.float32)
    sound[: len(padded)] = padded
    return to_s16((sound + noise * (LEVEL * 10 ** (-snr_db / 20))).astype(np.float32))


def padded_length(speech: Samples) -> int:
    return len(speech) + int((BEFORE_S + AFTER_S) * RATE)
