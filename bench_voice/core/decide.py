"""`decide(state, intent, at_ms) -> events`, and what a start, a resume and the passing of time do.

Never raises for a human mistake; changes nothing by itself. The program is the table in `core.table`.
"""

from __future__ import annotations

from bench_voice.core import events as ev
from bench_voice.core.apply import apply, fold
from bench_voice.core.cases import Answer, Lapse, Opening, Reopening
from bench_voice.core.events import Events
from bench_voice.core.intents import Intent
from bench_voice.core.state import State
from bench_voice.core.table import TABLE

# A read-back that nobody answers lapses after so long (the sheet's hold stays as it was).
READ_BACK_MS = 15_000


def begin(state: State, carried: ev.ReadingsCarried | None = None, known: Events = ()) -> Events:
    """First events of a new session. `carried`: what stood in an earlier one whose sheet has been changed; `known`:
    the person's instruments and the machine's history as they stand now.
    """
    first = state.sheet.steps[0]
    started = ev.SessionStarted(state.sheet.id, state.sheet.machine_id)
    kept = (carried,) if carried and carried.readings else ()
    return (started, *kept, *known, ev.StepOpened(first.id, Opening.START))


def resume(state: State, at_ms: int, sheet_changed: bool = False, torn_bytes: int | None = None) -> Events:
    """Events of a session that comes back after its process ended. Holds that may have changed are asked again."""
    events: list[ev.Event] = [ev.SessionResumed(max(0, at_ms - state.at_ms), sheet_changed, torn_bytes)]
    if state.read_back:
        events.append(ev.HoldLapsed(state.read_back, Lapse.RESTART))
    if state.question or state.stopping:
        events.append(ev.QuestionClosed(Answer.RESTART))
    for step in state.sheet.steps:
        if step.hold and state.may_have_changed(step.hold):
            events.append(ev.HoldReopened(step.hold.id, Reopening.RESTART))
    return _reopening(state, tuple(events))


def tick(state: State, at_ms: int) -> Events:
    """What the passing of time does: timers fall due, an unanswered read-back lapses. Never passes anything."""
    if state.ended:
        return ()
    due = tuple(ev.TimerDue(key) for key, (due_ms, _) in state.timers.items() if due_ms <= at_ms)
    return (*due, *_lapse(state, at_ms))


def _lapse(state: State, at_ms: int) -> Events:
    """An unanswered read-back lapses. A clock that jumps back could keep it open for hours: it lapses too."""
    if state.read_back and not state.clock_ms <= at_ms < state.read_back_ms + READ_BACK_MS:
        return (ev.HoldLapsed(state.read_back, Lapse.SILENCE),)
    return ()


def decide(state: State, intent: Intent, at_ms: int) -> Events:
    """Events for `intent` at `at_ms` (wall clock, milliseconds). Reads the table; every cell is filled."""
    lapse = _lapse(state, at_ms)
    state = fold(state.at(at_ms), lapse)
    cell = TABLE[state.phase()][intent.kind]
    events = _reopening(state, cell.act(state, intent))
    following = cell.then(state, intent)
    if following is None:
        return (*lapse, *events)
    return (*lapse, *events, *decide(fold(state, events), following, state.clock_ms))


def _reopening(state: State, events: Events) -> Events:
    """`events`, each followed by the decisions that it reopens: those made on other figures than there are now."""
    found: list[ev.Event] = []
    for event in events:
        state = apply(state, event)
        reopened = tuple(
            ev.DecisionReopened(step, reading, why)
            for step, reading in state.taken
            if (why := state.changed_since_decided(step, reading))
        )
        state = fold(state, reopened)
        found += (event, *reopened)
    return tuple(found)


__all__ = ["Events", "begin", "decide", "fold", "resume", "tick"]
