"""Watches over a session: ears that fail are started once again, then left out; sleep of the machine is noticed."""

from __future__ import annotations

import contextlib
import threading
import time
from collections import Counter
from collections.abc import Callable

from bench_voice.core.intents import Expected, Intent
from bench_voice.errors import BenchError, EarFailed, EngineError
from bench_voice.ports import Heard, Utterance
from bench_voice.session.listen import Listener

_GOOD_AGAIN = 20  # utterances without a failure, and another restart is allowed
_FAILED = ("timeout", "crash")
# An ear in a child of its own is started again by itself while the others answer: its third stumble in a row ends it.
_STUMBLES = 3


class EarsLost(EngineError):
    """No ear is left: they failed, were started again, and failed again. Typed mode is what is left."""


class GuardedEars:
    """A Listener that survives its ears. One that fails again after a restart is left out, as long as another is left.

    `on_restart` is called when all are started again, `on_left_out` with a line for the console when one is left out.
    `hear` gives () for an utterance that was lost with a restart; where nobody can say it again (`hears_again`) it is
    heard by the ears that were started. Raises EarsLost when the last one fails again, or cannot load.
    """

    def __init__(
        self,
        make: Callable[[], Listener],
        on_restart: Callable[[str], None],
        on_left_out: Callable[[str], None],
        *,
        hears_again: bool = False,
    ) -> None:
        self._make, self._on_restart, self._on_left_out = make, on_restart, on_left_out
        self._hears_again = hears_again
        self._restarted: set[str] = set()  # for which ear; "" where no single one is to blame
        self._left_out: set[str] = set()
        self._stumbles: Counter[str] = Counter()
        self._silent = self._good = 0
        self._unloaded: list[EarFailed] = []
        self._telling = threading.Lock()
        self._begin()

    def _begin(self) -> None:
        self._listener = self._make()
        for name in self._left_out.intersection(self._listener.names):
            self._listener.leave_out(name)
        self._loading = threading.Thread(target=self._load, args=(self._listener,), name="ears-loading", daemon=True)
        self._loading.start()

    def _load(self, listener: Listener) -> None:
        failed = listener.unloaded()
        with self._telling:
            self._unloaded.extend(failed)

    def tick(self) -> None:
        """Leaves out and tells what has turned out not to load. From any thread; raises EarsLost where it was the last.

        Never while the ears hear: `hear` waits for their loading first.
        """
        with self._telling:
            failed = list(self._unloaded)
            self._unloaded.clear()
            if failed and set(self._listener.names) <= {error.ear for error in failed}:
                raise _lost("No recogniser can be loaded", failed[0].what)
            for error in failed:  # not tried again: the same file loads no better
                self._leave_out(error)

    def hear(
        self, utterance: Utterance, expected: Expected, is_wanted: Callable[[], bool] = lambda: True
    ) -> tuple[Heard, ...]:
        self._loading.join()
        self.tick()
        try:
            heard = self._listener.hear(utterance, expected, is_wanted)
        except Exception as error:  # a recogniser may raise whatever it likes; the session must not end with it
            if isinstance(error, EarFailed) and error.ear in self._restarted and self._leave_out(error):
                return self.hear(utterance, expected, is_wanted)
            why = str(error) if isinstance(error, BenchError) else f"{type(error).__name__}: {error}"
            self._restart(why, error.ear if isinstance(error, EarFailed) else "")
            return self.hear(utterance, expected, is_wanted) if self._hears_again else ()
        silent = {one.ear for one in heard if any(one.evidence.get(key) for key in _FAILED)}
        if heard and silent == {one.ear for one in heard}:
            # Ears in a child of their own come back by themselves; twice in a row is more than a stumble.
            self._silent += 1
            if self._silent > 1:
                self._restart("the recogniser does not answer")
            return heard
        self._silent = 0
        if heard:
            self._count(silent)
        self._good += 1
        if self._good >= _GOOD_AGAIN:
            self._restarted.clear()
        return heard

    def _count(self, silent: set[str]) -> None:
        """The ears that did not answer where others did."""
        self._stumbles = Counter({name: self._stumbles[name] + 1 for name in silent})
        for name in [name for name in silent if self._stumbles[name] >= _STUMBLES]:
            why = f"The ear {name} did not answer {_STUMBLES} times in a row."
            mend = "bench-voice self-check shows which ears can be used."
            self._leave_out(EarFailed(name, EngineError(why, mend=mend, slug="ear-broken")))

    def meaning(self, heard: tuple[Heard, ...], expected: Expected) -> Intent | None:
        return self._listener.meaning(heard, expected)

    def close(self) -> None:
        self._listener.close()

    def _leave_out(self, error: EarFailed) -> bool:
        """False where no other ear is left."""
        if not set(self._listener.names) - {error.ear}:
            return False
        self._good = 0
        self._stumbles.pop(error.ear, None)
        self._left_out.add(error.ear)
        self._listener.leave_out(error.ear)
        what = f"The ear {error.ear} is left out: {error.what}"
        self._on_left_out(str(EngineError(what, mend=error.mend, where=error.where, slug="ear-left-out")))
        return True

    def _restart(self, why: str, name: str = "") -> None:
        self._good = self._silent = 0
        self._stumbles.clear()
        if name in self._restarted:
            raise _lost("The recogniser failed again", why)
        self._restarted.add(name)
        with contextlib.suppress(Exception):
            self._listener.close()
        try:
            self._begin()
        except BenchError as error:
            raise EarsLost(error.what, mend=error.mend, slug="ears-lost") from error
        self._on_restart(f"The ear {name} failed: {why}" if name else why)


def _lost(what: str, why: str) -> EarsLost:
    return EarsLost(
        f"{what}: {why.removesuffix('.')}.",
        mend="Go on by typing; the session is kept. bench-voice self-check shows what is wrong.",
        slug="ears-lost",
    )


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
