"""Rooms for the corpus: what a voice some way off the microphone sounds like. Shoebox rooms by image sources.

J. B. Allen and D. A. Berkley, "Image method for efficiently simulating small-room acoustics", Journal of the Acoustical
Society of America 65(4), 1979: reflections one by one; behind them a tail of noise that decays at the same rate.
Each part of the corpus has rooms of its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench_voice.audio.resample import Samples

RATE = 16_000
_SOUND_M_S = 343.0
_ORDER = 7  # images a side in each direction
_LEAST_M = 0.15  # from a wall
_SEEDS = {"develop": 101, "calibrate": 202, "report": 303}
_ROOMS = 12  # a part


@dataclass(frozen=True)
class Place:
    """`rt60_s`: in which reverberation falls by 60 dB; `distance_m`: from the mouth to the microphone."""

    rt60_s: float
    distance_m: float


def response(part: str, place: Place, seed: int) -> Samples:
    """The room's answer to one click, the direct sound first and of height 1."""
    of_part = np.random.default_rng(_SEEDS[part]).uniform([3.0, 2.8, 2.3], [8.5, 7.0, 3.6], (_ROOMS, 3))
    dice = np.random.default_rng(seed)
    size = of_part[int(dice.integers(_ROOMS))]
    volume = float(np.prod(size))
    surface = 2 * float(size[0] * size[1] + size[0] * size[2] + size[1] * size[2])
    absorbed = min(0.9, 0.161 * volume / (surface * place.rt60_s))  # Sabine
    reflected = math.sqrt(1 - absorbed)
    microphone = size * dice.uniform(0.3, 0.7, 3)
    away = dice.standard_normal(3) * (1, 1, 0.4)
    mouth = np.clip(microphone + place.distance_m * away / np.linalg.norm(away), _LEAST_M, size - _LEAST_M)
    delays, heights = _images(size, mouth, microphone, reflected)
    length = int(min(1.2, place.rt60_s * 1.1) * RATE) + 1
    found = np.zeros(length + 2)
    direct = float(delays.min())
    at = (delays - direct) * RATE
    whole = at.astype(np.int64)
    near = whole < length
    rest = at - whole
    np.add.at(found, whole[near], (heights * (1 - rest))[near])
    np.add.at(found, whole[near] + 1, (heights * rest)[near])
    # Beyond the images that were counted: noise that goes on at their level.
    t = np.arange(len(found)) / RATE
    begin = _ORDER * float(size.min()) / _SOUND_M_S
    before = found[int(0.6 * begin * RATE) : int(begin * RATE)]
    level = float(np.sqrt(np.mean(before**2))) if len(before) else 0.0
    tail = dice.standard_normal(len(found)) * level * np.exp(-6.9 * (t - 0.8 * begin) / place.rt60_s)
    found = np.where(t > begin, tail, found)
    return np.asarray(found / max(1e-6, found[:3].sum()), np.float32)


def _images(
    size: NDArray[np.float64], mouth: NDArray[np.float64], microphone: NDArray[np.float64], reflected: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Delay in seconds and height of each reflection."""
    steps = np.arange(-_ORDER, _ORDER + 1)
    lattice = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), -1).reshape(-1, 3)
    delays, heights = [], []
    for signs in np.array(np.meshgrid([1, -1], [1, -1], [1, -1])).reshape(3, -1).T:
        where = 2 * lattice * size + signs * mouth
        bounces = np.abs(2 * lattice - (signs < 0)).sum(1)
        far = np.linalg.norm(where - microphone, axis=1)
        delays.append(far / _SOUND_M_S)
        heights.append(reflected**bounces / np.maximum(far, 0.1))
    return np.concatenate(delays), np.concatenate(heights)


def reverberated(speech: Samples, part: str, place: Place, seed: int) -> Samples:
    """The speech as the microphone gets it, its reverberation behind it."""
    click = response(part, place, seed)
    size = len(speech) + len(click) - 1
    spectrum = np.fft.rfft(speech, size) * np.fft.rfft(click, size)
    return np.asarray(np.fft.irfft(spectrum, size), np.float32)
