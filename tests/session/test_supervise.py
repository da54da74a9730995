"""Ears that fail, and a machine that slept: by fakes."""

from __future__ import annotations

from typing import Any

import pytest

from bench_voice.core.intents import Expected
from bench_voice.ports import Heard, Utterance
from bench_voice.session.supervise import EarsLost, GuardedEars, SleepWatch
from bench_voice.testing import small_sheet, step

SHEET = small_sheet(step("plain"))
EXPECTED = Expected.at(SHEET, SHEET.steps[0])
SAID = Utterance(b"", 0, 0)
GOOD = (Heard("a", "next"),)
TIMEOUT = (Heard("a", "", evidence={"timeout": 1.0}),)


class Scripted:
    """A listener that gives what stands in the script, or raises it."""

    def __init__(self, script: list[Any]) -> None:
        self.script, self.is_closed = script, False

    def hear(self, utterance: Utterance, expected: Expected, is_wanted: Any = None) -> Any:
        answer = self.script.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return answer

    def close(self) -> None:
        self.is_closed = True


def guarded(script: list[Any]) -> tuple[GuardedEars, list[Scripted], list[str]]:
    made: list[Scripted] = []
    told: list[str] = []

    def make() -> Any:
        made.append(Scripted(script))
        return made[-1]

    return GuardedEars(make, told.append), made, told


def test_one_failure_starts_them_again_and_the_second_ends_hearing() -> None:
    ears, made, told = guarded([GOOD, MemoryError("full"), GOOD, ValueError("x")])
    assert ears.hear(SAID, EXPECTED) == GOOD
    assert ears.hear(SAID, EXPECTED) == ()
    assert made[0].is_closed
    assert told == ["MemoryError: full"]
    assert ears.hear(SAID, EXPECTED) == GOOD
    with pytest.raises(EarsLost, match=r"ValueError: x.*\[ears-lost\]$"):
        ears.hear(SAID, EXPECTED)


def test_after_twenty_good_utterances_another_failure_is_the_first_again() -> None:
    ears, made, _ = guarded([ValueError("x"), *[GOOD] * 20, ValueError("x"), GOOD])
    for _ in range(22):
        ears.hear(SAID, EXPECTED)
    assert ears.hear(SAID, EXPECTED) == GOOD
    assert len(made) == 3


def test_one_utterance_without_an_answer_is_a_stumble_two_in_a_row_are_a_failure() -> None:
    ears, made, told = guarded([TIMEOUT, GOOD, TIMEOUT, TIMEOUT, GOOD])
    for _ in range(3):
        ears.hear(SAID, EXPECTED)
    assert told == []
    ears.hear(SAID, EXPECTED)
    assert len(told) == 1
    assert ears.hear(SAID, EXPECTED) == GOOD
    assert len(made) == 2


def test_sleep_is_told_once_and_a_slow_clock_is_no_sleep() -> None:
    counting, awake = [1000.0], [500.0]
    watch = SleepWatch(lambda: counting[0], lambda: awake[0])
    counting[0] += 5
    awake[0] += 5
    assert watch.slept_s() == 0.0
    counting[0] += 61
    awake[0] += 1
    assert watch.slept_s() == pytest.approx(60.0)
    assert watch.slept_s() == 0.0
    counting[0] += 2.0
    assert watch.slept_s() == 0.0
