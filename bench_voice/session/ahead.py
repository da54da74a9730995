"""Hearing that begins in the pause: the ears start when the speaker falls silent, not when the silence has been long.

When he goes on, the answer is thrown away. When he doesn't, it is there as soon as the silence is long enough, and what
it means says how long that is: a whole command or a hold's phrase needs little, a number without its unit may go on
("four … point six"), and half a sentence gets more time.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from decimal import Decimal
from typing import Protocol

from bench_voice.core.intents import Asks, Expected, Intent, ItemChange, Kind, Measurement, Remark
from bench_voice.ports import Endpointer, Heard, Utterance
from bench_voice.words.phrases import load_language

# Silence that ends a sentence of that kind, in ms; the endpointer's own (640) stands for what isn't named here.
SETTLED_MS = 256  # a command or a phrase that two ears took for whole: shorter would cut "go … back"
WITH_UNIT_MS = 320
ALL_PLACES_MS = 352  # a number with as many decimals as its limit has: what could follow is its unit
HALF_SENTENCE_MS = 1000
_LEAST_SURE = 0.9


class Pausing(Endpointer, Protocol):
    """An endpointer that tells of pauses (`audio.endpointer.SileroEndpointer`)."""

    def pause(self) -> Utterance | None: ...
    def wait_ms(self, milliseconds: int, end_ms: int) -> None: ...


class Hears(Protocol):
    def hear(self, utterance: Utterance, expected: Expected, is_wanted: Callable[[], bool]) -> tuple[Heard, ...]: ...
    def meaning(self, heard: tuple[Heard, ...], expected: Expected) -> Intent | None: ...


def patience_ms(intent: Intent | None, expected: Expected) -> int | None:
    """How much silence ends a sentence that means this so far; None: the usual."""
    if intent is None or intent.kind is Kind.UNKNOWN:
        return None
    if intent.kind is Kind.AMBIGUOUS and intent.asks is Asks.NO_NUMBER:
        return HALF_SENTENCE_MS
    if _is_row_of_digits(intent, expected):
        return HALF_SENTENCE_MS  # "nine … eight six five" is read off a plate, digit by digit
    if intent.kind is Kind.AMBIGUOUS:
        return None
    if (intent.confidence or 0.0) < _LEAST_SURE or _may_go_on(intent):
        return None
    if isinstance(intent, Measurement):
        if intent.values:
            return None
        if not _ends_in_number(intent, expected):
            return WITH_UNIT_MS
        return ALL_PLACES_MS if _has_all_places(intent, expected) else None
    return SETTLED_MS


def _may_go_on(intent: Intent) -> bool:
    """Free words: more of them may follow."""
    is_free = intent.kind is Kind.NOTE or intent.kind is Kind.REMINDER
    return is_free and isinstance(intent, Remark | ItemChange) and bool(intent.text)


def _is_row_of_digits(intent: Intent, expected: Expected) -> bool:
    """Single digits and nothing else: of a row, nobody knows how many will come."""
    words = intent.heard.split()
    digits = load_language(expected.sheet.language).numbers.digit
    return bool(words) and all(word in digits for word in words)


def _ends_in_number(intent: Intent, expected: Expected) -> bool:
    """Whether no unit was said: `unit` is the limit's own then."""
    words = intent.heard.split()
    return bool(words) and words[-1] in load_language(expected.sheet.language).number_words


def _has_all_places(intent: Measurement, expected: Expected) -> bool:
    """ "Four point six" where the limit is 1.5 mm; not "four", nor "zero point zero" where it is 0.05 mm."""
    spec = expected.sheet.readings.get(intent.name or "")
    if spec is None or intent.value is None:
        return False
    figures = [figure for figure in (spec.limit.low, spec.limit.high, spec.limit.new) if figure is not None]
    wanted = max((_places(figure) for figure in figures), default=0)
    return _places(intent.value) >= max(1, wanted)


def _places(value: Decimal) -> int:
    return max(0, -int(value.as_tuple().exponent))


class Ahead:
    """Owns the order of hearing: all of it runs in one thread of its own. `hear` from the loop's thread only.

    `addressed`: what of the answers is for us (a call word), used to judge how long to wait. `worker`: runs one hearing
    after the other (for measuring, by another clock).
    """

    def __init__(
        self,
        ears: Hears,
        endpointer: Pausing,
        addressed: Callable[[tuple[Heard, ...]], tuple[Heard, ...]] = lambda heard: heard,
        worker: Executor | None = None,
    ) -> None:
        self._ears, self._endpointer, self._addressed = ears, endpointer, addressed
        self._worker = worker or ThreadPoolExecutor(max_workers=1, thread_name_prefix="hear")
        self._early: tuple[int, Expected, Future[tuple[Heard, ...]]] | None = None
        self._is_judged = False
        self._wanted_ms = -1  # end of the utterance whose answer will be asked for

    def frame(self, expected: Expected) -> None:
        """After each frame that the endpointer was fed."""
        utterance = self._endpointer.pause()
        if utterance is not None:
            # One that is being heard already can't be called back, but it takes no further look.
            end_ms = self._wanted_ms = utterance.end_ms
            hearing = self._worker.submit(self._ears.hear, utterance, expected, lambda: self._wanted_ms == end_ms)
            self._early = (end_ms, expected, hearing)
            self._is_judged = False
            return
        if self._early is None or self._is_judged or not self._early[2].done():
            return
        self._is_judged = True
        if self._early[2].exception() is not None:
            return
        heard = self._addressed(self._early[2].result())
        wait = patience_ms(self._ears.meaning(heard, expected) if heard else None, expected)
        if wait is not None:
            self._endpointer.wait_ms(wait, self._early[0])

    def is_heard(self, utterance: Utterance, expected: Expected) -> bool:
        """Whether `hear` has its answer at once."""
        early = self._early
        return early is not None and early[0] == utterance.end_ms and early[1] == expected and early[2].done()

    def hear(self, utterance: Utterance, expected: Expected) -> tuple[Heard, ...]:
        """What was heard in the pause when nothing was said since, else heard now. Raises what the ears raise."""
        early, self._early = self._early, None
        if early is not None and early[0] == utterance.end_ms and early[1] == expected:
            return early[2].result()
        self._wanted_ms = utterance.end_ms
        return self._worker.submit(self._ears.hear, utterance, expected, lambda: True).result()

    def close(self) -> None:
        # Not waited for: a decoder in the middle of a sentence must not keep the program from ending.
        self._worker.shutdown(wait=False, cancel_futures=True)
