"""The owner of a session: the only writer of state and journal. Journal first (fsync), then apply, then words."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Protocol

from bench_voice.core import decide as rules
from bench_voice.core import replies
from bench_voice.core.events import ItemOpened, ReadingsCarried
from bench_voice.core.intents import Intent, Unknown
from bench_voice.core.replies import Quantity, Replies, Reply
from bench_voice.core.state import State
from bench_voice.ports import Clock
from bench_voice.words.say import Speaker
from bench_voice.words.wording import worded

Say = Callable[[tuple[str, ...]], None]
_MINUTE_MS, _HOUR_MS, _DAY_MS = 60_000, 3_600_000, 86_400_000


class Journal(Protocol):
    """Where accepted events go; on disk when `append` returns. Raises JournalError."""

    def append(self, events: rules.Events, at_ms: int) -> None: ...


class Owner:
    """`say` gets the sentences of one turn, after their events are on disk."""

    def __init__(self, state: State, journal: Journal, speaker: Speaker, clock: Clock, say: Say) -> None:
        self.state, self._journal, self._speaker, self._clock, self._say = state, journal, speaker, clock, say
        # Gets the sound of an utterance, the number of its first event, and its events, once they are on disk.
        self.keep_sound: Callable[[bytes, int, rules.Events], object] | None = None

    def begin(self, carried: ReadingsCarried | None = None, known: rules.Events = (), left: Replies = ()) -> None:
        """A new session: greeting and first step. `known`: the person's instruments, the machine's history, last the
        items that it takes over; `left`: what is said of earlier sessions, before those.
        """
        events = rules.begin(self.state, carried, known)
        cut = next((at for at, event in enumerate(events) if isinstance(event, ItemOpened)), len(events) - 1)

        def said(before: State, events: rules.Events) -> Replies:
            head = events[:cut]
            return (*replies.after(before, head), *left, *replies.after(rules.fold(before, head), events[cut:]))

        self._accept(events, self._clock.now_ms(), said)

    def resume(self, sheet_changed: bool = False, torn_bytes: int | None = None) -> None:
        """A session that comes back: says how long it was left, and where it is. `torn_bytes`: set aside of its end."""
        at_ms = self._clock.now_ms()
        ago = _ago(at_ms - self.state.at_ms)

        def said(before: State, events: rules.Events) -> Replies:
            first, *rest = replies.after(before, events)
            return (first, *ago, *rest)

        self._accept(rules.resume(self.state, at_ms, sheet_changed, torn_bytes), at_ms, said)

    def take(self, intent: Intent, sound: bytes = b"") -> None:
        """One utterance's meaning, and its sound where there is one."""
        at_ms, seq = self._clock.now_ms(), self.state.seq + 1
        events = rules.decide(self.state, intent, at_ms)
        self._accept(events, at_ms)
        if sound and events and self.keep_sound is not None:
            self.keep_sound(sound, seq, events)

    def take_unknown(self, heard: str) -> None:
        self.take(Unknown(heard=heard))

    def tick(self) -> None:
        """Lets time pass; called between utterances."""
        at_ms = self._clock.now_ms()
        self._accept(rules.tick(self.state, at_ms), at_ms)

    def _accept(
        self, events: rules.Events, at_ms: int, said: Callable[[State, rules.Events], Replies] = replies.after
    ) -> None:
        if not events:
            return
        self._journal.append(events, at_ms)
        before = self.state.at(at_ms)
        self.state = rules.fold(before, events)
        self._say(worded(self._speaker, said(before, events)))


def _ago(gap_ms: int) -> Replies:
    """How long the session was left; nothing for less than a minute, or where the clock went back."""
    if gap_ms < _MINUTE_MS:
        return ()
    if gap_ms >= 2 * _DAY_MS:
        return (Reply("resumed-days", {"days": Decimal(gap_ms // _DAY_MS)}),)
    per_ms, unit = (_HOUR_MS, "h") if gap_ms >= 2 * _HOUR_MS else (_MINUTE_MS, "min")
    return (Reply("resumed-after", {"quantity": Quantity(Decimal(gap_ms // per_ms), unit)}),)
