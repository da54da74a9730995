"""Ears that fail, and a machine that slept: by fakes."""

from __future__ import annotations

import time
from typing import Any

import pytest

from bench_voice.core.intents import Expected
from bench_voice.errors import EarFailed, EngineError
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

    def __init__(self, script: list[Any], names: tuple[str, ...], cannot_load: tuple[EarFailed, ...]) -> None:
        self.script, self.names, self.cannot_load, self.is_closed = script, names, cannot_load, False

    def unloaded(self) -> tuple[EarFailed, ...]:
        time.sleep(0.05)
        return self.cannot_load

    def leave_out(self, name: str) -> None:
        self.names = tuple(one for one in self.names if one != name)

    def hear(self, utterance: Utterance, expected: Expected, is_wanted: Any = None) -> Any:
        answer = self.script.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return answer

    def close(self) -> None:
        self.is_closed = True


class Guarded:
    """GuardedEars on such listeners, and what they told."""

    def __init__(
        self, script: list[Any], *, names: str = "a", cannot_load: str = "", hears_again: bool = False
    ) -> None:
        self.made: list[Scripted] = []
        self.restarts: list[str] = []
        self.left_out: list[str] = []

        def make() -> Any:
            self.made.append(Scripted(script, tuple(names), tuple(broken(name) for name in cannot_load)))
            return self.made[-1]

        self.ears = GuardedEars(make, self.restarts.append, self.left_out.append, hears_again=hears_again)

    def hear(self) -> tuple[Heard, ...]:
        return self.ears.hear(SAID, EXPECTED)


def broken(name: str) -> EarFailed:
    return EarFailed(name, EngineError("The file is torn.", mend="Mend it.", slug="ear-model-broken"))


def guarded(script: list[Any]) -> tuple[GuardedEars, list[Scripted], list[str]]:
    made = Guarded(script)
    return made.ears, made.made, made.restarts


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


def test_an_ear_that_fails_again_is_left_out_and_the_others_hear_the_sentence() -> None:
    live = Guarded([GOOD, broken("b"), GOOD, broken("b"), GOOD, GOOD], names="abc")
    assert [live.hear() for _ in range(5)] == [GOOD, (), GOOD, GOOD, GOOD]
    assert live.restarts == ["The ear b failed: The file is torn. Mend it. [ear-model-broken]"]
    assert live.left_out == ["The ear b is left out: The file is torn. Mend it. [ear-left-out]"]
    assert len(live.made) == 2  # nothing is loaded anew to leave one out
    assert live.made[-1].names == ("a", "c")


def test_each_ear_has_its_own_restart_and_one_that_is_left_out_stays_so() -> None:
    live = Guarded([broken("b"), broken("b"), GOOD, broken("c"), GOOD, broken("c"), GOOD], names="abc")
    assert [live.hear() for _ in range(5)] == [(), GOOD, (), GOOD, GOOD]
    assert len(live.restarts) == 2
    assert len(live.left_out) == 2
    assert live.made[2].names == ("a",)  # made with all three, b let go at once


def test_the_last_ear_has_nobody_to_go_on_with() -> None:
    live = Guarded([broken("a"), broken("a"), broken("b"), broken("b")], names="ab")
    assert [live.hear() for _ in range(2)] == [(), ()]  # a is left out, b started again
    with pytest.raises(EarsLost, match=r"failed again: The file is torn.*\[ears-lost\]$"):
        live.hear()
    assert len(live.left_out) == 1


def test_an_ear_that_cannot_load_is_told_once_without_a_restart_before_anything_is_said() -> None:
    live = Guarded([GOOD, GOOD], names="abc", cannot_load="b")
    live.ears._loading.join(5)
    live.ears.tick()
    assert live.left_out == ["The ear b is left out: The file is torn. Mend it. [ear-left-out]"]
    live.ears.tick()
    assert [live.hear(), live.hear()] == [GOOD, GOOD]
    assert (len(live.left_out), live.restarts, len(live.made)) == (1, [], 1)
    assert live.made[0].names == ("a", "c")


def test_a_sentence_that_comes_before_the_loading_has_ended_waits_for_it() -> None:
    live = Guarded([GOOD], names="abc", cannot_load="b")
    assert live.hear() == GOOD
    assert len(live.left_out) == 1


def test_ears_of_which_none_can_load_are_lost() -> None:
    live = Guarded([], names="ab", cannot_load="ab")
    live.ears._loading.join(5)
    with pytest.raises(EarsLost, match=r"No recogniser can be loaded: The file is torn\. Go on"):
        live.ears.tick()
    assert live.left_out == []  # "I go on with the others" would be wrong


def test_one_child_that_never_answers_is_left_out_and_what_the_others_heard_stands() -> None:
    half = (*GOOD, Heard("b", "", evidence={"crash": 1.0}))
    live = Guarded([half, half, (*GOOD, Heard("b", "next")), half, half, half], names="ab")
    for _ in range(5):
        assert live.hear()[0] == GOOD[0]
    assert live.left_out == []  # three in a row, not three in all
    assert live.hear() == half
    assert live.left_out == [
        "The ear b is left out: The ear b did not answer 3 times in a row. "
        "bench-voice self-check shows which ears can be used. [ear-left-out]"
    ]
    assert live.restarts == []


def test_of_a_recording_no_sentence_is_lost() -> None:
    """Nobody says it again."""
    live = Guarded([broken("b"), GOOD, broken("b"), GOOD], names="ab", hears_again=True)
    assert [live.hear(), live.hear()] == [GOOD, GOOD]
    assert (len(live.restarts), len(live.left_out)) == (1, 1)
    only = Guarded([ValueError("x"), ValueError("y")], hears_again=True)
    with pytest.raises(EarsLost, match="ValueError: y"):
        only.hear()


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
