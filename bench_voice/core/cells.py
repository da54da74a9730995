"""What an intent does, a function a cell of `core.table`: (state, intent) -> events. Pure; each takes the shape that it
needs and never raises for a human mistake.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from bench_voice.core import events as ev
from bench_voice.core.apply import fold
from bench_voice.core.cases import Again, Answer, Changed, Hindrance, Lapse, OpenedBy, Opening, Refusal, Reopening
from bench_voice.core.events import Events
from bench_voice.core.intents import (
    Asks,
    Confirmation,
    Intent,
    Judgement,
    Kind,
    Measurement,
    Question,
    Remark,
    Replacement,
    Timer,
    id_of,
)
from bench_voice.core.opens import hindrance
from bench_voice.core.sheet import ReadingSpec
from bench_voice.core.state import State


def advance(state: State, intent: Intent) -> Events:
    """ "next": refused with the reason, or the step is left, what it opens is opened, and the next one that applies."""
    step = state.step
    if (first := hindrance(state)) is not None and first.why is not None:
        return (ev.NextRefused(step.id, first.why, first.key),)
    # Items first: a process that ends between two of these lines must not forget one.
    events: list[ev.Event] = []
    if step.id not in state.done:
        for key in step.opens:
            # What the person has named already is the step's own from now on: undo does not take it out.
            if key not in state.register or state.register[key].by is not OpenedBy.STEP:
                item = state.sheet.items[key]
                events.append(ev.ItemOpened(key, item.name, item.kind, OpenedBy.STEP))
    events.append(ev.StepDone(step.id))
    for following in state.sheet.steps[state.index + 1 :]:
        if following.only_if and following.only_if not in state.replaced:
            events.append(ev.StepPassedOver(following.id))
            continue
        opened = {e.key for e in events if isinstance(e, ev.ItemOpened)}
        missing = [key for key in following.requires if key in state.register or key in opened]
        if missing:
            return (ev.NextRefused(step.id, Hindrance.REQUIRES, missing[0]),)
        return (*events, ev.StepOpened(following.id, Opening.NEXT))
    left = fold(state, tuple(events))
    if left.open_at_gate():
        why, what = left.open_at_gate()[0]
        return (ev.NextRefused(step.id, why.at_gate, what),)
    return (*events, ev.SignedOff())


def go_back(state: State, intent: Intent) -> Events:
    """ "go back": only moves. A hold whose state can have changed is asked again there."""
    for step in reversed(state.sheet.steps[: state.index]):
        if step.id in state.passed_over:
            continue
        events: Events = (ev.StepOpened(step.id, Opening.BACK),)
        if step.hold and state.may_have_changed(step.hold):
            events = (ev.HoldReopened(step.hold.id, Reopening.BACK), *events)
        return events
    return (ev.Refused(Kind.BACK, Refusal.FIRST_STEP),)


def redo(state: State, intent: Intent) -> Events:
    """ "do it again": this step and every step that rests on it; what they recorded is superseded, items follow."""
    if state.failed():
        return tuple(ev.ReadingReopened(state.step.id, r, Again.MEASURE) for r in state.failed())
    steps = dependents(state, state.step.id)
    items = tuple(
        key
        for step in state.sheet.steps
        if step.id in steps and step.id in state.done
        for key in step.closes
        if key not in state.register
    )
    return (ev.StepRedone(steps, items), ev.StepOpened(state.step.id, Opening.REDO))


def dependents(state: State, step_id: str) -> tuple[str, ...]:
    """`step_id` and the steps that rest on it, directly or not, in the sheet's order."""
    found = {step_id}
    for step in state.sheet.steps:
        if found.intersection(step.needs):
            found.add(step.id)
    return tuple(step.id for step in state.sheet.steps if step.id in found)


def take_phrase(state: State, intent: Confirmation) -> Events:
    """The hold's own phrase, whole: read back, waits for affirm."""
    if intent.hold in state.confirmed:
        return (ev.Refused(Kind.CONFIRM, Refusal.CONFIRMED_ALREADY, intent.hold or ""),)
    hold = state.held()
    if hold is None or intent.hold != hold.id:
        return (ev.Refused(Kind.CONFIRM, Refusal.OTHER_HOLD, intent.hold or ""),)
    return (ev.HoldPhraseHeard(hold.id, intent.heard),)


def record_reading(state: State, intent: Measurement) -> Events:
    """One value, or several in one breath, into the points of a reading that this step waits for."""
    waits, retakes = state.waits(), state.retakes()
    reading = intent.name or next(iter((*waits, *retakes)), None)
    if reading in retakes:
        return _taken_already(state, reading, intent)
    if not waits or reading is None:
        return (ev.Refused(Kind.READING, Refusal.NO_READING_WANTED, intent.name or ""),)
    if reading not in waits:
        return (ev.Refused(Kind.READING, Refusal.OTHER_READING, reading),)
    spec = state.sheet.readings[reading]
    taken = state.taken_at(state.step.id, reading)
    pairs = _values(intent)
    without_row = _without_row(state, spec, tuple(value for _, value in pairs))
    if without_row:
        return (ev.Refused(Kind.READING, *without_row),)
    wanted = spec.points - len(taken.points)
    if not pairs or len(pairs) > wanted:
        return (ev.Asked(Question(Asks.HOW_MANY_POINTS, reading, heard=intent.heard)),)
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
            state.judge(spec, in_limit_unit).verdict,
            intent.confidence,
        )
        for number, (value, in_limit_unit) in enumerate(pairs)
    )


def _taken_already(state: State, reading: str, intent: Measurement) -> Events:
    """Another value of a reading that is taken: asked what it is. The same good value once more changes nothing."""
    pairs = _values(intent)
    stands = state.taken_at(state.step.id, reading).values
    is_same = tuple(value for _, value in pairs) in (stands, stands[-1:])
    if not pairs or (is_same and not state.needs_decision(state.step.id, reading)):
        return (ev.Refused(Kind.READING, Refusal.TAKEN_ALREADY, reading),)
    said = replace(intent, kind=Kind.READING, name=reading)
    return (ev.Asked(Question(Asks.RETAKEN, reading, (said,), heard=intent.heard)),)


def retake(state: State, intent: Measurement) -> Events:
    """A number where a reading keeps the step open: asked what it is. Of one not taken yet, the choices are said."""
    reading = intent.name or state.failed()[0]
    if reading not in state.retakes():
        return (ev.Refused(Kind.READING, Refusal.CHOICES),)
    return _taken_already(state, reading, intent)


def _retaken(state: State) -> Measurement | None:
    """The value that the open question is about, where it asks what another value is."""
    question = state.question
    if question is None or question.asks is not Asks.RETAKEN or not question.options:
        return None
    option = question.options[0]
    return option if isinstance(option, Measurement) and option.name in state.retakes() else None


def measured_again(state: State, intent: Intent) -> Events:
    """ "Measure again" to that question: the reading is open again, and `retaken` is taken."""
    closed = ev.QuestionClosed(Answer.OTHER)
    value = _retaken(state)
    if value is None:
        return (closed,)
    return (closed, ev.ReadingReopened(state.step.id, value.name or "", Again.MEASURE))


def new_part(state: State, intent: Replacement) -> Events:
    """ "Fit new" to that question, likewise."""
    closed = ev.QuestionClosed(Answer.OTHER)
    value = _retaken(state)
    if value is None or value.name not in state.failed():
        return (closed,)
    return (closed, *replace_part(state, Replacement(value.name)))


def retaken(state: State, intent: Intent) -> Intent:
    """What follows an answer to that question: the value that was heard. `intent` itself after any other question."""
    value = _retaken(state)
    if value is None or (intent.kind is Kind.REPLACE and value.name not in state.failed()):
        return intent
    if not isinstance(intent, Measurement):
        return value
    is_one = intent.value is None and value.value is not None
    return replace(value, kind=Kind.CORRECTION, heard=value.heard) if is_one else intent


def _without_row(state: State, spec: ReadingSpec, values: tuple[Decimal, ...]) -> tuple[Refusal, str] | None:
    """Why and what, where a table has no row: for this marking, or for a reading whose marking is not read yet."""
    if spec.limit.rows and state.limit_of(spec) is spec.limit:
        return (Refusal.MARKING_FIRST, spec.limit.from_marking or "")
    tables = [
        one.limit for one in state.sheet.readings.values() if one.limit.rows and one.limit.from_marking == spec.id
    ]
    is_lost = any(limit.row(value) is None for limit in tables for value in values)
    return (Refusal.NO_ROW, spec.id) if is_lost else None


def _values(intent: Measurement) -> list[tuple[Decimal, Decimal]]:
    if intent.values:
        return list(zip(intent.values, intent.values_in_limit_unit or intent.values, strict=True))
    if intent.value is None:
        return []
    return [(intent.value, intent.value if intent.in_limit_unit is None else intent.in_limit_unit)]


def correct(state: State, intent: Measurement) -> Events:
    """The reading recorded last, or the named one's last point, gets another value; the first stays in the journal."""
    target = _correction_target(state, intent.name)
    if target is None:
        return (ev.Refused(Kind.CORRECTION, Refusal.NOTHING_TO_CORRECT, intent.name or ""),)
    if intent.value is None:
        return (ev.Asked(Question(Asks.NO_NUMBER, target[1], is_about_correction=True, heard=intent.heard)),)
    step, reading, point = target
    spec = state.sheet.readings[reading]
    taken = state.taken_at(step, reading)
    in_limit_unit = intent.value if intent.in_limit_unit is None else intent.in_limit_unit
    without_row = _without_row(state, spec, (in_limit_unit,))
    if without_row:
        return (ev.Refused(Kind.CORRECTION, *without_row),)
    verdict = state.judge(spec, in_limit_unit).verdict
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


def replace_part(state: State, intent: Replacement) -> Events:
    """The part behind a failed reading is replaced; its new reading is asked for. As found stays in the journal.

    What is marked on the old part says nothing about the new one: a marking of this step is read again first.
    """
    failed = state.failed()
    if not failed:
        return (ev.Refused(Kind.REPLACE, Refusal.NOTHING_FAILED),)
    if intent.name and intent.name not in failed:
        return (ev.Refused(Kind.REPLACE, Refusal.NOT_FAILED, intent.name),)
    chosen = (intent.name,) if intent.name else failed
    marked = {state.sheet.readings[reading].limit.from_marking for reading in chosen}
    markings = tuple(r for r in state.step.readings if r in marked and state.taken_at(state.step.id, r).points)
    return tuple(ev.ReadingReopened(state.step.id, reading, Again.REPLACED) for reading in (*markings, *chosen))


def decide_on(state: State, intent: Remark) -> Events:
    """A failed or borderline reading, or a doubtful look, judged by somebody competent: only with a reason."""
    what = state.failed() or state.looks_bad()
    if not what:
        return (ev.Refused(Kind.JUDGED, Refusal.NOTHING_FAILED),)
    if not intent.text:
        return (ev.Refused(Kind.JUDGED, Refusal.NO_REASON, what[0]),)
    settled = state.settled_with(what[0]) if state.failed() else what[:1]
    return tuple(ev.ReadingDecided(state.step.id, one, intent.text) for one in settled)


def take_judgement(state: State, intent: Judgement) -> Events:
    looks = state.looks_wanted() or state.looks_bad()
    if not looks:
        return (ev.Refused(Kind.JUDGEMENT, Refusal.NO_LOOK_WANTED),)
    look = intent.name or looks[0]
    if look not in looks:
        return (ev.Refused(Kind.JUDGEMENT, Refusal.NO_LOOK_WANTED, look),)
    if intent.finding is None:
        return (ev.Refused(Kind.JUDGEMENT, Refusal.NO_JUDGEMENT, look),)
    return (ev.LookJudged(state.step.id, look, intent.finding, intent.note, intent.heard),)


def undo(state: State, intent: Intent) -> Events:
    """Withdraws the person's last change. A hold that was acted upon (its step is left) is never withdrawn unasked."""
    if not state.changes:
        return (ev.Refused(Kind.UNDO, Refusal.NOTHING_TO_UNDO),)
    change = state.changes[-1]
    if change.what is Changed.HOLD:
        if change.step != state.step.id:
            return (ev.Refused(Kind.UNDO, Refusal.HOLD_ACTED_UPON),)
        return tuple(ev.HoldReopened(hold, Reopening.UNDO) for hold in change.held)
    undone = [ev.Undone(change.seq, change.what)]
    if change.what is Changed.REPLACED:
        # "Fit new" asks for what is marked on the part as well: one word of the person, one undo.
        for earlier in reversed(state.changes[:-1]):
            if earlier.what is not Changed.REPLACED or not state.sheet.readings[earlier.reading or ""].is_marking:
                break
            undone.append(ev.Undone(earlier.seq, earlier.what))
    if change.what is Changed.DECISION and len(state.changes) > 1:
        # One decision settles both sides of a pair: so does one undo.
        earlier = state.changes[-2]
        sides = (change.reading or "", earlier.reading or "")
        is_next = earlier.what is Changed.DECISION and earlier.seq == change.seq - 1
        if is_next and _are_sides(state, sides) and state.only_differ(change.step, sides):
            undone.append(ev.Undone(earlier.seq, earlier.what))
    return tuple(undone)


def _are_sides(state: State, ids: tuple[str, str]) -> bool:
    """Whether these are the two sides of one pair."""
    spec = state.sheet.readings.get(ids[0])
    return spec is not None and spec.pair == ids[1]


def ask(state: State, intent: Question) -> Events:
    """Asked back. Of several names, only those that are open here come into question; one alone is offered.

    What could not be corrected on *affirm* either is not asked about.
    """
    if intent.is_about_correction and intent.options:
        named = [id_of(option) for option in intent.options]
        if not any(_correction_target(state, name) for name in named):
            return (ev.Refused(Kind.CORRECTION, Refusal.NOTHING_TO_CORRECT, named[0] or ""),)
    fitting = tuple(option for option in intent.options if id_of(option) in state.register)
    if intent.asks is Asks.WHICH_NAME and fitting and len(fitting) < len(intent.options):
        intent = replace(intent, options=fitting, is_offer=len(fitting) == 1)
    return (ev.Asked(intent),)


def set_timer(state: State, intent: Timer) -> Events:
    seconds_in = {"s": 1, "min": 60, "h": 3600}
    if intent.unit not in seconds_in:
        return (ev.Refused(Kind.TIMER, Refusal.NO_TIME),)
    seconds = int(intent.value * seconds_in[intent.unit])
    if not 0 < seconds <= 7 * 24 * 3600:
        return (ev.Refused(Kind.TIMER, Refusal.NO_TIME),)
    return (ev.TimerSet(f"timer-{state.seq + 1}", seconds, state.at_ms + seconds * 1000, intent.text),)


def stop(state: State, intent: Intent) -> Events:
    return (ev.StopAsked(),)


def affirm_stop(state: State, intent: Intent) -> Events:
    return (ev.QuestionClosed(Answer.AFFIRM), ev.JobStopped(state.step.id, tuple(state.register)))


def affirm_hold(state: State, intent: Intent) -> Events:
    assert state.read_back is not None
    return (ev.HoldConfirmed(state.read_back, intent.heard),)


def negate_hold(state: State, intent: Intent) -> Events:
    assert state.read_back is not None
    return (ev.HoldLapsed(state.read_back, Lapse.NEGATIVE),)


def affirm_question(state: State, intent: Intent) -> Events:
    """What was offered is taken next (`offered`); without an offer it answers nothing."""
    return (ev.QuestionClosed(Answer.AFFIRM),) if offered(state, intent) is not None else (ev.AskedAgain(intent.heard),)


def offered(state: State, intent: Intent) -> Intent | None:
    """What the open question offers, to be done as if it had been said now."""
    return state.question.offered if state.question else None


def negate_question(state: State, intent: Intent) -> Events:
    return (ev.QuestionClosed(Answer.NEGATIVE),)


def nothing_asked(state: State, intent: Intent) -> Events:
    return (ev.Refused(intent.kind, Refusal.NOTHING_ASKED),)


def note(state: State, intent: Remark) -> Events:
    if not intent.text:
        return (ev.Refused(Kind.NOTE, Refusal.NO_WORDS),)
    return (ev.NoteTaken(state.step.id, intent.text),)
