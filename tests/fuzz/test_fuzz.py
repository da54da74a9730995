"""Long random sessions at the typed bench, judged by `fuzz_judge`, which shares no rule with the program; and the same
with one rule of the core taken out at a time, which the judge has to notice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from fuzz_bench import Fuzz
from fuzz_judge import Broken

from bench_voice.core import apply, decide, state, verdict
from bench_voice.core import events as ev
from bench_voice.core.state import State
from bench_voice.core.verdict import Verdict
from bench_voice.records.decisions import Decisions
from bench_voice.session import journal

WANTED_LINES, SHORT_RUN, LINES_A_SHEET = 20_000, 3_000, 500


def run(folder: Path, seeds: range, n_lines: int) -> Counter[str]:
    """Raises Broken with the sheet's seed and the last lines."""
    tried: Counter[str] = Counter()
    for seed in seeds:
        with pytest.MonkeyPatch.context() as patch:
            fuzz = Fuzz(folder, seed, patch)
            try:
                fuzz.run(n_lines)
                fuzz.records()
            except Broken as broken:
                last = "\n".join(fuzz.log[-24:])
                raise Broken(f"seed {seed}: {broken}\n{last}") from broken
            tried += fuzz.tally()
    return tried


def is_caught(folder: Path, seeds: range, n_lines: int) -> bool:
    try:
        run(folder, seeds, n_lines)
    except Broken:
        return True
    return False


# The whole run takes 35 s of computing, and several times that while coverage counts.
@pytest.mark.parametrize(
    "n_lines", [SHORT_RUN, pytest.param(WANTED_LINES, marks=pytest.mark.heavy)], ids=["short", "whole"]
)
def test_no_session_breaks_a_promise(n_lines: int, tmp_path: Path) -> None:
    tried = run(tmp_path, range(n_lines // LINES_A_SHEET), LINES_A_SHEET)
    # The talk reaches everything, or nothing was tried.
    least = {
        "lines": WANTED_LINES, "decisions": 500, "reopened": 200, "signed-off": 60, "stopped": 6, "killed": 30,
        "aborted": 30, "beside": 100, "new": 30, "left open": 200,
    }  # fmt: skip
    assert {what: tried[what] for what, n in least.items() if tried[what] < n * n_lines // WANTED_LINES} == {}


Patch = Callable[[pytest.MonkeyPatch], None]


def _method(name: str, found: object, of: type = State) -> Patch:
    return lambda patch: patch.setattr(of, name, lambda self, *rest: found)


def _event(kind: type) -> Patch:
    """The event changes nothing."""
    return lambda patch: patch.setitem(apply._APPLY, kind, lambda now, event: now)


def _no_doubt(patch: pytest.MonkeyPatch) -> None:
    for module in (verdict, state):
        real = module.judge
        patch.setattr(module, "judge", lambda value, limit, doubt=0, real=real: real(value, limit))


def _no_difference(patch: pytest.MonkeyPatch) -> None:
    for module in (verdict, state):
        patch.setattr(module, "judge_difference", lambda *rest: verdict.Judged(Verdict.GOOD))


def _in_words_alone(patch: pytest.MonkeyPatch) -> None:
    real = State.needs_decision
    patch.setattr(
        State,
        "needs_decision",
        lambda self, step, reading: not self.taken_at(step, reading).decided and real(self, step, reading),
    )
    patch.setitem(apply._APPLY, ev.DecisionReopened, lambda now, event: now)


def _stands_in_the_record(patch: pytest.MonkeyPatch) -> None:
    real = Decisions.rows
    patch.setattr(Decisions, "rows", lambda *rest: [{**row, "state": "stands"} for row in real(*rest)])


SABOTAGES: dict[str, Patch] = {
    "no hold is open": _method("held", None),
    "a restart asks no hold again": lambda patch: patch.setattr(
        decide, "resume", lambda now, at_ms, is_changed=False: (ev.SessionResumed(0, is_changed),)
    ),
    "a decision outlives its figures": _method("changed_since_decided", None),
    "a decision reopens without a word": lambda patch: patch.setattr(decide, "_reopening", lambda now, events: events),
    "only its own value reopens a decision": lambda patch: patch.setattr(
        State,
        "figures_at",
        lambda self, step, reading, real=State.figures_at: replace(
            real(self, step, reading), limit=(None, None), others=()
        ),
    ),
    "a decision reopens in words alone": _in_words_alone,
    "a reopened decision stands in the record": _stands_in_the_record,
    "the uncertainty is left out": _no_doubt,
    "differences are always good": _no_difference,
    "what is marked on the part counts nothing": lambda patch: patch.setattr(
        State, "limit_of", lambda self, spec: spec.limit
    ),
    "a failed reading does not keep the step open": _method("needs_decision", False),
    "missing readings do not either": _method("waits", ()),
    "the register is forgotten": _event(ev.ItemOpened),
    "a correction is thrown away": _event(ev.ReadingCorrected),
    "an undo brings nothing back": _event(ev.Undone),
    "what is open again at an earlier step is built over": _method("open_before", None),
    "an open session never comes back": lambda patch: patch.setattr(journal, "find_open", lambda *rest, **more: None),
    "a bad look passes": _method("looks_bad", ()),
}


@pytest.mark.parametrize("name", list(SABOTAGES))
def test_sabotage_is_caught(name: str, tmp_path: Path) -> None:
    with pytest.MonkeyPatch.context() as patch:
        SABOTAGES[name](patch)
        assert is_caught(tmp_path, range(100, 112), 400), f"nobody notices: {name}"


def test_there_are_enough_sabotages() -> None:
    assert len(SABOTAGES) >= 12
