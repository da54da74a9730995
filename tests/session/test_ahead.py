"""Hearing that begins in the pause: used when nothing follows, thrown away when something does."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal

import numpy as np
import pytest

from bench_voice.audio.endpointer import WINDOW_MS, SileroEndpointer
from bench_voice.audio.resample import Samples
from bench_voice.core.intents import Asks, Command, Expected, Intent, Kind, Measurement, Question, Remark, Unknown
from bench_voice.core.sheet import JobSheet, Limit, ReadingSpec, Step
from bench_voice.errors import EngineError
from bench_voice.ports import Heard, Utterance
from bench_voice.session.ahead import ALL_PLACES_MS, HALF_SENTENCE_MS, SETTLED_MS, WITH_UNIT_MS, Ahead, patience_ms

SHEET = JobSheet(
    "s", "S", "1", "m", "one", (Step("a", "A."), Step("b", "B.")),
    readings={
        "x": ReadingSpec("x", "x", Limit("mm", low=Decimal("1.5"))),
        "fine": ReadingSpec("fine", "fine", Limit("mm", high=Decimal("0.05"))),
    },
)  # fmt: skip
A, B = (Expected.at(SHEET, step) for step in SHEET.steps)


def read(heard: str, value: str, name: str = "x") -> Intent:
    """As the parser gives it: without a unit said, the limit's own."""
    return Measurement(Kind.READING, name=name, value=Decimal(value), unit="mm", heard=heard, confidence=0.99)


class Ears:
    """Says how many seconds of sound it was given, and what that means."""

    def __init__(self, means: Intent | None = None) -> None:
        self.heard: list[float] = []
        self.means = means
        self.failure: Exception | None = None

    def hear(self, utterance: Utterance, expected: Expected, is_wanted: Callable[[], bool]) -> tuple[Heard, ...]:
        assert is_wanted()
        self.wanted = is_wanted
        self.heard.append(len(utterance.pcm) / 32_000)
        if self.failure is not None:
            raise self.failure
        return (Heard("one", f"{expected.step.id} {len(self.heard)}"),)

    def meaning(self, heard: tuple[Heard, ...], expected: Expected) -> Intent | None:
        return self.means


def detector(window: Samples) -> float:
    return 1.0 if float(np.max(np.abs(window))) > 0.1 else 0.0


SPEECH = (np.full(512, 8000, "<i2")).tobytes()
SILENCE = bytes(1024)


class Loop:
    def __init__(self, ears: Ears) -> None:
        self.endpointer = SileroEndpointer(detector)
        self.ahead = Ahead(ears, self.endpointer)
        self.expected = A
        self.ended: list[tuple[Utterance, tuple[Heard, ...]]] = []
        self.ears, self.silence_ms, self.heard_after_ms = (
            ears,
            0,
            (0, 0),
        )  # silence when hearing began, and when it was asked for

    def feed(self, windows: bytes) -> None:
        """Windows of 32 ms, in halves that are frames; every early hearing has ended before the next one."""
        for at in range(0, len(windows), 512):
            found = self.endpointer.feed(windows[at : at + 512])
            if found is not None:
                self.heard_after_ms = (self.heard_after_ms[0], self.silence_ms)
                self.ended.append((found, self.ahead.hear(found, self.expected)))
            else:
                self.ahead.frame(self.expected)
                self.ahead._worker.submit(lambda: None).result()
                self.silence_ms = self.endpointer.silence_ms
                if self.ears.heard and not self.heard_after_ms[0]:
                    self.heard_after_ms = (self.silence_ms, 0)


@pytest.fixture
def ears() -> Ears:
    return Ears()


@pytest.fixture
def loop(ears: Ears) -> Iterator[Loop]:
    made = Loop(ears)
    yield made
    made.ahead.close()


def test_what_was_heard_in_the_pause_is_the_answer(loop: Loop, ears: Ears) -> None:
    loop.feed(SPEECH * 20 + SILENCE * 40)
    assert len(ears.heard) == 1
    assert [heard[0].words for _, heard in loop.ended] == ["a 1"]
    assert ears.heard[0] == len(loop.ended[0][0].pcm) / 32_000
    begun, ended = loop.heard_after_ms
    assert 64 <= begun < 140 < 600 < ended  # of silence


def test_speech_that_goes_on_is_heard_whole(loop: Loop, ears: Ears) -> None:
    loop.feed(SPEECH * 20 + SILENCE * 8 + SPEECH * 20 + SILENCE * 40)
    assert len(ears.heard) == 2
    assert ears.heard[1] > 2 * ears.heard[0] - 1
    assert [heard[0].words for _, heard in loop.ended] == ["a 2"]


def test_what_nobody_will_ask_for_is_no_longer_wanted(loop: Loop, ears: Ears) -> None:
    loop.feed(SPEECH * 20 + SILENCE * 8)
    early = ears.wanted
    assert early()
    loop.feed(SPEECH * 20 + SILENCE * 8)
    assert not early()
    assert ears.wanted()


def test_another_step_meanwhile_is_heard_anew(loop: Loop, ears: Ears) -> None:
    loop.feed(SPEECH * 20 + SILENCE * 6)
    loop.expected = B
    loop.feed(SILENCE * 40)
    assert [heard[0].words for _, heard in loop.ended] == ["b 2"]


def test_a_whole_command_ends_sooner_and_half_a_sentence_later(loop: Loop, ears: Ears) -> None:
    ends = []
    for means in (Command(Kind.NEXT, confidence=0.99), None, Question(asks=Asks.NO_NUMBER)):
        ears.means = means
        loop.feed(SPEECH * 20)
        before = len(loop.ended)
        count = 0
        while len(loop.ended) == before:
            loop.feed(SILENCE)
            count += 1
        ends.append(count * WINDOW_MS)
    assert ends[0] <= SETTLED_MS + WINDOW_MS
    assert 600 <= ends[1] <= 700
    assert HALF_SENTENCE_MS - WINDOW_MS <= ends[2] <= HALF_SENTENCE_MS + WINDOW_MS


def test_what_was_made_of_the_beginning_does_not_end_what_came_after() -> None:
    """The answer to "next" comes when "… not yet" has been said: its short wait is not for that."""
    for has_gone_on in (False, True):
        endpointer = SileroEndpointer(detector)

        def feed(windows: bytes, to: SileroEndpointer = endpointer) -> Utterance | None:
            found = [to.feed(windows[at : at + 512]) for at in range(0, len(windows), 512)]
            return next((one for one in found if one is not None), None)

        feed(SPEECH * 20 + SILENCE * 5)
        end_ms = 20 * WINDOW_MS
        if has_gone_on:
            feed(SPEECH * 4 + SILENCE * 2)
        endpointer.wait_ms(SETTLED_MS, end_ms)
        assert (feed(SILENCE * 8) is None) is has_gone_on


def test_a_failure_in_the_pause_is_raised_where_it_is_asked_for(loop: Loop, ears: Ears) -> None:
    ears.failure = EngineError("gone", mend="", slug="ears-lost")
    with pytest.raises(EngineError, match="gone"):
        loop.feed(SPEECH * 20 + SILENCE * 40)


@pytest.mark.parametrize(
    ("intent", "wait"),
    [
        (None, None),
        (Unknown(), None),
        (Command(Kind.NEXT, confidence=0.99), SETTLED_MS),
        (Command(Kind.NEXT, confidence=0.5), None),
        (Remark(Kind.NOTE, text="seal torn", confidence=0.99), None),  # more may follow
        (read("four point six millimetres", "4.6"), WITH_UNIT_MS),
        (read("four millimetres", "4"), WITH_UNIT_MS),
        (read("four point six", "4.6"), ALL_PLACES_MS),
        (read("four", "4"), HALF_SENTENCE_MS),  # "four … point six", or a row of digits
        (read("four six nine", "469"), HALF_SENTENCE_MS),
        (read("forty six", "46"), None),
        (read("fine four point zero", "4.0", "fine"), None),  # "four point zero … five": its limit is 0.05 mm
        (read("fine four point zero five", "4.05", "fine"), ALL_PLACES_MS),
        (Question(asks=Asks.NO_NUMBER), HALF_SENTENCE_MS),
        (Question(asks=Asks.WHICH_NUMBER), None),
    ],
)
def test_how_much_silence_ends_it(intent: Intent | None, wait: int | None) -> None:
    assert patience_ms(intent, A) == wait
