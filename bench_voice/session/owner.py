"""The owner of a session: the only writer of state and journal. Journal first (fsync), then apply, then words."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from bench_voice.core import decide as rules
from bench_voice.core import replies
from bench_voice.core.events import ReadingsCarried
from bench_voice.core.intents import Intent, Kind
from bench_voice.core.state import State
from bench_voice.ports import Clock
from bench_voice.session.wording import spoken
from bench_voice.speech.say import Speaker

Say = Callable[[tuple[str, ...]], None]


class Journal(Protocol):
    """Where accepted events go; on disk when `append` returns. Raises JournalError."""

    def append(self, events: rules.Events, at_ms: int) -> None: ...


class Owner:
    """`say` gets the sentences of one turn, after their events are on disk."""

    def __init__(self, state: State, journal: Journal, speaker: Speaker, clock: Clock, say: Say) -> None:
        self.state, self._journal, self._speaker, self._clock, self._say = state, journal, speaker, clock, say

    def begin(self, carried: ReadingsCarried | None = None, known: rules.Events = ()) -> None:
        """A new session: greeting and first step. `known`: the person's instruments, the machine's history."""
        self._accept(rules.begin(self.state, carried, known), self._clock.now_ms())

    def resume(self, sheet_changed: bool = False) -> None:
        """A session that comes back: says where it is."""
        at_ms = self._clock.now_ms()
        self._accept(rules.resume(self.state, at_ms, sheet_changed), at_ms)

    def take(self, intent: Intent) -> None:
        """One utterance's meaning."""
        at_ms = self._clock.now_ms()
        self._accept(rules.decide(self.state, intent, at_ms), at_ms)

    def take_unknown(self, heard: str) -> None:
        self.take(Intent(Kind.UNKNOWN, heard=heard))

    def tick(self) -> None:
        """Lets time pass; called between utterances."""
        at_ms = self._clock.now_ms()
        self._accept(rules.tick(self.state, at_ms), at_ms)

    def _accept(self, events: rules.Events, at_ms: int) -> None:
        if not events:
            return
        self._journal.append(events, at_ms)
        before = self.state.at(at_ms)
        self.state = rules.fold(before, events)
        self._say(spoken(self._speaker, replies.after(before, events)))
