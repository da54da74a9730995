"""Cuts a sound into utterances as a live session does after its sound check: the ears begin in each pause, and what
they make of it so far says how long the silence has to be (`bench_voice.session.ahead`)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future
from typing import Any

from bench_voice.audio.endpointer import SileroEndpointer
from bench_voice.audio.resample import FRAME_BYTES
from bench_voice.core.intents import Expected
from bench_voice.ports import Heard, Utterance
from bench_voice.session.ahead import Ahead, Hears
from bench_voice.session.live import FRAME_MS
from bench_voice.session.soundcheck import CheckStep, SoundCheck

ANSWER_FRAMES = 300 // FRAME_MS  # from the pause to the answer of four ears on two cores, of the sound's time


def checked(pcm: bytes) -> SileroEndpointer:
    """After the sound check that a session begins with: a room, and the person in it after its two seconds."""
    endpointer = SileroEndpointer()
    check = SoundCheck(endpointer)
    for at in range(0, len(pcm) - FRAME_BYTES + 1, FRAME_BYTES):
        if check.feed(pcm[at : at + FRAME_BYTES]) is CheckStep.DONE:
            break
    endpointer.flush()
    return endpointer


def utterances(
    pcm: bytes, ears: Hears, expected: Iterable[Expected], endpointer: SileroEndpointer | None = None
) -> Iterator[tuple[Utterance, Expected, tuple[Heard, ...]]]:
    """Each utterance with what was listened for (of `expected`, one after the other) and what was heard.

    `endpointer`: without one of `checked`, the session began without a sound check."""
    endpointer = endpointer or SileroEndpointer()
    worker = _Worker()
    ahead = Ahead(ears, endpointer, worker=worker)
    steps = iter(expected)
    now = next(steps)
    for at in range(0, len(pcm) + 1, FRAME_BYTES):
        worker.frames += 1
        is_over = at + FRAME_BYTES > len(pcm)
        found = endpointer.feed(pcm[at : at + FRAME_BYTES])
        if found is None and is_over:
            found = endpointer.flush()
        if found is None:
            ahead.frame(now)
            continue
        yield found, now, ahead.hear(found, now)
        now = next(steps)


class _Worker(Executor):
    """Has each answer later, by the sound's own time; what was not waited for is never heard."""

    def __init__(self) -> None:
        self.frames = 0

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        return _Answer(lambda: self.frames, self.frames + ANSWER_FRAMES, lambda: fn(*args, **kwargs))


class _Answer(Future[Any]):
    def __init__(self, now: Callable[[], int], due: int, hear: Callable[[], Any]) -> None:
        super().__init__()
        self._now, self._due, self._hear = now, due, hear

    def done(self) -> bool:
        return self._now() >= self._due

    def result(self, timeout: float | None = None) -> Any:
        if not super().done():
            self.set_result(self._hear())
        return super().result(timeout)

    def exception(self, timeout: float | None = None) -> BaseException | None:
        self.result()
        return None
