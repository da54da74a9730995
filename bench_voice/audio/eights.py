"""Whether a word taken for "eight" is a "six" without its hiss, by the sound of its vowel.

A telephone's band cuts the s off; what is left of "six" is "eight" to every ear and to both phone networks. But the
vowel of "eight" rises and ends in a t, that of "six" doesn't rise and is short. `python -m tests.phones teach eights`
teaches it: the word's sound in ten parts, of each its spectrum below 3.7 kHz, and one small layer on top. In numpy.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from bench_voice.audio.resample import Samples
from bench_voice.ports import RATE_HZ

Floats = NDArray[np.float64]
_WINDOW, _HOP, _FFT = 400, 160, 512  # samples: 25 ms every 10 ms
_BANDS, _LOW_HZ, _HIGH_HZ = 24, 120.0, 3700.0
_PARTS = 10
_RANGE = 1e-3  # of power: 30 dB below the loudest is as silent as anything
_TRIM_DB = 20.0  # below the loudest 25 ms the word has not begun, or is over
_BEFORE_S, _BEHIND_S = 0.12, 0.18  # of the word, around the frames that an alignment gives it
_FILE = "eights.npz"


class Eights:
    """Of one sound, `frames` long for the network that aligns words with it."""

    def __init__(self, sound: Samples, frames: int) -> None:
        self._sound, self._frame = sound, len(sound) / max(1, frames)
        self._known: dict[tuple[int, int], float] = {}

    def __call__(self, spans: Sequence[tuple[int, int]], at: int) -> float:
        """How much likelier the word of that number is an "eight" than a "six" (logarithm; 0 where it is too short to
        tell). `spans`: the words' first and last frames."""
        window = self.window(spans, at)
        if window not in self._known:
            found = features(self._sound[window[0] : window[1]])
            self._known[window] = score_of(_taught(), found) if found is not None else 0.0
        return self._known[window]

    def window(self, spans: Sequence[tuple[int, int]], at: int) -> tuple[int, int]:
        """The samples to look at: a little more than the word's, none of the words' beside it."""
        first, last = spans[at]
        begin = first * self._frame - _BEFORE_S * RATE_HZ
        end = (last + 1) * self._frame + _BEHIND_S * RATE_HZ
        if at:
            begin = max(begin, (spans[at - 1][1] + 1) * self._frame)
        if at + 1 < len(spans):
            end = min(end, spans[at + 1][0] * self._frame)
        return max(0, int(begin)), int(end)


def features(sound: Samples) -> Floats | None:
    """Of the stretch of sound that holds one word; None where it is too short for one."""
    count = (len(sound) - _WINDOW) // _HOP + 1
    if count < _PARTS:
        return None
    at = np.arange(_WINDOW) + _HOP * np.arange(count)[:, None]
    power = np.square(np.abs(np.fft.rfft(sound[at] * np.hanning(_WINDOW), _FFT, axis=1)))
    bands = power @ _mel().T
    level = bands.sum(1)
    if not level.max() > 0:
        return None
    loud = np.flatnonzero(level > level.max() * 10 ** (-_TRIM_DB / 10))
    bands = bands[loud[0] : loud[-1] + 1]
    logs = np.log(bands / bands.max() + _RANGE)
    edges = np.linspace(0, len(logs), _PARTS + 1)
    parts = [logs[int(a) : max(int(a) + 1, int(np.ceil(b)))].mean(0) for a, b in itertools.pairwise(edges)]
    shape = np.stack(parts) - np.mean(parts)
    return np.concatenate([shape.ravel(), [np.log(len(logs)), len(logs) / count]])


def score_of(weights: Mapping[str, Floats], shape: Floats) -> float:
    """`weights`: `mean`, `std` of features; `first`, `first_bias` (features x width); `last` (width), `last_bias`."""
    hidden = np.maximum((shape - weights["mean"]) / weights["std"] @ weights["first"] + weights["first_bias"], 0)
    return float(hidden @ weights["last"] + weights["last_bias"])


@cache
def _taught() -> dict[str, Floats]:
    with resources.files("bench_voice.audio").joinpath(_FILE).open("rb") as file, np.load(file) as found:
        return {name: np.asarray(value, np.float64) for name, value in found.items()}


@cache
def _mel() -> Floats:
    """Bands x frequencies, triangles on the mel scale."""
    low, high = (2595 * np.log10(1 + hz / 700) for hz in (_LOW_HZ, _HIGH_HZ))
    corners = 700 * (10 ** (np.linspace(low, high, _BANDS + 2) / 2595) - 1)
    hz = np.fft.rfftfreq(_FFT, 1 / RATE_HZ)
    below, middle, above = (corners[at : at + _BANDS, None] for at in range(3))
    rising, falling = (hz - below) / (middle - below), (above - hz) / (above - middle)
    return np.asarray(np.clip(np.minimum(rising, falling), 0, None), np.float64)
