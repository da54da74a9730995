"""The cutting on a scripted detector (exact), and the real detector on synthetic speech and on noise."""

from __future__ import annotations

import numpy as np
import pytest

from bench_voice.audio.endpointer import WINDOW, WINDOW_MS, SileroDetector, SileroEndpointer
from bench_voice.audio.resample import FRAME_BYTES, Samples, to_s16
from bench_voice.ports import Utterance


def loud_is_speech(window: Samples) -> float:
    return float(np.max(np.abs(window)) > 0.1)


def run(endpointer: SileroEndpointer, pcm: bytes) -> list[Utterance]:
    found = [endpointer.feed(pcm[at : at + FRAME_BYTES]) for at in range(0, len(pcm), FRAME_BYTES)]
    return [utterance for utterance in (*found, endpointer.flush()) if utterance is not None]


def windows(*stretches: tuple[int, float]) -> bytes:
    """Stretches of so many detector windows at a level. Each sample is its own number below, to follow it."""
    return to_s16(np.concatenate([np.full(count * WINDOW, level, np.float32) for count, level in stretches]))


def test_one_utterance_with_pre_roll_and_the_end_where_speech_ended() -> None:
    (heard,) = run(SileroEndpointer(loud_is_speech), windows((40, 0.0), (30, 0.5), (60, 0.0)))
    assert heard.start_ms == (40 - 9) * WINDOW_MS  # 300 ms of pre-roll are 9 windows
    assert heard.end_ms == 70 * WINDOW_MS
    assert heard.speech_s == pytest.approx(30 * WINDOW_MS / 1000)
    assert len(heard.pcm) == (9 + 30 + 2) * WINDOW * 2  # 64 ms of the silence that ended it: 2 windows


def test_a_pause_inside_a_number_does_not_cut_it() -> None:
    pause = 560 // WINDOW_MS
    (heard,) = run(SileroEndpointer(loud_is_speech), windows((20, 0.0), (20, 0.5), (pause, 0.0), (20, 0.5), (40, 0.0)))
    assert heard.speech_s == pytest.approx(40 * WINDOW_MS / 1000)


def test_the_ears_get_the_same_sound_in_the_pause_and_at_the_end() -> None:
    endpointer = SileroEndpointer(loud_is_speech)
    pcm = windows((20, 0.0), (20, 0.5), (60, 0.01))
    early, ended = None, None
    for at in range(0, len(pcm), FRAME_BYTES):
        ended = endpointer.feed(pcm[at : at + FRAME_BYTES]) or ended
        early = endpointer.pause() or early
    assert early is not None
    assert early == ended


def test_a_longer_pause_makes_two_and_only_silence_is_between() -> None:
    pcm = windows((20, 0.0), (20, 0.5), (25, 0.01), (20, 0.5), (40, 0.0))
    first, second = run(SileroEndpointer(loud_is_speech), pcm)
    assert second.start_ms == first.end_ms + (25 - 9) * WINDOW_MS  # its pre-roll, all of it in the silence
    for heard in (first, second):
        assert pcm[heard.start_ms * 32 :][: len(heard.pcm)] == heard.pcm


def test_speech_without_a_pause_is_cut_at_the_longest_and_goes_on() -> None:
    pcm = windows((10, 0.0), (1000, 0.5), (40, 0.0))  # 32 s
    found = run(SileroEndpointer(loud_is_speech), pcm)
    assert [len(heard.pcm) // 32 <= 15_000 for heard in found] == [True, True, True]
    assert b"".join(heard.pcm for heard in found) == pcm[found[0].start_ms * 32 :][: sum(len(h.pcm) for h in found)]
    assert sum(heard.speech_s for heard in found) == pytest.approx(32.0)


def test_knocks_are_dropped_and_an_open_utterance_comes_out_at_the_end() -> None:
    assert run(SileroEndpointer(loud_is_speech), windows((20, 0.0), (3, 0.9), (40, 0.0))) == []
    (heard,) = run(SileroEndpointer(loud_is_speech), windows((20, 0.0), (10, 0.5)))
    assert heard.end_ms == 30 * WINDOW_MS


def test_frames_of_a_wrong_size_are_refused() -> None:
    with pytest.raises(ValueError, match="at most 640 bytes"):
        SileroEndpointer(loud_is_speech).feed(bytes(642))


def test_the_detector_gives_what_the_reference_run_gives() -> None:
    # Reference: faster-whisper's own batch run of the same network over the same sound.
    from faster_whisper.vad import get_vad_model

    sound = (np.random.default_rng(3).standard_normal(WINDOW * 30) * 0.1).astype(np.float32)
    wanted = np.asarray(get_vad_model()(sound)).reshape(-1)
    detector = SileroDetector()
    got = [detector(sound[at : at + WINDOW]) for at in range(0, len(sound), WINDOW)]
    assert got == pytest.approx(wanted.tolist(), abs=1e-4)


@pytest.mark.parametrize("kind", ["silence", "white", "hum", "clicks", "constant"])
def test_no_speech_gives_no_utterance(kind: str) -> None:
    dice, at = np.random.default_rng(5), np.arange(16_000 * 6) / 16_000
    sounds = {
        "silence": np.zeros(len(at)),
        "white": dice.standard_normal(len(at)) * 0.1,
        "hum": 0.2 * np.sin(2 * np.pi * 50 * at) + 0.1 * np.sin(2 * np.pi * 150 * at),
        "clicks": (np.arange(len(at)) % 8000 < 40) * 0.8,
        "constant": np.full(len(at), 0.3),
    }
    assert run(SileroEndpointer(), to_s16(sounds[kind].astype(np.float32))) == []
