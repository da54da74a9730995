"""All ears on one utterance at once: the first in its child process, the others in threads. And the further looks."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Protocol, runtime_checkable

from bench_voice.core.intents import Expected
from bench_voice.ports import Ear, Heard, Look, Utterance

# Other draws from the ear that writes freely: the same sound a little faster and a little slower.
OTHER_SPEEDS = (14 / 13, 13 / 14)


@runtime_checkable
class LooksCloser(Protocol):
    """An ear that can say more of the utterance that it heard last, when asked."""

    name: str

    def closer(self, utterance: Utterance, heard: Heard) -> Heard: ...


@runtime_checkable
class HearsFaster(Protocol):
    """An ear that can hear the same sound at another speed."""

    name: str

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
        """`heard` with what `look` adds to it: more evidence, or the other speeds of the first free ear at the end."""
        if look is Look.CLOSER:
            again = {ear.name: ear for ear in self.ears if isinstance(ear, LooksCloser)}
            asked = [
                (h, self._pool.submit(again[h.ear].closer, utterance, h) if h.ear in again else None) for h in heard
            ]
            return tuple(h if more is None else more.result() for h, more in asked)
        free = [ear for ear in self.ears if isinstance(ear, HearsFaster)][:1]
        found = [self._pool.submit(ear.at_speed, utterance, speed) for ear in free for speed in OTHER_SPEEDS]
        return (*heard, *(one.result() for one in found))

    def close(self) -> None:
        self._pool.shutdown(wait=True)
        for ear in self.ears:
            ear.close()
