"""What every ear says of an utterance besides its words: its length, the room and the microphone it came through."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from bench_voice.audio.resample import from_s16
from bench_voice.ports import RATE_HZ, Utterance

_WINDOW = 512  # samples, 32 ms
_SPEECH, _ROOM = 0.3, 0.12  # shares of the windows, the loudest and the quietest
_HIGH_HZ = 4200.0  # a telephone passes nothing above 4 kHz
_FLOOR = 1e-12  # of a power: nothing at all has no logarithm


def sound_evidence(utterance: Utterance) -> dict[str, float]:
    """`speech_s`; `snr_db`: the loudest third of the sound over its quietest moments, for the next fit of the model, no
    rule asks for it yet; `hiss_db`: the strongest 32 ms
    above 4.2 kHz, against the level of the speech. The s of "six" has -25 to 0 dB; where the microphone or the link
    cuts it off, some -50."""
    snr_db, hiss_db = _figures(utterance.pcm)
    return {"speech_s": utterance.speech_s, "snr_db": snr_db, "hiss_db": hiss_db}


@lru_cache(maxsize=4)
def _figures(pcm: bytes) -> tuple[float, float]:
    samples = from_s16(pcm)
    count = len(samples) // _WINDOW
    if count < 2:
        return 0.0, 0.0
    windows = samples[: count * _WINDOW].reshape(count, _WINDOW) * np.hanning(_WINDOW).astype(np.float32)
    power = np.square(np.abs(np.fft.rfft(windows, axis=1)))
    each = np.sort(power.sum(1)) + _FLOOR
    speech = float(np.mean(each[-max(1, round(_SPEECH * count)) :]))
    room = float(np.mean(each[: max(1, round(_ROOM * count))]))
    high = float(power[:, np.fft.rfftfreq(_WINDOW, 1 / RATE_HZ) > _HIGH_HZ].sum(1).max()) + _FLOOR
    return float(10 * np.log10(speech / room)), float(10 * np.log10(high / speech))
