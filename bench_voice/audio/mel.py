"""What a Whisper's encoder takes: the logarithm of 80 mel bands of power, 100 frames a second.

The filters are triangles on Slaney's mel scale (M. Slaney, Auditory Toolbox, Interval Research technical report
1998-010: linear below 1 kHz, 27 steps to 6.4 kHz above), each of area one. Scaling as in A. Radford et al., "Robust
Speech Recognition via Large-Scale Weak Supervision" (2022), section 2.2 and its published code.
"""

from __future__ import annotations

import functools

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from bench_voice.audio.resample import Samples
from bench_voice.ports import RATE_HZ

BANDS = 80
_WINDOW, _STEP = 400, 160  # samples: 25 ms and 10 ms
_HZ_A_MEL = 200 / 3
_BEND_HZ, _BEND_MEL = 1000.0, 15.0
_LOG_STEP = np.log(6.4) / 27.0
_LEAST = 1e-10
_DEPTH = 8.0  # decades below the loudest band


def _hz(mels: NDArray[np.float64]) -> NDArray[np.float64]:
    above = np.maximum(mels, _BEND_MEL) - _BEND_MEL
    found: NDArray[np.float64] = np.where(mels >= _BEND_MEL, _BEND_HZ * np.exp(_LOG_STEP * above), mels * _HZ_A_MEL)
    return found


@functools.cache
def _filters() -> NDArray[np.float32]:
    """Bands x bins of the spectrum."""
    highest = _BEND_MEL + np.log(RATE_HZ / 2 / _BEND_HZ) / _LOG_STEP
    edges = _hz(np.linspace(0.0, highest, BANDS + 2))
    bins = np.fft.rfftfreq(_WINDOW, 1 / RATE_HZ)
    widths = np.diff(edges)[:, None]
    away = edges[:, None] - bins
    triangles = np.maximum(0.0, np.minimum(-away[:-2] / widths[:-1], away[2:] / widths[1:]))
    found: NDArray[np.float32] = (triangles * (2.0 / (edges[2:] - edges[:-2]))[:, None]).astype(np.float32)
    return found


def log_mel(samples: Samples) -> NDArray[np.float32]:
    """`BANDS` x frames; samples of full scale 1 at 16 kHz, at least 25 ms. Frames are centred on their time."""
    window = np.hanning(_WINDOW + 1)[:-1].astype(np.float32)
    around = np.pad(np.asarray(samples, np.float32), _WINDOW // 2, mode="reflect")
    frames = sliding_window_view(around, _WINDOW)[::_STEP]
    spectrum = np.fft.rfft(frames * window, axis=-1).T.astype(np.complex64)
    power = np.abs(spectrum[:, :-1]) ** 2
    levels = np.log10(np.maximum(_filters() @ power, _LEAST))
    found: NDArray[np.float32] = ((np.maximum(levels, levels.max() - _DEPTH) + 4.0) / 4.0).astype(np.float32)
    return found
