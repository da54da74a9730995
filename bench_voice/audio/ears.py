"""All ears on one utterance at once: the first in its child process, the second in a thread."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

from bench_voice.core.intents import Expected
from bench_voice.ports import Ear, Heard, Utterance


class Ears:
    """For one thread. `hear` takes as long as the slowest ear; the answers are in the order of `ears`."""

    def __init__(self, ears: Sequence[Ear]) -> None:
        self.ears = tuple(ears)
        self._pool = ThreadPoolExecutor(max_workers=max(1, len(self.ears)), thread_name_prefix="ear")

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

    def close(self) -> None:
        self._pool.shutdown(wait=True)
        for ear in self.ears:
            ear.close()
