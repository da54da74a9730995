"""All ears on one utterance at once: the first in its child process, the second in a thread. And the second looks."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Protocol, runtime_checkable

from bench_voice.core.intents import Expected
from bench_voice.ports import Ear, Heard, Look, Utterance

# Other draws from the ear that writes freely: the same sound a little faster and a little slower.
OTHER_SPEEDS = (14 / 13, 13 / 14)


@runtime_checkable
class LooksAgain(Protocol):
    """An ear that can say more of an utterance than its free text, when asked."""

    name: str

    def limited(self, utterance: Utterance, heard: Heard) -> Heard: ...
    def at_speed(self, utterance: Utterance, speed: float) -> Heard: ...


class Ears:
    """For one thread. `hear` takes as long as the slowest ear; the answers are in the order of `ears`."""

    def __init__(self, ears: Sequence[Ear]) -> None:
        self.ears = tuple(ears)
        self._pool = ThreadPoolExecutor(max_workers=max(2, len(self.ears)), thread_name_prefix="ear")

    def wait_ready(self) -> None:
        """Until every ear has loaded. Raises the EngineError of one that can't."""
        for ear in self.ears:
            wait = getattr(ear, "wait_ready", None)
            if wait is not None:
                wait()

    def prepare(self, expected: Expected) -> None:
        for ear in self.ears:
            ear.prepare(expected)

    def hear(self, utterance: Utterance) -> tuple[Heard, ...]:
        return tuple(self._pool.map(lambda ear: ear.hear(utterance), self.ears))

    def more(self, utterance: Utterance, heard: Sequence[Heard], look: Look) -> tuple[Heard, ...]:
        """`heard` with what `look` adds to it: the limited words of free text, or the other speeds at the end."""
        again = {ear.name: ear for ear in self.ears if isinstance(ear, LooksAgain)}
        if look is Look.LIMITED:
            return tuple(again[h.ear].limited(utterance, h) if h.ear in again else h for h in heard)
        found = [self._pool.submit(ear.at_speed, utterance, speed) for ear in again.values() for speed in OTHER_SPEEDS]
        return (*heard, *(one.result() for one in found))

    def close(self) -> None:
        self._pool.shutdown(wait=True)
        for ear in self.ears:
            ear.close()
