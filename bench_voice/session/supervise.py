"""Watches over a live session: ears that fail are started once again, sleep of the machine is noticed."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable

from bench_voice.core.intents import Expected, Intent
from bench_voice.errors import BenchError, EngineError
from bench_voice.ports import Heard, Utterance
from bench_voice.session.listen import Listener

_GOOD_AGAIN = 20  # utterances without a failure, and another restart is allowed
_FAILED = ("timeout", "crash")


class EarsLost(EngineError):
    """The ears failed, were started again, and failed again: typed mode is what is left."""


class GuardedEars:
    """A Listener that survives its ears. `on_restart` is called when they are started again.

    `hear` gives () for an utterance that was lost with them; raises EarsLost when they fail a second time.
    """

    def __init__(self, make: Callable[[], Listener], on_restart: Callable[[str], None]) -> None:
        self._make, self._on_restart = make, on_restart
        self._listener = make()
        self._restarts = self._silent = self._good = 0

    def hear(
        self, utterance: Utterance, expected: Expected, is_wanted: Callable[[], bool] = lambda: True
    ) -> tuple[Heard, ...]:
        try:
            heard = self._listener.hear(utterance, expected, is_wanted)
        except Exception as error:  # a recogniser may raise whatever it likes; the session must not end with it
            self._failed(str(error) if isinstance(error, BenchError) else f"{type(error).__name__}: {error}")
            return ()
        if heard and all(any(one.evidence.get(key) for key in _FAILED) for one in heard):
            # Ears in a child of their own come back by themselves; twice in a row is more than a stumble.
            self._silent += 1
            if self._silent > 1:
                self._failed("the recogniser does not answer")
            return heard
        self._silent = 0
        self._good += 1
        if self._good >= _GOOD_AGAIN:
            self._restarts = 0
        return heard

    def meaning(self, heard: tuple[Heard, ...], expected: Expected) -> Intent | None:
        return self._listener.meaning(heard, expected)

    def close(self) -> None:
        self._listener.close()

    def _failed(self, why: str) -> None:
        self._good = self._silent = 0
        if self._restarts:
            raise EarsLost(
                f"The recogniser failed again: {why}.",
                mend="Go on by typing; the session is kept. bench-voice doctor shows what is wrong.",
                slug="ears-lost",
            )
        self._restarts += 1
        with contextlib.suppress(Exception):
            self._listener.close()
        try:
            self._listener = self._make()
        except BenchError as error:
            raise EarsLost(error.what, mend=error.mend, slug="ears-lost") from error
        self._on_restart(why)


def _boot_s() -> float:
    """Seconds since the machine started, its sleep included where the system tells; else the wall clock."""
    clock = getattr(time, "CLOCK_BOOTTIME", None)
    return time.clock_gettime(clock) if clock is not None else time.time()


class SleepWatch:
    """How long the machine has slept since the last look: the clock that counts sleep against the one that does not."""

    LEAST_S = 3.0

    def __init__(self, counting: Callable[[], float] = _boot_s, awake: Callable[[], float] = time.monotonic) -> None:
        self._counting, self._awake = counting, awake
        self._ahead = counting() - awake()

    def slept_s(self) -> float:
        """0.0 when it has not. A step of the wall clock counts as sleep only where the system tells nothing better."""
        ahead = self._counting() - self._awake()
        slept, self._ahead = ahead - self._ahead, ahead
        return slept if slept >= self.LEAST_S else 0.0
