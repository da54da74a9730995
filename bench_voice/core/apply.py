"""`apply(state, event) -> State`: total, pure. The only place where the state changes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.cases import Again, Changed, Ending, OpenedBy, Stage
from bench_voice.core.layered import Layered, difference, layered
from bench_voice.core.state import Change, Entry, Point, State, Taken

# So many of the person's changes can be withdrawn one after the other; bounded so that a resume stays linear.
UNDO_DEPTH = 20


def _changed(state: State, what: Changed, **fields: Any) -> State:
    """The state with `fields` set, and what undo needs to put them back: only what this change touched.

    Never a snapshot of a whole map: what a step opened or a timer did meanwhile must survive the undo.
    """
    before = {name: _touched(getattr(state, name), new) for name, new in fields.items()}
    change = Change(state.seq, what, before, state.step.id)
    return state.with_(**fields, changes=(*state.changes, change)[-UNDO_DEPTH:])


def _touched(old: Any, new: Any) -> Any:
    """Maps: key -> old value or None; sets: member -> whether it was in; anything else: the old value."""
    if isinstance(old, Mapping):
        return {key: old.get(key) for key in difference(old, new)}
    if isinstance(old, frozenset):
        return {member: member in old for member in old ^ new}
    return old


def _put_back(now: Any, before: Any) -> Any:
    """The inverse of `_touched`, on what the state holds now."""
    if isinstance(now, Mapping):
        # An entry that a step has opened meanwhile in its own right stays open.
        by_step = {key: now[key] for key in before if isinstance(now.get(key), Entry) and now[key].by is OpenedBy.STEP}
        restored = {**{key: old for key, old in before.items() if old is not None}, **by_step}
        if not isinstance(now, Layered):
            kept = {key: value for key, value in now.items() if key not in before}
            return {**kept, **restored}
        for key in before:
            now = now.without(key)
        for key, value in restored.items():
            now = now.set(key, value)
        return now
    if isinstance(now, frozenset):
        return frozenset(now - set(before)) | {member for member, was_in in before.items() if was_in}
    return before


def _resumed(state: State, event: ev.SessionResumed) -> State:
    return state.with_(standing_by=False)


def _earlier(state: State, event: ev.EarlierTaken) -> State:
    """Distance or hours below those of the machine's newest session are asked about, as what is not plausible is."""
    earlier = event.earlier
    spec = state.sheet.readings.get(earlier.reading)
    if spec is None or earlier.at is None:
        return state.with_(earlier=earlier)
    low, high = spec.plausible or (earlier.at, Decimal(10**9))
    if high < earlier.at:
        return state.with_(earlier=earlier)
    counted = replace(spec, plausible=(max(low, earlier.at), high))
    sheet = replace(state.sheet, readings={**state.sheet.readings, spec.id: counted})
    return state.with_(sheet=sheet, earlier=earlier)


def _opened(state: State, event: ev.StepOpened) -> State:
    # A change made at an earlier step can still be withdrawn, so `changes` stays.
    return state.with_(
        index=state.sheet.step_index(event.step),
        question=None,
        read_back=None,
        read_out=state.read_out | {event.step},
        passed_over=state.passed_over - {event.step},
    )


def _done(state: State, event: ev.StepDone) -> State:
    return state.with_(done=state.done | {event.step})


def _passed_over(state: State, event: ev.StepPassedOver) -> State:
    return state.with_(passed_over=state.passed_over | {event.step})


def _redone(state: State, event: ev.StepRedone) -> State:
    steps = [step for step in state.sheet.steps if step.id in event.steps]
    holds = {step.hold.id for step in steps if step.hold}
    # Values taken again after a replaced part are still as left.
    taken = {
        key: value if key[0] not in event.steps else Taken(stage=value.stage)
        for key, value in state.taken.items()
        if key[0] not in event.steps or value.stage is Stage.AS_LEFT
    }
    register = layered(state.register)
    for key in event.items:
        item = state.sheet.items[key]
        register = register.set(key, Entry(key, item.name, item.kind, OpenedBy.REDO))
    # What was changed before can't be withdrawn one by one any more. The holds stay open, even when this is withdrawn.
    return _changed(
        state.with_(confirmed=state.confirmed - holds, read_out=state.read_out - set(event.steps), changes=()),
        Changed.REDO,
        done=state.done - set(event.steps),
        taken=taken,
        looked={key: value for key, value in state.looked.items() if key[0] not in event.steps},
        register=register,
        last_reading=None,
    )


def _phrase(state: State, event: ev.HoldPhraseHeard) -> State:
    return state.with_(read_back=event.hold, read_back_ms=state.clock_ms)


def _confirmed(state: State, event: ev.HoldConfirmed) -> State:
    return _changed(state.with_(read_back=None), Changed.HOLD, confirmed=state.confirmed | {event.hold})


def _lapsed(state: State, event: ev.HoldLapsed) -> State:
    return state.with_(read_back=None)


def _hold_reopened(state: State, event: ev.HoldReopened) -> State:
    # Its confirmation is gone: there is nothing left of it to withdraw.
    changes = tuple(c for c in state.changes if event.hold not in c.held)
    return state.with_(confirmed=state.confirmed - {event.hold}, changes=changes, read_back=None)


def _recorded(state: State, event: ev.ReadingRecorded) -> State:
    key = (event.step, event.reading)
    old = state.taken_at(*key)
    point = Point(state.seq, event.value, event.unit, event.in_limit_unit)
    taken = Taken((*old.points, point), event.stage)
    return _changed(
        state, Changed.READING, taken={**state.taken, key: taken}, last_reading=(event.step, event.reading, event.point)
    )


def _corrected(state: State, event: ev.ReadingCorrected) -> State:
    key = (event.step, event.reading)
    points = list(state.taken_at(*key).points)
    points[event.point] = Point(state.seq, event.value, event.unit, event.in_limit_unit)
    # A decision stays with the figures that it was made on; whether it holds is told by them.
    taken = replace(state.taken_at(*key), points=tuple(points), stage=event.stage)
    return _changed(
        state, Changed.READING, taken={**state.taken, key: taken}, last_reading=(event.step, event.reading, event.point)
    )


def _reopened(state: State, event: ev.ReadingReopened) -> State:
    key = (event.step, event.reading)
    is_replaced = event.why is Again.REPLACED
    stage = Stage.AS_LEFT if is_replaced else state.taken_at(*key).stage
    fields: dict[str, Any] = {"taken": {**state.taken, key: Taken(stage=stage)}, "last_reading": None}
    if is_replaced:
        fields["replaced"] = state.replaced | {event.reading}
    return _changed(state, Changed.REPLACED if is_replaced else Changed.MEASURE_AGAIN, **fields)


def _decided(state: State, event: ev.ReadingDecided) -> State:
    key = (event.step, event.what)
    if not state.needs_decision(*key) and key in state.looked:
        looked = {**state.looked, key: (state.looked[key][0], event.reason)}
        return _changed(state, Changed.DECISION, looked=looked)
    old = state.taken_at(*key)
    taken = Taken(old.points, old.stage, event.reason, state.figures_at(*key))
    return _changed(state, Changed.DECISION, taken={**state.taken, key: taken})


def _decision_reopened(state: State, event: ev.DecisionReopened) -> State:
    """It comes back with the change that reopened it, when that is withdrawn."""
    key = (event.step, event.what)
    old = state.taken_at(*key)
    changes = state.changes
    if changes and isinstance(touched := changes[-1].before.get("taken"), Mapping):
        before = {**changes[-1].before, "taken": {**touched, key: touched.get(key, old)}}
        changes = (*changes[:-1], replace(changes[-1], before=before))
    return state.with_(taken={**state.taken, key: Taken(old.points, old.stage)}, changes=changes)


def _judged(state: State, event: ev.LookJudged) -> State:
    return _changed(state, Changed.LOOK, looked={**state.looked, (event.step, event.look): (event.judgement, "")})


def _item_opened(state: State, event: ev.ItemOpened) -> State:
    entry = Entry(event.key, event.name, event.kind, event.by)
    register = layered(state.register).set(event.key, entry)
    return (
        _changed(state, Changed.ITEM, register=register)
        if event.by is OpenedBy.VOICE
        else state.with_(register=register)
    )


def _item_closed(state: State, event: ev.ItemClosed) -> State:
    return _changed(state, Changed.ITEM, register=layered(state.register).without(event.key))


def _note(state: State, event: ev.NoteTaken) -> State:
    return _changed(state, Changed.NOTE)


def _timer_set(state: State, event: ev.TimerSet) -> State:
    timers = layered(state.timers).set(event.key, (event.due_ms, event.text))
    return _changed(state, Changed.TIMER, timers=timers)


def _timer_due(state: State, event: ev.TimerDue) -> State:
    return state.with_(timers=layered(state.timers).without(event.key))


def _asked(state: State, event: ev.Asked) -> State:
    return state.with_(question=event.question)


def _question_closed(state: State, event: ev.QuestionClosed) -> State:
    return state.with_(question=None, stopping=False)


def _undone(state: State, event: ev.Undone) -> State:
    change = next((c for c in reversed(state.changes) if c.seq == event.seq), None)
    if change is None:
        return state
    rest = tuple(c for c in state.changes if c.seq < event.seq)
    fields = {name: _put_back(getattr(state, name), before) for name, before in change.before.items()}
    return state.with_(**fields, changes=rest)


def _same(state: State, event: object) -> State:
    return state


_APPLY: dict[type, Callable[[State, Any], State]] = {
    ev.SessionStarted: _same,
    ev.ReadingsCarried: _same,
    ev.InstrumentsTaken: lambda state, event: state.with_(uses={use.reading: use for use in event.uses}),
    ev.HistoryTaken: lambda state, event: state.with_(history=event.series),
    ev.SessionDetails: _same,
    ev.EarlierTaken: _earlier,
    ev.SessionResumed: _resumed,
    ev.StepOpened: _opened,
    ev.StepDone: _done,
    ev.StepPassedOver: _passed_over,
    ev.StepRedone: _redone,
    ev.NextRefused: _same,
    ev.HoldPhraseHeard: _phrase,
    ev.HoldConfirmed: _confirmed,
    ev.HoldLapsed: _lapsed,
    ev.HoldReopened: _hold_reopened,
    ev.ReadingRecorded: _recorded,
    ev.ReadingCorrected: _corrected,
    ev.ReadingReopened: _reopened,
    ev.ReadingDecided: _decided,
    ev.DecisionReopened: _decision_reopened,
    ev.LookJudged: _judged,
    ev.ItemOpened: _item_opened,
    ev.ItemClosed: _item_closed,
    ev.NoteTaken: _note,
    ev.MarkSet: _same,
    ev.TimerSet: _timer_set,
    ev.TimerDue: _timer_due,
    ev.Asked: _asked,
    ev.AskedAgain: _same,
    ev.QuestionClosed: _question_closed,
    ev.Told: _same,
    ev.Refused: _same,
    ev.NotUnderstood: _same,
    ev.StoodBy: lambda state, event: state.with_(standing_by=True, question=None),
    ev.CarriedOn: lambda state, event: state.with_(standing_by=False),
    ev.Undone: _undone,
    ev.StopAsked: lambda state, event: state.with_(stopping=True, question=None),
    ev.JobStopped: lambda state, event: state.with_(ended=Ending.STOPPED, stopping=False),
    ev.SignedOff: lambda state, event: state.with_(ended=Ending.SIGNED_OFF),
}


def apply(state: State, event: ev.Event, at_ms: int | None = None) -> State:
    """The state after `event`. `at_ms`: when it happened (wall clock); a clock that jumps back is taken as standing."""
    now = state if at_ms is None else state.at(at_ms)
    return _APPLY[type(event)](now.with_(seq=state.seq + 1), event)


def fold(state: State, events: ev.Events) -> State:
    """`state` after `events`."""
    for event in events:
        state = apply(state, event)
    return state
