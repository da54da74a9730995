"""`decide(state, intent, at_ms) -> events`. Never raises for a human mistake; changes nothing by itself.

The program is the table in `core.table`: phase by kind of intent. This module holds the cells that need thought.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from bench_voice.core import events as ev
from bench_voice.core.apply import apply
from bench_voice.core.intents import Asks, Intent, Kind
from bench_voice.core.register import close_item
from bench_voice.core.sheet import ReadingSpec
from bench_voice.core.state import State

Events = tuple[ev.Event, ...]

# A read-back that nobody answers lapses after so long (the sheet's hold stays as it was).
READ_BACK_MS = 15_000
JUDGEMENTS = ("good", "doubtful", "bad")


def begin(state: State, carried: ev.ReadingsCarried | None = None, known: Events = ()) -> Events:
    """First events of a new session. `carried`: what stood in an earlier one whose sheet has been changed; `known`:
    the person's instruments and the machine's history as they stand now.
    """
    first = state.sheet.steps[0]
    started = ev.SessionStarted(state.sheet.id, state.sheet.machine_id)
    kept = (carried,) if carried and carried.readings else ()
    return (started, *kept, *known, ev.StepOpened(first.id, "start"))


def resume(state: State, at_ms: int, sheet_changed: bool = False, torn_bytes: int | None = None) -> Events:
    """Events of a session that comes back after its process ended. Holds that may have changed are asked again."""
    events: list[ev.Event] = [ev.SessionResumed(max(0, at_ms - state.at_ms), sheet_changed, torn_bytes)]
    if state.read_back:
        events.append(ev.HoldLapsed(state.read_back, "restart"))
    if state.question or state.stopping:
        events.append(ev.QuestionClosed("restart"))
    for step in state.sheet.steps:
        if step.hold and state.may_have_changed(step.hold):
            events.append(ev.HoldReopened(step.hold.id, "restart"))
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
        return (ev.HoldLapsed(state.read_back, "silence"),)
    return ()


def advance(state: State, intent: Intent) -> Events:
    """ "next": refused with the reason, or the step is left, what it opens is opened, and the next one that applies."""
    step = state.step
    held = state.held()
    if held:
        return (ev.NextRefused(step.id, "hold", held.id),)
    if state.failed():
        return (ev.NextRefused(step.id, "failed", state.failed()[0]),)
    if state.waits():
        return (ev.NextRefused(step.id, "reading", state.waits()[0]),)
    if state.looks_wanted():
        return (ev.NextRefused(step.id, "look", state.looks_wanted()[0]),)
    if state.looks_bad():
        return (ev.NextRefused(step.id, "bad-look", state.looks_bad()[0]),)
    if (before := state.open_before()) is not None:
        return (ev.NextRefused(step.id, "before", before[1]),)
    # Withdrawn since it was put back. What this very step takes off may be off.
    if undone := [key for key in step.requires if key in state.register and key not in step.opens]:
        return (ev.NextRefused(step.id, "requires-now", undone[0]),)
    is_last = state.index == len(state.sheet.steps) - 1
    if (step.gate or is_last) and state.open_at_gate():
        why, what = state.open_at_gate()[0]
        return (ev.NextRefused(step.id, f"gate-{why}", what),)
    if state.closes():
        return (ev.NextRefused(step.id, "close", state.closes()[0]),)
    # Items first: a process that ends between two of these lines must not forget one.
    events: list[ev.Event] = []
    if step.id not in state.done:
        for key in step.opens:
            # What the person has named already is the step's own from now on: undo does not take it out.
            if key not in state.register or state.register[key].by != "step":
                item = state.sheet.items[key]
                events.append(ev.ItemOpened(key, item.name, item.kind.value, "step"))
    events.append(ev.StepDone(step.id))
    for following in state.sheet.steps[state.index + 1 :]:
        if following.only_if and following.only_if not in state.replaced:
            events.append(ev.StepPassedOver(following.id))
            continue
        opened = {e.key for e in events if isinstance(e, ev.ItemOpened)}
        missing = [key for key in following.requires if key in state.register or key in opened]
        if missing:
            return (ev.NextRefused(step.id, "requires", missing[0]),)
        return (*events, ev.StepOpened(following.id, "next"))
    left = state
    for event in events:
        left = apply(left, event)
    if left.open_at_gate():
        why, what = left.open_at_gate()[0]
        return (ev.NextRefused(step.id, f"gate-{why}", what),)
    return (*events, ev.SignedOff())


def go_back(state: State, intent: Intent) -> Events:
    """ "go back": only moves. A hold whose state can have changed is asked again there."""
    for step in reversed(state.sheet.steps[: state.index]):
        if step.id in state.passed_over:
            continue
        events: Events = (ev.StepOpened(step.id, "back"),)
        if step.hold and state.may_have_changed(step.hold):
            events = (ev.HoldReopened(step.hold.id, "back"), *events)
        return events
    return (ev.Refused(Kind.BACK.value, "first-step"),)


def redo(state: State, intent: Intent) -> Events:
    """ "do it again": this step and every step that rests on it; what they recorded is superseded, items follow."""
    if state.failed():
        return tuple(ev.ReadingReopened(state.step.id, r, "measure-again") for r in state.failed())
    steps = dependents(state, state.step.id)
    items = tuple(
        key
        for step in state.sheet.steps
        if step.id in steps and step.id in state.done
        for key in step.closes
        if key not in state.register
    )
    return (ev.StepRedone(steps, items), ev.StepOpened(state.step.id, "redo"))


def dependents(state: State, step_id: str) -> tuple[str, ...]:
    """`step_id` and the steps that rest on it, directly or not, in the sheet's order."""
    found = {step_id}
    for step in state.sheet.steps:
        if found.intersection(step.needs):
            found.add(step.id)
    return tuple(step.id for step in state.sheet.steps if step.id in found)


def take_phrase(state: State, intent: Intent) -> Events:
    """The hold's own phrase, whole: read back, waits for affirm."""
    if intent.name in state.confirmed:
        return (ev.Refused(Kind.CONFIRM.value, "confirmed-already", intent.name or ""),)
    hold = state.held()
    if hold is None or intent.name != hold.id:
        return (ev.Refused(Kind.CONFIRM.value, "other-hold", intent.name or ""),)
    return (ev.HoldPhraseHeard(hold.id, intent.heard),)


def record_reading(state: State, intent: Intent) -> Events:
    """One value, or several in one breath, into the points of a reading that this step waits for."""
    waits = state.waits()
    if not waits:
        return (ev.Refused(Kind.READING.value, "no-reading-wanted", intent.name or ""),)
    reading = intent.name or waits[0]
    if reading not in waits:
        is_taken = reading in state.step.readings
        return (ev.Refused(Kind.READING.value, "taken-already" if is_taken else "other-reading", reading),)
    spec = state.sheet.readings[reading]
    taken = state.taken_at(state.step.id, reading)
    pairs = _values(intent)
    without_row = _without_row(state, spec, tuple(value for _, value in pairs))
    if without_row:
        return (ev.Refused(Kind.READING.value, *without_row),)
    wanted = spec.points - len(taken.points)
    if not pairs or len(pairs) > wanted:
        return (ev.Asked(Intent(Kind.AMBIGUOUS, name=reading, heard=intent.heard, asks=Asks.HOW_MANY_POINTS)),)
    return tuple(
        ev.ReadingRecorded(
            state.step.id,
            reading,
            len(taken.points) + number,
            value,
            intent.unit or spec.unit,
            in_limit_unit,
            intent.heard,
            taken.stage,
            state.judge(spec, in_limit_unit).verdict.value,
            intent.confidence,
        )
        for number, (value, in_limit_unit) in enumerate(pairs)
    )


def _without_row(state: State, spec: ReadingSpec, values: tuple[Decimal, ...]) -> tuple[str, str] | None:
    """Why and what, where a table has no row: for this marking, or for a reading whose marking is not read yet."""
    if spec.limit.rows and state.limit_of(spec) is spec.limit:
        return ("marking-first", spec.limit.from_marking or "")
    tables = [
        one.limit for one in state.sheet.readings.values() if one.limit.rows and one.limit.from_marking == spec.id
    ]
    is_lost = any(limit.row(value) is None for limit in tables for value in values)
    return ("no-row", spec.id) if is_lost else None


def _values(intent: Intent) -> list[tuple[Decimal, Decimal]]:
    if intent.values:
        return list(zip(intent.values, intent.values_in_limit_unit or intent.values, strict=True))
    if intent.value is None:
        return []
    return [(intent.value, intent.value if intent.in_limit_unit is None else intent.in_limit_unit)]


def correct(state: State, intent: Intent) -> Events:
    """The reading recorded last, or the named one's last point, gets another value; the first stays in the journal."""
    target = _correction_target(state, intent.name)
    if target is None:
        return (ev.Refused(Kind.CORRECTION.value, "nothing-to-correct", intent.name or ""),)
    if intent.value is None:
        question = Intent(
            Kind.AMBIGUOUS, name=target[1], heard=intent.heard, asks=Asks.NO_NUMBER, text=Kind.CORRECTION.value
        )
        return (ev.Asked(question),)
    step, reading, point = target
    spec = state.sheet.readings[reading]
    taken = state.taken_at(step, reading)
    in_limit_unit = intent.value if intent.in_limit_unit is None else intent.in_limit_unit
    without_row = _without_row(state, spec, (in_limit_unit,))
    if without_row:
        return (ev.Refused(Kind.CORRECTION.value, *without_row),)
    verdict = state.judge(spec, in_limit_unit).verdict.value
    return (
        ev.ReadingCorrected(
            step,
            reading,
            point,
            taken.points[point].value,
            intent.value,
            intent.unit or spec.unit,
            in_limit_unit,
            intent.heard,
            taken.stage,
            verdict,
            intent.confidence,
        ),
    )


def _correction_target(state: State, name: str | None) -> tuple[str, str, int] | None:
    if name is None or (state.last_reading and state.last_reading[1] == name):
        target = state.last_reading
        if target and len(state.taken_at(target[0], target[1]).points) > target[2]:
            return target
        return None
    for step in reversed(state.sheet.steps):
        points = state.taken_at(step.id, name).points
        if points:
            return (step.id, name, len(points) - 1)
    return None


def replace_part(state: State, intent: Intent) -> Events:
    """The part behind a failed reading is replaced; its new reading is asked for. As found stays in the journal.

    What is marked on the old part says nothing about the new one: a marking of this step is read again first.
    """
    failed = state.failed()
    if not failed:
        return (ev.Refused(Kind.REPLACE.value, "nothing-failed"),)
    if intent.name and intent.name not in failed:
        return (ev.Refused(Kind.REPLACE.value, "not-failed", intent.name),)
    chosen = (intent.name,) if intent.name else failed
    marked = {state.sheet.readings[reading].limit.from_marking for reading in chosen}
    markings = tuple(r for r in state.step.readings if r in marked and state.taken_at(state.step.id, r).points)
    return tuple(ev.ReadingReopened(state.step.id, reading, "replaced") for reading in (*markings, *chosen))


def decide_on(state: State, intent: Intent) -> Events:
    """A failed or borderline reading, or a doubtful look, judged by somebody competent: only with a reason."""
    what = state.failed() or state.looks_bad()
    if not what:
        return (ev.Refused(Kind.JUDGED.value, "nothing-failed"),)
    if not intent.text:
        return (ev.Refused(Kind.JUDGED.value, "no-reason", what[0]),)
    return (ev.ReadingDecided(state.step.id, what[0], intent.text),)


def judge_look(state: State, intent: Intent) -> Events:
    looks = state.looks_wanted() or state.looks_bad()
    if not looks:
        return (ev.Refused(Kind.JUDGEMENT.value, "no-look-wanted"),)
    look = intent.name or looks[0]
    if look not in looks:
        return (ev.Refused(Kind.JUDGEMENT.value, "no-look-wanted", look),)
    if intent.text not in JUDGEMENTS:
        return (ev.Refused(Kind.JUDGEMENT.value, "no-judgement", look),)
    return (ev.LookJudged(state.step.id, look, intent.text, intent.detail, intent.heard),)


def undo(state: State, intent: Intent) -> Events:
    """Withdraws the person's last change. A hold that was acted upon (its step is left) is never withdrawn unasked."""
    if not state.changes:
        return (ev.Refused(Kind.UNDO.value, "nothing-to-undo"),)
    change = state.changes[-1]
    if change.what == "hold":
        if change.step != state.step.id:
            return (ev.Refused(Kind.UNDO.value, "hold-acted-upon"),)
        return tuple(ev.HoldReopened(hold, "undo") for hold in change.held)
    undone = [ev.Undone(change.seq, change.what)]
    if change.what == "replaced":
        # "Fit new" asks for what is marked on the part as well: one word of the person, one undo.
        for earlier in reversed(state.changes[:-1]):
            if earlier.what != "replaced" or not state.sheet.readings[earlier.reading or ""].is_marking:
                break
            undone.append(ev.Undone(earlier.seq, earlier.what))
    return tuple(undone)


def ask(state: State, intent: Intent) -> Events:
    """Asked back. Of several names, only those that are open here come into question; one alone is offered."""
    fitting = tuple(option for option in intent.options if option.name in state.register)
    if intent.asks is Asks.WHICH_NAME and fitting and len(fitting) < len(intent.options):
        intent = replace(intent, options=fitting, is_offer=len(fitting) == 1)
    return (ev.Asked(intent),)


def set_timer(state: State, intent: Intent) -> Events:
    seconds_in = {"s": 1, "min": 60, "h": 3600}
    if intent.value is None or intent.unit not in seconds_in:
        return (ev.Refused(Kind.TIMER.value, "no-time"),)
    seconds = int(intent.value * seconds_in[intent.unit])
    if not 0 < seconds <= 7 * 24 * 3600:
        return (ev.Refused(Kind.TIMER.value, "no-time"),)
    return (ev.TimerSet(f"timer-{state.seq + 1}", seconds, state.at_ms + seconds * 1000, intent.text),)


def stop(state: State, intent: Intent) -> Events:
    return (ev.StopAsked(),)


def affirm_stop(state: State, intent: Intent) -> Events:
    return (ev.QuestionClosed("affirm"), ev.JobStopped(state.step.id, tuple(state.register)))


def affirm_hold(state: State, intent: Intent) -> Events:
    assert state.read_back is not None
    return (ev.HoldConfirmed(state.read_back, intent.heard),)


def negate_hold(state: State, intent: Intent) -> Events:
    assert state.read_back is not None
    return (ev.HoldLapsed(state.read_back, "negative"),)


def affirm_question(state: State, intent: Intent) -> Events:
    """Takes what was offered, as if it had been said now; without an offer it answers nothing."""
    question = state.question
    offered = question.offered if question else None
    if offered is None:
        return (ev.AskedAgain(intent.heard),)
    closed = ev.QuestionClosed("affirm")
    return (closed, *decide(apply(state, closed), offered, state.clock_ms))


def negate_question(state: State, intent: Intent) -> Events:
    return (ev.QuestionClosed("negative"),)


def nothing_asked(state: State, intent: Intent) -> Events:
    return (ev.Refused(intent.kind.value, "nothing-asked"),)


def note(state: State, intent: Intent) -> Events:
    if not intent.text:
        return (ev.Refused(Kind.NOTE.value, "no-words"),)
    return (ev.NoteTaken(state.step.id, intent.text),)


def fold(state: State, events: Events) -> State:
    """`state` after `events`."""
    for event in events:
        state = apply(state, event)
    return state


def decide(state: State, intent: Intent, at_ms: int) -> Events:
    """Events for `intent` at `at_ms` (wall clock, milliseconds). Reads the table; every cell is filled."""
    from bench_voice.core.table import TABLE

    lapse = _lapse(state, at_ms)
    state = fold(state.at(at_ms), lapse)
    return (*lapse, *_reopening(state, TABLE[state.phase()][intent.kind].act(state, intent)))


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


__all__ = ["Events", "begin", "close_item", "decide", "fold", "resume", "tick"]
