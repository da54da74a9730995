"""All ears on one utterance at once: the first in its child process, the others in threads. And the further looks."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from functools import partial
from typing import Protocol, runtime_checkable

from bench_voice.audio.ear_process import ProcessEar
from bench_voice.core.intents import Expected
from bench_voice.errors import EarFailed
from bench_voice.ports import Ear, Heard, Pass, Utterance


@runtime_checkable
class LooksCloser(Protocol):
    """An ear that can say more of the utterance that it heard last, when asked."""

    name: str

    def closer(self, utterance: Utterance, heard: Heard) -> Heard: ...


@runtime_checkable
class Judges(Protocol):
    """An ear that can say how well given texts fit the utterance that it heard last."""

    name: str

    def opinion(self, utterance: Utterance, heard: Heard, texts: Sequence[str]) -> Heard: ...


@runtime_checkable
class Sounds(Protocol):
    """An ear whose phone network can say the same of texts that nobody wrote."""

    name: str

    def sounded(self, utterance: Utterance, heard: Heard, texts: Sequence[str]) -> Heard: ...


# The free ear that takes longest. A lighter one of its family hears as well; it begins when the others aren't enough.
LAST = "whisper"

IsEnough = Callable[[tuple[Heard, ...]], bool]


class Ears:
    """For one thread. `hear` takes as long as the slowest ear; the answers are in the order of `ears`.

    What an ear raises comes out of `prepare`, `hear` and `more` as EarFailed, with its name, when every ear has ended.
    """

    def __init__(self, ears: Sequence[Ear]) -> None:
        self.ears = tuple(ears)
        # No more at once than there are processors: side by side on fewer, all of them would be late.
        at_once = max(2, min(len(self.ears), os.cpu_count() or 2))
        self._pool = ThreadPoolExecutor(max_workers=at_once, thread_name_prefix="ear")

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(ear.name for ear in self.ears)

    def unloaded(self) -> tuple[EarFailed, ...]:
        """The ears that cannot load, once all of them have tried. From any thread, before the first `hear` only.

        Not those in a child process: a child is for one thread at a time, and says so at the first sentence.
        """
        failed = []
        for ear in self.ears:
            ready = getattr(ear, "wait_ready", None)
            if ready is None or isinstance(ear, ProcessEar):
                continue
            try:
                ready()
            except Exception as error:
                failed.append(EarFailed(ear.name, error))
        return tuple(failed)

    def leave_out(self, name: str) -> None:
        """Goes on without that ear. Not while the ears hear."""
        gone = [ear for ear in self.ears if ear.name == name]
        self.ears = tuple(ear for ear in self.ears if ear.name != name)
        for ear in gone:
            with contextlib.suppress(Exception):  # it is broken, its end may be as well
                ear.close()

    def wait_ready(self) -> None:
        """Until every ear has loaded. Raises the EngineError of one that can't."""
        for ear in self.ears:
            wait = getattr(ear, "wait_ready", None)
            if wait is not None:
                wait()

    def prepare(self, expected: Expected) -> None:
        for ear in self.ears:
            try:
                ear.prepare(expected)
            except Exception as error:  # as in `_answers`
                raise EarFailed(ear.name, error) from error

    def hear(self, utterance: Utterance, is_enough: IsEnough = lambda heard: False) -> tuple[Heard, ...]:
        """`is_enough`: asked with the answers of all ears but the slowest, whether that one need not hear it at all."""
        last = [ear for ear in self.ears if ear.name == LAST]
        others = [ear for ear in self.ears if ear not in last]
        heard = self._hear(others, utterance)
        if not last or (others and is_enough(heard)):
            return heard
        found = {one.ear: one for one in (*heard, *self._hear(last, utterance))}
        return tuple(found[ear.name] for ear in self.ears)

    def _hear(self, ears: Sequence[Ear], utterance: Utterance) -> tuple[Heard, ...]:
        return self._answers([(ear.name, self._pool.submit(ear.hear, utterance)) for ear in ears])

    def more(
        self, utterance: Utterance, heard: Sequence[Heard], which: Pass, texts: Sequence[str] = ()
    ) -> tuple[Heard, ...]:
        """`heard` with what the pass adds to it: more evidence, or an opinion on `texts`."""
        wanted: dict[str, Callable[[Heard], Heard]] = {}
        for ear in self.ears:
            if which is Pass.CLOSER and isinstance(ear, LooksCloser):
                wanted[ear.name] = partial(ear.closer, utterance)
            elif which is Pass.OPINION and isinstance(ear, Judges):
                wanted[ear.name] = partial(ear.opinion, utterance, texts=texts)
            elif which is Pass.SOUNDS and isinstance(ear, Sounds):
                wanted[ear.name] = partial(ear.sounded, utterance, texts=texts)
        asked = [(h.ear, self._pool.submit(wanted[h.ear], h)) for h in heard if h.ear in wanted]
        more = iter(self._answers(asked))
        return tuple(next(more) if h.ear in wanted else h for h in heard)

    def _answers(self, asked: Sequence[tuple[str, Future[Heard]]]) -> tuple[Heard, ...]:
        """Waits for all of them, so that none still hears when the one that failed is started again or left out."""
        wait([answer for _, answer in asked])
        for name, answer in asked:
            error = answer.exception()
            if isinstance(error, Exception):  # a recogniser may raise whatever it likes
                raise EarFailed(name, error) from error
        return tuple(answer.result() for _, answer in asked)

    def close(self) -> None:
        self._pool.shutdown(wait=True)
        for ear in self.ears:
            ear.close()
