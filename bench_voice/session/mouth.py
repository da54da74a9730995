"""What is said goes out here: printed, then spoken. `Mouth` in the caller's time (recordings, typed lines), `LiveMouth`
in a thread of its own, so that listening goes on and a key stops it at once."""

from __future__ import annotations

import queue
import re
import threading
import time
from array import array
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from bench_voice.errors import BenchError
from bench_voice.ports import RATE_HZ, SENTENCE_GAP, Voice
from bench_voice.session.duplex import Duplex

_LONG_PART = 120  # characters: longer sentences are broken at a comma as well
_WAIT_BACK_S = 0.25
_SILENT = 60  # of 32768: about 55 dB down
_EDGE = RATE_HZ // 100


class Loudspeaker(Protocol):
    """What LiveMouth needs of `audio.player.Player`."""

    loudness_db: float
    ended_s: float

    @property
    def is_open(self) -> bool: ...
    def play(self, pcm: bytes, is_cancelled: Callable[[], bool]) -> bool: ...
    def mix(self, pcm: bytes) -> None: ...
    def wake(self) -> None: ...
    def wait_open(self, timeout_s: float) -> bool: ...


def parts(sentence: str) -> tuple[str, ...]:
    """A sentence in pieces that can be stopped in between: at full stops, and long ones at commas as well."""
    found = re.split(r"(?<=[.?!:;])\s+", sentence.strip())
    out: list[str] = []
    for one in found:
        while len(one) > _LONG_PART:
            at = one.rfind(", ", 20, _LONG_PART)
            if at < 0:
                break
            out.append(one[: at + 1])
            one = one[at + 2 :]
        if one:
            out.append(one)
    return tuple(out)


def trimmed(pcm: bytes) -> bytes:
    """Without the silence that a synthesiser leaves around its words: it would delay the answer and keep the microphone
    closed."""
    samples = array("h", pcm[: len(pcm) // 2 * 2])
    first = next((at for at, x in enumerate(samples) if abs(x) > _SILENT), len(samples))
    last = next((at for at in range(len(samples) - 1, first - 1, -1) if abs(samples[at]) > _SILENT), first)
    return samples[max(0, first - _EDGE) : last + _EDGE].tobytes() if first < len(samples) else b""


class Mouth:
    """Prints each turn, then speaks it into `keep` (a sound file), or not at all. In the caller's thread."""

    def __init__(self, show: Callable[[str], None], voice: Any = None, keep: Any = None) -> None:
        self.show, self.voice, self.keep = show, voice, keep
        self.respell: Callable[[str], str] = str  # how the voice is to see a text: a sheet may spell words anew

    def say(self, sentences: tuple[str, ...]) -> None:
        if not sentences:
            return
        self.show(" ".join(sentences))
        if self.voice is None or self.keep is None:
            return
        for sentence in sentences:
            self.keep.write(self.voice.speak(self.respell(sentence)) + SENTENCE_GAP)

    def wait_quiet(self, timeout_s: float) -> bool:
        """Everything has been said when `say` returns."""
        return True

    def close(self) -> None:
        if self.keep is not None:
            self.keep.close()
        if self.voice is not None:
            self.voice.close()


@dataclass(frozen=True)
class _Turn:
    number: int
    sentences: tuple[str, ...]
    notice: str = ""


class LiveMouth:
    """Speaks turns one after the other. `say`, `stop`, `tone` from any thread.

    `on_voice_lost`: called once, in the thread that speaks, when the voice has failed twice or what it says can be put
    nowhere; from then on it only prints. `make_voice` makes the voice that takes the place of one that failed.
    """

    def __init__(
        self,
        show: Callable[[str], None],
        voice: Voice,
        player: Loudspeaker,
        duplex: Duplex,
        *,
        make_voice: Callable[[], Voice],
        on_voice_failed: Callable[[BenchError], None] = lambda error: None,
        on_voice_lost: Callable[[BenchError], None] = lambda error: None,
        has_tones: bool = True,
        on_synthesis: Callable[[float], None] = lambda seconds: None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.show, self.voice, self.player, self.duplex = show, voice, player, duplex
        self._make_voice, self._on_voice_failed, self._on_voice_lost = make_voice, on_voice_failed, on_voice_lost
        self._has_tones, self._clock, self._on_synthesis = has_tones, clock, on_synthesis
        self.respell: Callable[[str], str] = str
        self._turns: queue.SimpleQueue[_Turn | None] = queue.SimpleQueue()
        self._lock = threading.Condition()
        self._number = 0  # of the turn that was given last
        self._spoken = 0  # of the turn that is over
        self._stopped_upto = 0
        self._notices: dict[str, int] = {}
        self._last: tuple[str, ...] = ()
        self._stopped: tuple[str, ...] = ()
        self._failures = 0
        self._is_closed = False
        self._thread = threading.Thread(target=self._run, name="mouth", daemon=True)
        self._thread.start()

    def say(self, sentences: tuple[str, ...]) -> None:
        """Prints at once, speaks when what stands before it has been said."""
        if not sentences:
            return
        self.show(" ".join(sentences))
        with self._lock:
            self._number += 1
            self._last, self._stopped = sentences, ()
            turn = _Turn(self._number, sentences)
        self._turns.put(turn)

    def notice(self, sentences: tuple[str, ...], about: str) -> None:
        """Like `say`, for what happened to a device: of several about the same that wait, only the newest is spoken. It
        is no turn of the conversation, so it is not what is said again."""
        self.show(" ".join(sentences))
        with self._lock:
            self._number += 1
            self._notices[about] = self._number
            turn = _Turn(self._number, sentences, about)
        self._turns.put(turn)

    def tone(self, pcm: bytes) -> None:
        """A short sound besides, where they are wanted and nothing is being said."""
        if self._has_tones and not self.is_busy:
            self.player.mix(pcm)

    @property
    def is_busy(self) -> bool:
        """Whether something is being said or waits to be."""
        with self._lock:
            return self._spoken < self._number

    def stop(self) -> bool:
        """Cuts off what is being said and what waits. True when there was something."""
        with self._lock:
            if self._spoken >= self._number or self._stopped_upto >= self._number:
                return False
            self._stopped_upto = self._number
            self._stopped = self._last
        self.player.wake()
        return True

    def repeat(self, *, only_stopped: bool = False) -> bool:
        """Says the last turn again (or only one that was stopped). True when there is one."""
        with self._lock:
            again = self._stopped if only_stopped else self._last
        self.say(again)
        return bool(again)

    def wait_quiet(self, timeout_s: float) -> bool:
        """Until everything has been said."""
        with self._lock:
            return self._lock.wait_for(lambda: self._spoken >= self._number, timeout_s)

    def close(self, timeout_s: float = 0.0) -> None:
        """Says what is left for at most `timeout_s`, then ends."""
        if timeout_s and self._failures < 2 and self.player.is_open:
            self.wait_quiet(timeout_s)
        self._is_closed = True
        with self._lock:
            self._stopped_upto = self._number
        self._turns.put(None)
        self.player.wake()
        self._thread.join(timeout=3.0)
        closer = getattr(self.voice, "close", None)
        if closer is not None:
            closer()

    # -- the thread

    def _run(self) -> None:
        while (turn := self._turns.get()) is not None:
            is_stale = bool(turn.notice) and self._notices[turn.notice] > turn.number
            if self._failures < 2 and not is_stale:
                for sentence in turn.sentences:
                    for part in parts(sentence):
                        self._part(turn.number, part)
            with self._lock:
                self._spoken = turn.number
                self._lock.notify_all()

    def _is_stopped(self, number: int) -> bool:
        return self._is_closed or self._stopped_upto >= number

    def _part(self, number: int, text: str) -> None:
        """Until it has been said whole, or is stopped: a loudspeaker that went away is waited for."""
        while not self._is_stopped(number):
            if not self.player.is_open and not self.player.wait_open(_WAIT_BACK_S):
                continue
            begun_s = self._clock()
            pcm = self._synthesised(text)
            if pcm is None:
                return
            self._on_synthesis(self._clock() - begun_s)
            self.duplex.began(self._clock())
            try:
                is_whole = self.player.play(trimmed(pcm) + SENTENCE_GAP, lambda: self._is_stopped(number))
            except BenchError as error:  # a loudspeaker that is a file, on a disk that is full
                self._failures = 2
                self._on_voice_lost(error)
                return
            finally:
                self.duplex.ended(max(self._clock(), self.player.ended_s))
            if is_whole:
                return

    def _synthesised(self, text: str) -> bytes | None:
        while self._failures < 2:
            try:
                return self.voice.speak(self.respell(text))
            except BenchError as error:
                self._failures += 1
                if self._failures >= 2:
                    self._on_voice_lost(error)
                    return None
                self._on_voice_failed(error)
                try:
                    self.voice = self._make_voice()
                except BenchError as again:
                    self._failures = 2
                    self._on_voice_lost(again)
                    return None
        return None
