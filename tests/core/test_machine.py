"""A machine that tries to break the seven invariants: random sheets, random talk, restarts, a clock that jumps."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable
from functools import partial
from random import Random
from typing import NoReturn

import pytest
from core_naive import Naive, must
from core_talk import random_sheet, random_talk
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from bench_voice.core import events as ev
from bench_voice.core.intents import Intent
from bench_voice.errors import JournalError
from bench_voice.testing import Bench

SEEDS = st.integers(0, 2**32 - 1)
# What is said and done in a run; HYPOTHESIS_STEPS raises it for a long night.
WANTED_STEPS = int(os.environ.get("HYPOTHESIS_STEPS", "20000"))
counted = {"steps": 0, "signed-off": 0, "stopped": 0}


class Session(RuleBasedStateMachine):
    """One bench; the naive model watches over its shoulder."""

    @initialize(seed=SEEDS)
    def start(self, seed: int) -> None:
        self.bench = Bench(random_sheet(Random(seed)), begin=False)
        self.model = Naive(self.bench.sheet)
        self.trace: list[str] = []
        self._spy()
        self._turn(None, self.bench.owner.begin)

    def _spy(self) -> None:
        """Notes the order of writing and speaking."""
        journal, trace = self.bench.journal, self.trace
        keep = type(journal).append

        def append(events: tuple[ev.Event, ...], at_ms: int) -> None:
            keep(journal, events, at_ms)
            trace.append("written")

        journal.append = append  # type: ignore[method-assign]  # a spy
        say = self.bench._say

        def spoken(sentences: tuple[str, ...]) -> None:
            trace.append("spoken")
            say(sentences)

        self.bench._say = spoken  # type: ignore[method-assign]  # a spy
        self.bench.owner._say = spoken

    def _turn(self, intent: Intent | None, act: Callable[[], object]) -> None:
        counted["steps"] += 1
        bench, start = self.bench, len(self.bench.journal.lines)
        self.trace.clear()
        was_ended = bench.state.ended
        act()
        events = bench.journal.events[start:]
        must("".join(self.trace).replace("spoken", "s").replace("written", "w") in ("", "w", "ws"), "6: spoken first")
        must(self.trace or not events, "6: taken without being written")
        if was_ended:
            must(all(isinstance(e, ev.Refused) for e in events), "something happened after the end")
        self.model.turn(intent, bench.clock.ms, events)
        if bench.state.ended and not was_ended:
            counted[bench.state.ended] += 1

    @rule(seed=SEEDS, n=st.integers(1, 40))
    def talk(self, seed: int, n: int) -> None:
        rng = Random(seed)
        for _ in range(n):
            intent = random_talk(rng, self.bench.state)
            self.bench.clock.ms += rng.choice((0, 900, 4_000, 14_999, 15_000))
            self._turn(intent, partial(self.bench.owner.take, intent))
            self.agrees()

    @rule(seconds=st.sampled_from((0, 1, 14, 15, 600, 90_000, -1, -3_600)))
    def time_goes_by(self, seconds: int) -> None:
        self.bench.clock.ms += seconds * 1000
        self._turn(None, self.bench.owner.tick)

    @rule(is_changed=st.booleans())
    def restart(self, is_changed: bool) -> None:
        bench = self.bench
        before = bench.state
        replayed = bench.journal.replay(bench.sheet)
        must(replayed == before, "2: the fold of the journal is another state")
        say = bench._say
        bench.owner = bench._owner(replayed)
        bench.owner._say = say
        if not before.ended:
            self._turn(None, lambda: bench.owner.resume(is_changed))
            must(not bench.state.read_back, "1: a read-back outlived a restart")
            must(bench.state.confirmed <= before.confirmed, "1: a restart confirmed a hold")
            must(bench.state.index == before.index, "the session came back somewhere else")
            must(dict(bench.state.register) == dict(before.register), "5: a restart changed the register")

    @rule(seed=SEEDS)
    def disk_is_full(self, seed: int) -> None:
        bench, intent = self.bench, random_talk(Random(seed), self.bench.state)
        before, said = bench.state, len(bench.said)
        bench.journal.is_full = True
        try:
            bench.owner.take(intent)
        except JournalError as error:
            must(error.slug == "journal-unwritable", "6: another slug")
        bench.journal.is_full = False
        must(bench.state == before, "6: taken although it was not written")
        must(len(bench.said) == said, "6: spoken although it was not written")

    @invariant()
    def agrees(self) -> None:
        self.model.agrees(self.bench.state)


# The talk reaches the end, or nothing about the end was tried.
LEAST = {"steps": WANTED_STEPS, "signed-off": WANTED_STEPS // 1000, "stopped": WANTED_STEPS // 4000}


def no_network(*args: object, **kwargs: object) -> NoReturn:
    raise AssertionError("7: something wanted the network")


def test_no_talk_breaks_an_invariant(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(socket, "socket", no_network)
    profile = settings(
        max_examples=max(1, WANTED_STEPS // 105),
        stateful_step_count=25,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        print_blob=True,
    )
    counted.update(dict.fromkeys(counted, 0))
    # How many steps a run makes is drawn too: it goes on until there are enough, and a run that adds none fails below.
    for _ in range(5):
        run_state_machine_as_test(Session, settings=profile)
        if all(counted[what] >= least for what, least in LEAST.items()):
            break
    for what, least in LEAST.items():
        assert counted[what] >= least, counted
