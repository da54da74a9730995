"""An ear whose decoder lives in a watched child process: a hang or a crash costs one utterance, nothing else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bench_voice.audio.child import ChildLost, WatchedChild
from bench_voice.core.intents import Expected
from bench_voice.ports import Heard, Utterance


class ProcessEar:
    """ports.Ear. `plan` turns what is expected into plain data (strings) for the child's `prepare`.

    The child's object has `prepare(plan)` and `hear(utterance) -> Heard`; with `has_closer` a second look besides. A
    step change only stores the plan; it is sent with the next utterance, so a step that is passed over costs nothing.
    """

    def __init__(
        self,
        name: str,
        factory: str,
        plan: Callable[[Expected], Any],
        arguments: tuple[object, ...] = (),
        *,
        limit_s: float = 2.5,
        start_limit_s: float = 30.0,
        has_closer: bool = False,
    ) -> None:
        self.name = name
        self._has_closer = has_closer
        self._plan = plan
        self._child = WatchedChild(factory, arguments, limit_s=limit_s, start_limit_s=start_limit_s)
        self._limit_s = limit_s
        self._wanted: Any = None
        self._sent: tuple[int, Any] | None = None  # which child has which plan
        self._child.start()  # loads while the first step is being spoken

    @property
    def pid(self) -> int | None:
        return self._child.pid

    @property
    def starts(self) -> int:
        """How often the child had to be started; above 1 something hung or crashed."""
        return self._child.starts

    def wait_ready(self) -> None:
        """Until the decoder is loaded. Raises its EngineError."""
        try:
            self._child.wait_ready()
        except ChildLost:
            self._child.start()

    def prepare(self, expected: Expected) -> None:
        self._wanted = self._plan(expected)

    def hear(self, utterance: Utterance) -> Heard:
        try:
            self._child.wait_ready()
            if self._wanted is not None and self._sent != (self._child.starts, self._wanted):
                # A grammar of a few hundred words takes about 0.1 s; the limit leaves room for a busy machine.
                self._child.call("prepare", self._wanted, limit_s=max(5.0, self._limit_s))
                self._sent = (self._child.starts, self._wanted)
            heard: Heard = self._child.call("hear", utterance, limit_s=self._longest_s(utterance))
            return heard
        except ChildLost as lost:
            self._child.start()  # loads again while the person is asked to repeat
            return Heard(self.name, "", weight=0.0, evidence={"timeout" if lost.has_timed_out else "crash": 1.0})

    def closer(self, utterance: Utterance, heard: Heard) -> Heard:
        """`heard` with more evidence, where the decoder can give it; unchanged where it can't or fails."""
        if not self._has_closer or not heard.words:
            return heard
        try:
            more: Heard = self._child.call("closer", utterance, heard, limit_s=self._longest_s(utterance))
            return more
        except ChildLost:
            self._child.start()
            return heard

    def _longest_s(self, utterance: Utterance) -> float:
        """Decoding runs well under real time; long utterances get room in proportion."""
        return self._limit_s + len(utterance.pcm) / 32_000 / 4

    def close(self) -> None:
        self._child.close()
