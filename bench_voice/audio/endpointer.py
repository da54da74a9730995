"""Cuts a stream into utterances with the silero voice detector, a network that onnxruntime runs.

A sentence ends after `hang_over_ms` without speech: long enough for the pause in "four … point six". Whoever listens
may look at it earlier (`pause`) and have it end sooner or later than that (`wait_ms`).
In a room that talks itself, sound no louder than the room is not the person (`set_floor`, after a sound check); what of
it stands before and behind the person's words is cut off, and long enough behind them is silence (`audio.edges`).
Frames of 20 ms are gathered into the detector's windows of 32 ms (512 samples, 64 of context before them).
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np

from bench_voice.audio.edges import own_words, padded
from bench_voice.audio.floor import OVER_WINDOWS, Floor, power_of
from bench_voice.audio.resample import FRAME_BYTES, Samples, from_s16
from bench_voice.audio.room import sound_evidence
from bench_voice.errors import EngineError
from bench_voice.ports import RATE_HZ, Utterance

WINDOW, CONTEXT = 512, 64
WINDOW_MS = WINDOW * 1000 // RATE_HZ
WINDOW_BYTES = WINDOW * 2

_FILE = "silero_vad_v6.onnx"
# The one that silero-vad 6 releases (MIT; THIRD_PARTY.md). Another one hears other things.
_SUM = "4cbf549b8326f60f80f2536d9eefeb450a9abe83365a098031c89719f1be17d2"

Detector = Callable[[Samples], float]


def _network() -> bytes:
    """Raises EngineError `vad-missing`."""
    try:
        found = resources.files("bench_voice.audio").joinpath(_FILE).read_bytes()
    except OSError:
        found = b""
    if hashlib.sha256(found).hexdigest() != _SUM:
        raise EngineError(
            f"The voice detector's file {_FILE} is missing or is not the one that was released.",
            mend="Install bench-voice again.",
            slug="vad-missing",
        )
    return found


class SileroDetector:
    """P(speech) of each 32 ms window, with the detector's memory kept from window to window. One thread."""

    def __init__(self, path: Path | None = None) -> None:
        network = path.read_bytes() if path else _network()
        try:
            import onnxruntime

            options = onnxruntime.SessionOptions()
            options.inter_op_num_threads = options.intra_op_num_threads = 1
            options.enable_cpu_mem_arena = False
            options.log_severity_level = 4
            self._net: Any = onnxruntime.InferenceSession(
                network, providers=["CPUExecutionProvider"], sess_options=options
            )
        except Exception as error:  # onnxruntime raises its own unnamed types
            raise EngineError(
                "The voice detector could not be loaded.",
                mend='Reinstall it with: pip install --force-reinstall "onnxruntime>=1.25,<2" bench-voice.',
                slug="vad-broken",
            ) from error
        self._h = np.zeros((1, 1, 128), dtype=np.float32)
        self._c = np.zeros((1, 1, 128), dtype=np.float32)
        self._context = np.zeros(CONTEXT, dtype=np.float32)

    def __call__(self, window: Samples) -> float:
        block = np.concatenate([self._context, window])[None]
        out, self._h, self._c = self._net.run(None, {"input": block, "h": self._h, "c": self._c})
        self._context = window[-CONTEXT:].copy()
        return float(np.asarray(out).reshape(-1)[0])


class SileroEndpointer:
    """ports.Endpointer. Times in ms; `detector` may be replaced for tests.

    `start`, `stay`: P(speech) to begin and to go on. Nothing is lost between two utterances: what follows an end is
    the pre-roll of the next. An utterance longer than `longest_s` is cut there and goes on in the next one.
    Utterances with less than `least_speech_s` of detected speech are dropped (knocks, clicks).
    """

    def __init__(
        self,
        detector: Detector | None = None,
        *,
        pre_roll_ms: int = 300,
        hang_over_ms: int = 640,
        longest_s: float = 15.0,
        least_speech_s: float = 0.2,
        settle_ms: int = 64,
        start: float = 0.5,
        stay: float = 0.35,
    ) -> None:
        self._detector = detector or SileroDetector()
        self._pre_roll = max(1, round(pre_roll_ms / WINDOW_MS))
        self._hang_over = max(1, round(hang_over_ms / WINDOW_MS))
        self._settle = max(1, round(settle_ms / WINDOW_MS))
        self._wait = self._hang_over
        self._longest = int(longest_s * 1000 / WINDOW_MS)
        self._least_speech_s = least_speech_s
        self._start, self._stay = start, stay
        self._bytes = bytearray()
        self._before: deque[bytes] = deque(maxlen=self._pre_roll)
        self._windows: list[bytes] = []
        self._powers: list[float] = []  # of those windows
        self._at = 0  # windows seen since the beginning of the stream
        self._speech = self._silence = 0  # windows of the open utterance: spoken, silent at its end
        self.is_speaking = False
        self._has_paused = False
        self._floor: Floor | None = None

    @property
    def floor_db(self) -> float | None:
        """The level at and below which sound is taken for the room's; None: the detector alone decides."""
        return self._floor.floor_db if self._floor else None

    def set_floor(self, floor_db: float, room_db: float) -> None:
        """For a room that talks: its loud level and its usual one, in dB below full scale (`audio.floor`)."""
        self._floor = Floor(floor_db, room_db)
        # The level over a syllable rises later than the detector: so much more is kept of what was before.
        self._before = deque(self._before, maxlen=self._pre_roll + OVER_WINDOWS)

    def forget_floor(self) -> None:
        self._floor = None
        self._before = deque(self._before, maxlen=self._pre_roll)

    def hiss_db(self, utterance: Utterance) -> float:
        """How much of the utterance lies above a telephone's band; see `audio.room`."""
        return sound_evidence(utterance)["hiss_db"]

    def feed(self, frame: bytes) -> Utterance | None:
        """One frame in (any even number of bytes up to one frame); an utterance out when one has ended."""
        if len(frame) > FRAME_BYTES or len(frame) % 2:
            raise ValueError(f"a frame has at most {FRAME_BYTES} bytes and an even number, not {len(frame)}")
        self._bytes += frame
        if len(self._bytes) < WINDOW_BYTES:
            return None
        window = bytes(self._bytes[:WINDOW_BYTES])
        del self._bytes[:WINDOW_BYTES]
        return self._window(window)

    def flush(self) -> Utterance | None:
        """The end of the stream: what is open comes out now. The endpointer can go on afterwards."""
        ended = None
        if self._bytes:
            rest = bytes(self._bytes).ljust(WINDOW_BYTES, b"\0")
            self._bytes.clear()
            ended = self._window(rest)
        return ended or (self._cut() if self.is_speaking else None)

    @property
    def silence_ms(self) -> int:
        """Without speech at the end of the open utterance."""
        return self._silence * WINDOW_MS if self.is_speaking else 0

    def pause(self) -> Utterance | None:
        """What has been said so far, once, when the speaker has been silent for `settle_ms`: time to begin decoding."""
        if not self.is_speaking or self._silence != self._settle or self._has_paused:
            return None
        self._has_paused = True
        utterance = self._made()
        return utterance if utterance.speech_s >= self._least_speech_s else None

    def wait_ms(self, milliseconds: int, end_ms: int) -> None:
        """End the open utterance after so much silence, if its speech still ends at `end_ms`: what was said so far is
        not what is said when a word has come since. The next one has the usual again."""
        if end_ms == (self._at - self._silence) * WINDOW_MS:
            self._wait = max(1, round(milliseconds / WINDOW_MS))

    def _window(self, window: bytes) -> Utterance | None:
        samples = from_s16(window)
        chance = self._detector(samples)
        if self._floor is not None and not self._floor.is_over(samples):
            chance = 0.0
        if self._floor is not None and self._floor.is_past:
            self.forget_floor()
        self._at += 1
        if not self.is_speaking:
            if chance < self._start:
                self._before.append(window)
                return None
            self.is_speaking = True
            self._windows = [*self._before, window]
            self._powers = [power_of(from_s16(one)) for one in self._windows]
            self._before.clear()
            self._speech, self._silence = 1, 0
            self._wait, self._has_paused = self._hang_over, False
            return None
        self._windows.append(window)
        self._powers.append(power_of(samples))
        if chance >= self._stay:
            self._speech += 1
            self._silence = self._talk_behind()
            self._wait, self._has_paused = self._hang_over, False
        else:
            self._silence += 1
        if self._silence >= self._wait:
            return self._cut()
        if len(self._windows) >= self._longest:
            return self._cut(goes_on=self._silence == 0)
        return None

    def _talk_behind(self) -> int:
        """Windows at the end in which others talk, when there are enough of them to end the sentence. Where the room's
        level is known, the detector was overruled already."""
        if self._floor is not None or len(self._powers) <= self._hang_over:
            return 0
        behind = len(self._powers) - own_words(self._powers, None)[1]
        return behind if behind >= self._hang_over else 0

    def _cut(self, goes_on: bool = False) -> Utterance | None:
        utterance = self._made()
        # The silence at the end is also the pre-roll of what comes next.
        self._before.clear()
        self._before.extend(self._windows[len(self._windows) - self._silence :] if self._silence else ())
        self._windows, self._powers = [], []
        self.is_speaking = goes_on
        self._speech = self._silence = 0
        return utterance if utterance.speech_s >= self._least_speech_s else None

    def _made(self) -> Utterance:
        at = self._at - len(self._windows)
        # However long the silence was, the ears get as much of it as in the pause: with 640 ms of noise behind the
        # words, of 108 mixed sentences two ears had 77 right and made up 2 alike, with 128 ms 82 and none. With 64 ms
        # the decision comes that much sooner: of 140 sentences two were decided otherwise, of 31 in babble none.
        spare = max(0, self._silence - self._settle)
        count = len(self._windows) - spare
        first, after = own_words(self._powers[:count], self.floor_db)
        begin, end = padded(first, after, count)
        return Utterance(
            pcm=b"".join(self._windows[begin:end]),
            start_ms=(at + begin) * WINDOW_MS,
            end_ms=(self._at - self._silence) * WINDOW_MS,
            speech_s=min(self._speech, after - first) * WINDOW_MS / 1000,
        )
