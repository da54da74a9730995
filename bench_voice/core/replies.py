"""What to say after events: keys and fields, worded by `speech.say` from grammars/<language>/wording.yaml.

A reply is recomputed from the events, never stored. One value at a time (read-backs of several items are misheard).
What a step says and wants stands in `core.prompts`, what is asked back or answered in `core.answers`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.answers import question, told
from bench_voice.core.apply import apply
from bench_voice.core.cases import Again, Answer, Changed, Hindrance, Open, OpenedBy, Refusal, Reopening
from bench_voice.core.opens import hindrance, matters
from bench_voice.core.prompts import (
    Quantity,
    Replies,
    Reply,
    Statement,
    UnitName,
    name_of,
    phrase_of,
    prompt,
    read_back,
    reply,
    step_text,
    torque_text,
    want_item,
)
from bench_voice.core.sheet import Finding, ReadingSpec
from bench_voice.core.standing import (
    failure,
    gate_in_full,
    lowest_and_highest,
    pair_agrees,
    point_verdict,
    reading_stands,
    said_of,
    together_verdict,
    wanted,
)
from bench_voice.core.state import Change, Phase, State
from bench_voice.core.verdict import Side

__all__ = [
    "Quantity", "Replies", "Reply", "Statement", "UnitName", "after", "prompt", "question", "reply", "step_text",
    "torque_text",
]  # fmt: skip


def after(before: State, events: tuple[ev.Event, ...]) -> Replies:
    """Replies to `events`, which were decided in `before`."""
    said: list[Reply] = []
    state = before
    for event in events:
        previous, state = state, apply(state, event)
        said.extend(_SAY.get(type(event), _silent)(previous, state, event))
    said.extend(_stands_after(before, state, events, said))
    quiet = (ev.StepOpened, ev.SignedOff, ev.JobStopped, ev.NextRefused, ev.Asked, ev.AskedAgain, ev.StoodBy)
    if events and not isinstance(events[-1], quiet) and isinstance(events[-1], _MOVES_ON):
        said.extend(wanted(state, tuple(said)))
    return tuple(said)


# After these the person hears what the step wants now.
_MOVES_ON = (
    ev.HoldConfirmed, ev.HoldLapsed, ev.HoldReopened, ev.ReadingRecorded, ev.ReadingCorrected, ev.ReadingReopened,
    ev.ReadingDecided, ev.DecisionReopened, ev.LookJudged, ev.ItemClosed, ev.Undone, ev.CarriedOn, ev.QuestionClosed,
    ev.SessionResumed,
)  # fmt: skip


def _silent(before: State, state: State, event: Any) -> Replies:
    return ()


def _started(before: State, state: State, event: ev.SessionStarted) -> Replies:
    return (reply("started", title=state.sheet.title, machine=state.sheet.machine), reply("safety"))


def _earlier(before: State, state: State, event: ev.EarlierTaken) -> Replies:
    """The machine's distance or hours at its newest session: which machine it is, is heard by that."""
    earlier = event.earlier
    return () if earlier.at is None else (reply("machine-was-at", quantity=Quantity(earlier.at, earlier.at_unit)),)


def _instruments(before: State, state: State, event: ev.InstrumentsTaken) -> Replies:
    late = [reply("instrument-overdue", True, name=one.instrument, days=Decimal(one.days)) for one in event.overdue]
    return (*late, *(reply("instrument-missing", name=name) for name in event.missing))


def _resumed(before: State, state: State, event: ev.SessionResumed) -> Replies:
    said = [reply("resumed", title=state.sheet.title)]
    if event.torn_bytes:
        said.append(reply("resumed-torn", True))
    if event.sheet_changed:
        said.append(reply("sheet-changed", True))
    stand = tuple(
        Statement(s.hold.phrase)
        for s in state.sheet.steps
        if s.hold and s.hold.id in state.confirmed and not state.may_have_changed(s.hold)
    )
    if stand:
        said.append(reply("resumed-confirmed", names=stand))
    # What this step wants is said with it.
    open_ = tuple(matter for matter in matters(state) if matter.step != state.step.id or matter.is_begun)
    return (*said, *said_of(state, open_), *step_text(state, state.step))


def _step_opened(before: State, state: State, event: ev.StepOpened) -> Replies:
    wants = gate_in_full(state) if state.phase() is Phase.GATE else wanted(state)
    return (*step_text(state, state.step), *wants)


def _redone(before: State, state: State, event: ev.StepRedone) -> Replies:
    if len(event.steps) == 1:
        return (reply("redone-one", number=Decimal(state.sheet.step_index(event.steps[0]) + 1)),)
    return (reply("redone", count=Decimal(len(event.steps))),)


_AT_GATE = frozenset(one.at_gate for one in Open)


def _next_refused(before: State, state: State, event: ev.NextRefused) -> Replies:
    if event.why is Hindrance.HOLD:
        return (reply("refused-hold", True, phrase=phrase_of(state, event.what)),)
    if event.why in _AT_GATE:
        opened = state.open_at_gate()
        if not opened:  # what this very step would open keeps the job from being signed off
            return (reply("gate-item-later", True, name=name_of(state, event.what)),)
        return (reply("refused-gate", True), *gate_in_full(state))
    first = hindrance(state)
    if first is not None and event.why is Hindrance.BEFORE:
        number = Decimal(state.sheet.step_index(first.step) + 1)
        return (reply("not-yet", True), *said_of(state, [first]), reply("go-to-step", True, number=number))
    if first is not None and event.why is Hindrance.FAILED:
        return (reply("not-yet", True), *failure(state))
    if first is not None and event.why is Hindrance.CLOSE:
        return (reply("not-yet", True), *said_of(state, [first]), want_item(state, event.what))
    return (reply(f"refused-{event.why}", True, name=name_of(state, event.what)),)


def _phrase_heard(before: State, state: State, event: ev.HoldPhraseHeard) -> Replies:
    return (read_back(state, event.hold),)


def _confirmed(before: State, state: State, event: ev.HoldConfirmed) -> Replies:
    return (reply("hold-passed"),)


def _lapsed(before: State, state: State, event: ev.HoldLapsed) -> Replies:
    return (reply("hold-lapsed", True),)


def _hold_reopened(before: State, state: State, event: ev.HoldReopened) -> Replies:
    if event.why is Reopening.UNDO:
        return (reply("undone-hold", True),)
    return (reply("hold-reopened", True, phrase=phrase_of(state, event.hold)),)


def _recorded(before: State, state: State, event: ev.ReadingRecorded) -> Replies:
    spec = state.sheet.readings[event.reading]
    said = reply("reading", name=spec.name, quantity=Quantity(event.value, event.unit))
    return _with_verdicts(before, state, event, said)


def _with_verdicts(
    before: State, state: State, event: ev.ReadingRecorded | ev.ReadingCorrected, first: Reply
) -> Replies:
    """The value, its verdict, that of all points and both sides, and what it makes not good elsewhere."""
    spec, taken = state.sheet.readings[event.reading], state.taken_at(event.step, event.reading)
    if spec.is_marking:
        said = [first, _marking(state, spec, event.in_limit_unit)]
    else:
        said = [first, point_verdict(state, spec, taken.points[event.point])]
    if len(taken.points) == spec.points:
        together = together_verdict(state, event.step, event.reading)
        said += (together,) if together is not None else pair_agrees(state, event.step, event.reading)
        if spec.points > 1:
            low, high = lowest_and_highest(taken.points)
            said.append(reply("points-done", low=low, high=high))
    return (*said, *_not_good_now(before, state, said))


def _not_good_now(before: State, state: State, said: Sequence[Reply]) -> Replies:
    """What a value makes not good at steps that were left: itself, or those that are judged by it."""
    found: list[Reply] = []
    for step, reading in state.taken:
        if state.taken[step, reading].decided:
            continue  # that it was decided on other figures is said with the next event
        if step != state.step.id and state.needs_decision(step, reading) and not before.needs_decision(step, reading):
            stands = reading_stands(state, step, reading)
            number = Decimal(state.sheet.step_index(step) + 1)
            if stands[-1] not in (*said, *found):
                found += (reply("not-good-now", True, number=number), *stands)
    return tuple(found)


def _marking(state: State, marking: ReadingSpec, value: Decimal) -> Reply:
    """The marking on the part becomes the limit, or chooses a row; says so when the sheet's figure differs."""
    limits = [spec.limit for spec in state.sheet.readings.values() if spec.limit.from_marking == marking.id]
    for limit in limits:
        figure = limit.high if limit.high is not None else limit.low
        if figure is not None and figure != value:
            return reply("marking-differs", True, sheet=Quantity(figure, limit.unit))
    if not limits:
        return reply("verdict-noted")
    return reply("marking-row" if any(limit.rows for limit in limits) else "marking-taken")


def _corrected(before: State, state: State, event: ev.ReadingCorrected) -> Replies:
    spec = state.sheet.readings[event.reading]
    said = reply("corrected", name=spec.name, quantity=Quantity(event.value, event.unit))
    return _with_verdicts(before, state, event, said)


def _reading_reopened(before: State, state: State, event: ev.ReadingReopened) -> Replies:
    if event.why is Again.REPLACED and state.sheet.readings[event.reading].is_marking:
        return ()  # it is said with the reading whose part was replaced
    return (reply(f"reopened-{event.why}", name=name_of(state, event.reading)),)


def _decided(before: State, state: State, event: ev.ReadingDecided) -> Replies:
    spec = state.sheet.readings.get(event.what)
    if spec is None or spec.pair is None or before.verdict_at(event.step, event.what).side is not Side.PAIR:
        return (reply("decided", name=name_of(state, event.what), reason=event.reason),)
    if before.taken_at(event.step, spec.pair).decided == event.reason:
        return ()  # said with the other side
    return (reply("decided-pair", names=(spec.name, name_of(state, spec.pair)), reason=event.reason),)


def _decision_reopened(before: State, state: State, event: ev.DecisionReopened) -> Replies:
    key = "decision-reopened" if state.needs_decision(event.step, event.what) else "decision-void"
    number = Decimal(state.sheet.step_index(event.step) + 1)
    return (reply(key, True, name=name_of(state, event.what), number=number),)


def _look(before: State, state: State, event: ev.LookJudged) -> Replies:
    return (reply(f"look-{event.judgement}", event.judgement is not Finding.GOOD, name=name_of(state, event.look)),)


def _item_opened(before: State, state: State, event: ev.ItemOpened) -> Replies:
    if event.by is OpenedBy.STEP:
        return ()
    return (reply(f"opened-{event.kind}", name=event.name),)


def _item_closed(before: State, state: State, event: ev.ItemClosed) -> Replies:
    entry = before.register.get(event.key)
    return (reply(f"closed-{entry.kind.value}", name=entry.name),) if entry else ()


def _note(before: State, state: State, event: ev.NoteTaken) -> Replies:
    return (reply("note", text=event.text),)


def _timer_set(before: State, state: State, event: ev.TimerSet) -> Replies:
    quantity = Quantity(Decimal(event.seconds), "s")
    if event.seconds % 60 == 0:
        quantity = Quantity(Decimal(event.seconds // 60), "min")
    return (reply("timer-set", quantity=quantity),)


def _timer_due(before: State, state: State, event: ev.TimerDue) -> Replies:
    text = before.timers[event.key][1] if event.key in before.timers else ""
    return (reply("timer-due-for", True, text=text) if text else reply("timer-due", True),)


def _asked(before: State, state: State, event: ev.Asked) -> Replies:
    return (question(state, event.question),)


def _asked_again(before: State, state: State, event: ev.AskedAgain) -> Replies:
    if state.stopping:
        return (reply("ask-stop", True),)
    return (question(state, state.question),) if state.question else ()


def _question_closed(before: State, state: State, event: ev.QuestionClosed) -> Replies:
    if event.how is not Answer.NEGATIVE:
        return ()
    return (reply("goes-on" if before.stopping else "not-taken"),)


def _refused(before: State, state: State, event: ev.Refused) -> Replies:
    if event.why in (Refusal.HOLD_FIRST, Refusal.CHOICES):
        return prompt(state)
    name = name_of(state, event.what) if event.what else ""
    if event.why is Refusal.TAKEN_ALREADY and state.taken_at(state.step.id, event.what).points:
        stands = reading_stands(state, state.step.id, event.what)
        return (*stands, reply("no-taken-already", name=name), *wanted(state, stands))
    if event.why is Refusal.NO_ROW:
        keys = dict.fromkeys(
            row.key
            for spec in state.sheet.readings.values()
            if spec.limit.from_marking == event.what
            for row in spec.limit.rows
        )
        return (reply("no-no-row", name=name, keys=tuple(keys)),)
    if event.why is Refusal.NOT_OPEN:
        return _not_open(state, event)
    if event.why is Refusal.OPEN_ALREADY and event.what in state.register:
        entry = state.register[event.what]
        return (reply(f"open-{entry.kind}", name=entry.name), want_item(state, event.what))
    return (reply(f"no-{event.why}", name=name), *(prompt(state) if event.why in _SAYS_WANT else ()))


def _not_open(state: State, event: ev.Refused) -> Replies:
    """What it is instead, and the word for it: still on where another verb closes it, or not noted at all."""
    begun = next(
        (matter for matter in matters(state) if matter.is_begun and name_of(state, matter.key) == event.what), None
    )
    if begun is not None:
        return (*said_of(state, (begun,)), reply("no-begun"))
    entry = next((one for one in state.register.values() if one.name == event.what), None)
    if entry is not None:
        return (reply(f"open-{entry.kind}", name=entry.name), want_item(state, entry.key))
    return (reply("no-not-open", name=event.what),)


_SAYS_WANT = frozenset(
    (
        Refusal.NOTHING_ASKED,
        Refusal.OTHER_HOLD,
        Refusal.NO_READING_WANTED,
        Refusal.TAKEN_ALREADY,
        Refusal.OTHER_READING,
    )
)


def _not_understood(before: State, state: State, event: ev.NotUnderstood) -> Replies:
    if not event.heard:
        return (reply("say-again"),)
    return (reply("say-again"), *(prompt(state) if state.phase() is not Phase.READY else ()))


def _undone(before: State, state: State, event: ev.Undone) -> Replies:
    change = next((c for c in before.changes if c.seq == event.seq), None)
    # A hold's undoing was said when it was reopened, a marking's with its reading's.
    if change is None or event.what is Changed.HOLD:
        return ()
    if event.what is Changed.REPLACED and state.sheet.readings[change.reading or ""].is_marking:
        return ()
    if event.what is Changed.DECISION and change.reading in state.sheet.readings:
        pair = state.sheet.readings[change.reading or ""].pair
        sides = {change.reading, pair}
        if len(
            [c for c in before.changes if c.what is Changed.DECISION and c.reading in sides and c.seq == change.seq - 1]
        ):
            return ()  # said with the other side
    fields = _withdrawn(before, change)
    said = [reply(f"undone-{event.what}" if fields else "undone", **fields)]
    if change.step != state.step.id and change.what not in (Changed.NOTE, Changed.TIMER):
        said.append(reply("undone-at", number=Decimal(state.sheet.step_index(change.step) + 1)))
    for step, reading in state.taken:
        if _is_decided(state, step, reading) and not _is_decided(before, step, reading):
            said.append(reply("decision-again", name=name_of(state, reading)))
    lost = [key for key in state.step.requires if key in state.register and key not in before.register]
    said += [reply("refused-requires-now", True, name=name_of(state, key)) for key in lost]
    return tuple(said)


def _stands_after(before: State, state: State, events: Sequence[ev.Event], said: Sequence[Reply]) -> Replies:
    """What stands, once all is withdrawn, of what the withdrawn changes touched; what was said already not again."""
    seqs = [event.seq for event in events if isinstance(event, ev.Undone) and event.what is not Changed.REDO]
    found: list[Reply] = []
    for change in before.changes:
        if change.seq in seqs:
            found += [one for one in _stands(state, change) if one not in said and one not in found]
    return tuple(found)


def _stands(state: State, change: Change) -> Replies:
    """A value with its verdict, an entry on or off."""
    if change.item is not None:
        found = tuple(matter for matter in matters(state) if matter.what is Open.ITEM and matter.key == change.item[0])
        return said_of(state, found) or (reply("undone-item-none"),)
    if change.where is None or change.where[1] not in state.sheet.readings:
        return ()
    step, reading = change.where
    if not state.taken_at(step, reading).points:
        return () if step == state.step.id else (reply("open-reading", name=name_of(state, reading)),)
    if step == state.step.id and reading in state.failed():
        return ()  # said with what the step wants
    return reading_stands(state, step, reading)


def _is_decided(state: State, step: str, reading: str) -> bool:
    """Whether a decision holds there."""
    return bool(state.taken_at(step, reading).decided) and not state.changed_since_decided(step, reading)


def _withdrawn(state: State, change: Change) -> dict[str, Any]:
    """What is said of it; empty where it has no name."""
    if change.what in (Changed.NOTE, Changed.TIMER, Changed.REDO):
        return {"what": change.what}
    if change.what is Changed.READING and change.where is not None:
        found = [point for point in state.taken[change.where].points if point.seq == change.seq]
        name = name_of(state, change.where[1])
        return {"name": name, "quantity": Quantity(found[0].value, found[0].unit)} if found else {}
    if change.item is not None:
        key, closed = change.item
        return {"name": (closed or state.register[key]).name}
    return {"name": name_of(state, change.reading)} if change.reading else {}


_SAY: dict[type, Callable[[State, State, Any], Replies]] = {
    ev.SessionStarted: _started,
    ev.ReadingsCarried: lambda before, state, event: (reply("carried", count=Decimal(len(event.readings))),),
    ev.InstrumentsTaken: _instruments,
    ev.HistoryTaken: _silent,
    ev.SessionDetails: _silent,
    ev.EarlierTaken: _earlier,
    ev.SessionResumed: _resumed,
    ev.StepOpened: _step_opened,
    ev.StepRedone: _redone,
    ev.NextRefused: _next_refused,
    ev.HoldPhraseHeard: _phrase_heard,
    ev.HoldConfirmed: _confirmed,
    ev.HoldLapsed: _lapsed,
    ev.HoldReopened: _hold_reopened,
    ev.ReadingRecorded: _recorded,
    ev.ReadingCorrected: _corrected,
    ev.ReadingReopened: _reading_reopened,
    ev.ReadingDecided: _decided,
    ev.DecisionReopened: _decision_reopened,
    ev.LookJudged: _look,
    ev.ItemOpened: _item_opened,
    ev.ItemClosed: _item_closed,
    ev.NoteTaken: _note,
    ev.MarkSet: lambda before, state, event: (reply("marked"),),
    ev.TimerSet: _timer_set,
    ev.TimerDue: _timer_due,
    ev.Asked: _asked,
    ev.AskedAgain: _asked_again,
    ev.QuestionClosed: _question_closed,
    ev.Told: lambda before, state, event: told(state, event),
    ev.Refused: _refused,
    ev.NotUnderstood: _not_understood,
    ev.StoodBy: lambda before, state, event: (reply("standing-by"),),
    ev.CarriedOn: lambda before, state, event: (reply("carrying-on"),),
    ev.Undone: _undone,
    ev.StopAsked: lambda before, state, event: (reply("ask-stop", True),),
    # A stopped job does not come back: who walks away has to know what is on or off.
    ev.JobStopped: lambda before, state, event: (reply("stopped", True), *_items_open(state)),
    ev.SignedOff: lambda before, state, event: (reply("signed-off"), *_follow_ups(state)),
}


def _items_open(state: State) -> Replies:
    return said_of(state, tuple(matter for matter in matters(state) if matter.what is Open.ITEM))


def _follow_ups(state: State) -> Replies:
    done = [step for step in state.sheet.steps if step.id not in state.passed_over]
    return tuple(reply("follow-up", text=step.follow_up) for step in done if step.follow_up)
