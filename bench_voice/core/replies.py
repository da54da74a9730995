"""What to say after events: keys and fields, worded by `speech.say` from grammars/<language>/wording.yaml.

A reply is recomputed from the events, never stored. One value at a time (read-backs of several items are misheard).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Context, Decimal
from typing import Any

from bench_voice.core import events as ev
from bench_voice.core.apply import apply
from bench_voice.core.intents import SETTINGS, Asks, Intent, Kind
from bench_voice.core.sheet import ReadingSpec, Step, TorqueStage
from bench_voice.core.state import Phase, State
from bench_voice.core.verdict import Judged, Verdict, like, shown


@dataclass(frozen=True)
class Quantity:
    """A value with its unit, spoken as such."""

    value: Decimal
    unit: str


@dataclass(frozen=True)
class UnitName:
    """A unit by its word alone: "millimetres"."""

    unit: str


@dataclass(frozen=True)
class Reply:
    """`key` names a template, `fields` fill it. `is_urgent`: out of limits, a hold: said in full, not cut short."""

    key: str
    fields: Mapping[str, Any] = field(default_factory=dict)
    is_urgent: bool = False


Replies = tuple[Reply, ...]


def reply(key: str, is_urgent: bool = False, **fields: Any) -> Reply:
    return Reply(key, fields, is_urgent)


def after(before: State, events: tuple[ev.Event, ...]) -> Replies:
    """Replies to `events`, which were decided in `before`."""
    said: list[Reply] = []
    state = before
    for event in events:
        previous, state = state, apply(state, event)
        said.extend(_SAY.get(type(event), _silent)(previous, state, event))
    quiet = (ev.StepOpened, ev.SignedOff, ev.JobStopped, ev.NextRefused, ev.Asked, ev.AskedAgain, ev.StoodBy)
    if events and not isinstance(events[-1], quiet) and isinstance(events[-1], _MOVES_ON):
        said.extend(prompt(state))
    return tuple(said)


# After these the person hears what the step wants now.
_MOVES_ON = (
    ev.HoldConfirmed, ev.HoldLapsed, ev.HoldReopened, ev.ReadingRecorded, ev.ReadingCorrected, ev.ReadingReopened,
    ev.ReadingDecided, ev.LookJudged, ev.ItemClosed, ev.Undone, ev.CarriedOn, ev.QuestionClosed, ev.SessionResumed,
)  # fmt: skip


def prompt(state: State) -> Replies:
    """What the step wants now, in one sentence; nothing where "next" is all that is wanted and was said."""
    phase = state.phase()
    held = state.held()
    if phase is Phase.HOLD and held:
        return (reply("want-hold", True, phrase=held.phrase),)
    if phase is Phase.FAILED:
        return (reply("choices", True, name=_name(state, state.failed()[0])),)
    if phase is Phase.READING:
        return (_want_reading(state),)
    if phase is Phase.LOOK:
        bad = state.looks_bad()
        if bad and not state.looks_wanted():
            return (reply("choices-look", True, name=_name(state, bad[0])),)
        return (reply("want-look", name=_name(state, state.looks_wanted()[0])),)
    if phase is Phase.GATE:
        return (_gate(state),)
    if phase is Phase.CLOSE:
        return (_want_item(state, state.closes()[0]),)
    if phase is Phase.READY:
        is_last = state.index == len(state.sheet.steps) - 1
        return (reply("want-sign-off" if is_last else "want-next"),)
    return ()


def _want_reading(state: State) -> Reply:
    reading = state.waits()[0]
    spec = state.sheet.readings[reading]
    if spec.points == 1 and spec.instrument_unit:
        return reply("want-reading-in", name=spec.name, unit=UnitName(spec.read_in))
    if spec.points == 1:
        return reply("want-reading", name=spec.name)
    number = len(state.taken_at(state.step.id, reading).points) + 1
    points = Decimal(spec.points)
    if spec.instrument_unit:
        unit = UnitName(spec.read_in)
        return reply("want-point-in", name=spec.name, number=Decimal(number), points=points, unit=unit)
    return reply("want-point", name=spec.name, number=Decimal(number), points=points)


def _want_item(state: State, key: str) -> Reply:
    entry = state.register[key]
    return reply(f"want-{entry.kind.value}", name=entry.name)


def _gate(state: State) -> Reply:
    open_ = state.open_at_gate()
    why, what = open_[0]
    count = Decimal(len(open_))
    if why == "item":
        entry = state.register[what]
        return reply(f"gate-{entry.kind.value}", True, name=entry.name, count=count)
    return reply(f"gate-{why}", True, name=_name(state, what), count=count)


def _phrase(state: State, hold: str) -> str:
    return next((s.hold.phrase for s in state.sheet.steps if s.hold and s.hold.id == hold), hold)


def _read_back(state: State, hold: str) -> Reply:
    return reply("read-back", True, what=_phrase(state, hold).removeprefix("confirm").strip())


def _name(state: State, id_: str) -> str:
    """The spoken name of a reading, look or item."""
    sheet = state.sheet
    for group in (sheet.readings, sheet.looks, sheet.items):
        if id_ in group:
            return str(group[id_].name)
    return state.register[id_].name if id_ in state.register else id_


def step_text(state: State, step: Step) -> Replies:
    """The step read aloud: cautions first, then the words."""
    number = Decimal(state.sheet.step_index(step.id) + 1)
    cautions = tuple(
        reply("caution", True, signal=c.signal.value, hazard=c.hazard, consequence=c.consequence, avoid=c.avoid)
        for c in step.cautions
    )
    licensed = (reply("licensed", True, who=step.licensed),) if step.licensed else ()
    torque = torque_text(step.torque) if step.torque else ()
    # What is on already after the first stage is not to be put on again.
    is_later = step.torque is not None and step.torque.number > 1
    words = reply("step-stage", number=number) if is_later else reply("step", number=number, say=step.say)
    return (*cautions, *licensed, words, *torque)


def torque_text(stage: TorqueStage) -> Replies:
    """One stage of tightening: which, how far, on this wrench, in which order; the thread with the first stage only."""
    said = []
    if stage.number == 1:
        said.append(
            reply("torque-thread", thread=stage.thread, condition=stage.condition)
            if stage.thread
            else reply("torque-condition", condition=stage.condition)
        )
    is_turn = stage.turn is not None
    amount = Quantity(stage.turn, "deg") if stage.turn is not None else Quantity(stage.target or Decimal(0), stage.unit)
    kind = "turn" if is_turn else "to"
    if stage.count > 1:
        number, count = Decimal(stage.number), Decimal(stage.count)
        said.append(reply(f"torque-stage-{kind}", True, number=number, count=count, amount=amount))
    else:
        said.append(reply(f"torque-{kind}", True, amount=amount))
    if stage.on_instrument:
        said.append(reply("torque-on", True, instrument=stage.instrument, amount=Quantity(*stage.on_instrument)))
    if stage.order:
        said.append(reply("torque-order", order=tuple(Decimal(nut) if nut.isdigit() else nut for nut in stage.order)))
    return tuple(said)


def verdict_reply(state: State, event: ev.ReadingRecorded | ev.ReadingCorrected) -> Reply:
    """Verdict on one value of a reading, the margin in the unit that was said, on the safe side of its rounding."""
    spec = state.sheet.readings[event.reading]
    limit = state.limit_of(spec)
    judged = state.judge(spec, event.in_limit_unit)
    figures = [figure for figure in (limit.low, limit.high) if figure is not None]
    scale = _scale(event, limit.unit)
    if scale is None or judged.margin is None:
        return _verdict(judged, limit.unit, like(event.in_limit_unit, *figures))
    # Twelve digits: 110.555… degrees back in Fahrenheit must not be a hair past the degree.
    own = Context(prec=12).plus(judged.margin * scale)
    # The digits that were said; more where the margin would vanish in them.
    digits = like(event.value) if not own else min(like(event.value), Decimal(1).scaleb(own.adjusted()))
    return _verdict(replace(judged, margin=own), event.unit, digits)


def _scale(event: ev.ReadingRecorded | ev.ReadingCorrected, unit: str) -> Decimal | None:
    """How many of the unit that was said make one of the limit's; None where it is the limit's own, or not to be told
    from this value. A difference of temperatures has no offset.
    """
    if event.unit == unit:
        return None
    degrees = {("degF", "degC"): Decimal("1.8"), ("degC", "degF"): 1 / Decimal("1.8")}
    if (event.unit, unit) in degrees:
        return degrees[event.unit, unit]
    return event.value / event.in_limit_unit if event.in_limit_unit else None


def _verdict(judged: Judged, unit: str, like: Decimal) -> Reply:
    if judged.verdict is Verdict.NOTED or judged.margin is None:
        return reply("verdict-noted")
    margin = Quantity(abs(shown(judged.margin, like)), unit)
    is_urgent = judged.verdict is not Verdict.GOOD
    side = "-" + judged.side if judged.side in ("spread", "pair") else ""
    return reply(f"verdict-{judged.verdict.value}{side}", is_urgent, margin=margin)


def _silent(before: State, state: State, event: Any) -> Replies:
    return ()


def _started(before: State, state: State, event: ev.SessionStarted) -> Replies:
    return (reply("started", title=state.sheet.title, machine=state.sheet.machine), reply("safety"))


def _instruments(before: State, state: State, event: ev.InstrumentsTaken) -> Replies:
    late = [reply("instrument-overdue", True, name=one.instrument, days=Decimal(one.days)) for one in event.overdue]
    return (*late, *(reply("instrument-missing", name=name) for name in event.missing))


def _resumed(before: State, state: State, event: ev.SessionResumed) -> Replies:
    said = [reply("resumed", title=state.sheet.title)]
    if event.sheet_changed:
        said.append(reply("sheet-changed", True))
    stand = tuple(
        s.hold.phrase.removeprefix("confirm").strip()
        for s in state.sheet.steps
        if s.hold and s.hold.id in state.confirmed and not state.may_have_changed(s.hold)
    )
    if stand:
        said.append(reply("resumed-confirmed", names=stand))
    if state.register:
        names = tuple(entry.name for entry in state.register.values())
        said.append(reply("resumed-open", names=names))
    return (*said, *step_text(state, state.step))


def _step_opened(before: State, state: State, event: ev.StepOpened) -> Replies:
    return (*step_text(state, state.step), *prompt(state))


def _redone(before: State, state: State, event: ev.StepRedone) -> Replies:
    return (reply("redone", count=Decimal(len(event.steps))),)


def _next_refused(before: State, state: State, event: ev.NextRefused) -> Replies:
    if event.why == "hold":
        return (reply("refused-hold", True, phrase=_phrase(state, event.what)),)
    if event.why.startswith("gate-"):
        opened = state.open_at_gate()
        if not opened:  # what this very step would open keeps the job from being signed off
            return (reply("gate-item-later", True, name=_name(state, event.what)),)
        return (reply("refused-gate", True), _gate(state))
    if event.why == "close":
        return (reply("refused-close", True, name=_name(state, event.what)), _want_item(state, event.what))
    return (reply(f"refused-{event.why}", True, name=_name(state, event.what)),)


def _phrase_heard(before: State, state: State, event: ev.HoldPhraseHeard) -> Replies:
    return (_read_back(state, event.hold),)


def _confirmed(before: State, state: State, event: ev.HoldConfirmed) -> Replies:
    return (reply("hold-passed"),)


def _lapsed(before: State, state: State, event: ev.HoldLapsed) -> Replies:
    return (reply("hold-lapsed", True),)


def _hold_reopened(before: State, state: State, event: ev.HoldReopened) -> Replies:
    if event.why == "undo":
        return (reply("undone-hold", True),)
    return (reply("hold-reopened", True, phrase=_phrase(state, event.hold)),)


def _recorded(before: State, state: State, event: ev.ReadingRecorded) -> Replies:
    spec = state.sheet.readings[event.reading]
    quantity = Quantity(event.value, event.unit)
    said = [reply("reading", name=spec.name, quantity=quantity)]
    if spec.is_marking:
        said.append(_marking(state, spec, event.in_limit_unit))
    else:
        said.append(verdict_reply(state, event))
    taken = state.taken_at(event.step, event.reading)
    if len(taken.points) == spec.points:
        whole = state.verdict_at(event.step, event.reading)
        if whole.side in ("spread", "pair"):
            figure = spec.spread if whole.side == "spread" else spec.pair_within
            said.append(_verdict(whole, spec.unit, figure or event.in_limit_unit))
        if spec.points > 1:
            low, high = min(taken.values), max(taken.values)
            said.append(reply("points-done", low=low, high=high))
    return tuple(said)


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
    return (
        reply("corrected", name=spec.name, quantity=Quantity(event.value, event.unit)),
        _marking(state, spec, event.in_limit_unit) if spec.is_marking else verdict_reply(state, event),
    )


def _reading_reopened(before: State, state: State, event: ev.ReadingReopened) -> Replies:
    if event.why == "replaced" and state.sheet.readings[event.reading].is_marking:
        return ()  # it is said with the reading whose part was replaced
    return (reply(f"reopened-{event.why}", name=_name(state, event.reading)),)


def _decided(before: State, state: State, event: ev.ReadingDecided) -> Replies:
    return (reply("decided", name=_name(state, event.what), reason=event.reason),)


def _look(before: State, state: State, event: ev.LookJudged) -> Replies:
    return (reply(f"look-{event.judgement}", event.judgement != "good", name=_name(state, event.look)),)


def _item_opened(before: State, state: State, event: ev.ItemOpened) -> Replies:
    if event.by == "step":
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


def question(state: State, intent: Intent) -> Reply:
    """The question that an AMBIGUOUS intent asks back."""
    asks = intent.asks or Asks.WHICH_NUMBER
    names = tuple(_option(state, option) for option in intent.options)
    if intent.is_offer and intent.options:
        if len(names) > 1:
            return reply("ask-offer-of", True, first=names[0], others=names[1:])
        if asks is Asks.IMPLAUSIBLE:
            return reply("ask-implausible", True, offer=names[0])
        return reply("ask-offer", True, offer=names[0])
    if names:
        return reply("ask-which", True, names=names)
    name = _name(state, intent.name) if intent.name else ""
    if asks is Asks.QUESTION and intent.detail:
        return reply("ask-question", True, why=intent.detail)
    if asks is Asks.HOW_MANY_POINTS:
        wanted = state.expected().points_left
        return reply("ask-how-many-points", True, points=Decimal(wanted))
    if asks is Asks.WRONG_UNIT:
        waits = state.waits()
        unit_of = intent.name or (waits[0] if waits else None)
        spec = state.sheet.readings.get(unit_of) if unit_of else None
        if spec:
            return reply("ask-wrong-unit", True, unit=UnitName(spec.read_in), name=spec.name)
        return reply("ask-say-again", True)
    if asks is Asks.NO_NUMBER and name:
        return reply("ask-number", True, name=name)
    return reply(f"ask-{asks.value}" if asks is Asks.WHICH_NAME else "ask-say-again", True)


_OFFERED_BY_NAME = frozenset({Kind.FITTED, Kind.TAKEN_OFF, Kind.REMOVED, Kind.PUT_BACK})


def _option(state: State, intent: Intent) -> Any:
    if intent.kind in (Kind.READING, Kind.CORRECTION):
        if intent.values:
            return tuple(intent.values)
        if intent.value is not None:
            return Quantity(intent.value, intent.unit) if intent.unit else intent.value
    if intent.kind is Kind.CONFIRM:
        return _phrase(state, intent.name or "")
    if intent.kind in _OFFERED_BY_NAME and (intent.name or intent.text):
        name = _name(state, intent.name) if intent.name else intent.text
        return reply(f"offer-{intent.kind.value}", name=name)
    if intent.kind is Kind.JUDGEMENT and intent.name:
        return reply(f"offer-look-{intent.text}", name=_name(state, intent.name))
    if intent.kind is Kind.QUERY and intent.heard:
        return intent.heard
    if intent.name:
        return _name(state, intent.name)
    return intent.text or Reply(f"name-{intent.kind.value}")


def _asked(before: State, state: State, event: ev.Asked) -> Replies:
    return (question(state, event.question),)


def _asked_again(before: State, state: State, event: ev.AskedAgain) -> Replies:
    if state.stopping:
        return (reply("ask-stop", True),)
    return (question(state, state.question),) if state.question else ()


def _question_closed(before: State, state: State, event: ev.QuestionClosed) -> Replies:
    return (reply("not-taken"),) if event.how == "negative" else ()


def _told(before: State, state: State, event: ev.Told) -> Replies:
    topic = event.topic
    if topic == Kind.REPEAT:
        if state.read_back:
            return (_read_back(state, state.read_back),)
        return (*step_text(state, state.step), *prompt(state))
    if topic == Kind.WHERE:
        number, total = Decimal(state.index + 1), Decimal(len(state.sheet.steps))
        torque = torque_text(state.step.torque) if state.step.torque else ()
        return (reply("where", number=number, total=total, say=state.step.say), *torque, *prompt(state))
    if topic == Kind.LEFT:
        return _left(state)
    if topic == Kind.HELP:
        return (reply(f"help-{state.phase().value}"), *prompt(state))
    if topic in SETTINGS:
        is_end = event.intent is not None and event.intent.detail == "end"
        return (reply(f"{topic}-end" if is_end else topic),)
    return _query(state, event.intent)


def _left(state: State) -> Replies:
    steps = Decimal(sum(1 for s in state.sheet.steps[state.index :] if s.id not in state.passed_over))
    if not state.register:
        return (reply("left-nothing", steps=steps), *_minutes_left(state))
    still_open = tuple(reply(f"open-{entry.kind.value}", name=entry.name) for entry in state.register.values())
    return (*still_open, *_minutes_left(state))


def _minutes_left(state: State) -> Replies:
    """The sheet's time for this step and those to come; nothing where one of them does not say."""
    coming = [step for step in state.sheet.steps[state.index :] if not step.only_if or step.only_if in state.replaced]
    # The minutes of a step in stages stand with its last one.
    timed = [step.minutes for step in coming if step.torque is None or step.torque.number == step.torque.count]
    known = [minutes for minutes in timed if minutes is not None]
    if not known or len(known) < len(timed):
        return ()
    return (reply("left-minutes", amount=Quantity(sum(known, Decimal(0)), "min")),)


def _query(state: State, intent: Intent | None) -> Replies:
    if intent is None:
        return ()
    if intent.text == "conversion" and intent.in_limit_unit is not None:
        unit = intent.detail
        asked = Quantity(intent.value or Decimal(0), intent.unit or "")
        return (reply("answer-conversion", asked=asked, answer=Quantity(intent.in_limit_unit, unit)),)
    if intent.text == "limit" and state.step.torque and not intent.name:
        return torque_text(state.step.torque)
    if intent.text in ("limit", "reading"):
        step_readings = state.step.readings
        name = intent.name or (state.waits() or step_readings or ("",))[0]
        if name in state.sheet.readings:
            return _limit_said(state, name) if intent.text == "limit" else _reading_said(state, name)
        return (reply("answer-none"),)
    if intent.text == "wear" and not intent.detail:
        # Only English has the sentences: elsewhere nothing is claimed about a history that is there.
        is_known = any(one.pairs for one in state.history if one.reading == intent.name)
        return (reply("answer-none") if is_known else reply("wear-none", name=_wear_name(state, intent)),)
    if intent.detail and intent.text not in ("conversion", "step"):
        return (reply("answer-reckoned", answer=intent.detail),)
    torque = torque_text(state.step.torque) if state.step.torque else ()
    return (reply("step", number=Decimal(state.index + 1), say=state.step.detail or state.step.say), *torque)


def _wear_name(state: State, intent: Intent) -> str:
    name = intent.name or (state.waits() or state.step.readings or ("",))[0]
    return _name(state, name) if name else state.sheet.machine


def _limit_said(state: State, reading: str) -> Replies:
    spec = state.sheet.readings[reading]
    limit = state.limit_of(spec)
    said = []
    if limit.low is not None and limit.high is not None:
        said.append(reply("limit-between", name=spec.name, low=limit.low, high=Quantity(limit.high, limit.unit)))
    elif limit.low is not None:
        said.append(reply("limit-low", name=spec.name, low=Quantity(limit.low, limit.unit)))
    elif limit.high is not None:
        said.append(reply("limit-high", name=spec.name, high=Quantity(limit.high, limit.unit)))
    elif limit.rows:
        said.append(reply("limit-row", name=spec.name, marking=_name(state, limit.from_marking or "")))
    else:
        said.append(reply("limit-none", name=spec.name))
    if limit.new is not None:
        said.append(reply("limit-new", new=Quantity(limit.new, limit.unit)))
    if limit.source:
        said.append(reply("limit-source", source=limit.source))
    return tuple(said)


def _reading_said(state: State, reading: str) -> Replies:
    found = [t for (_, r), t in state.taken.items() if r == reading and t.points]
    name = _name(state, reading)
    if not found:
        return (reply("reading-none", name=name),)
    point = found[-1].points[-1]
    return (reply("reading-was", name=name, quantity=Quantity(point.value, point.unit)),)


def _refused(before: State, state: State, event: ev.Refused) -> Replies:
    if event.why in ("hold-first", "choices"):
        return prompt(state)
    name = _name(state, event.what) if event.what else ""
    if event.why == "no-row":
        keys = dict.fromkeys(
            row.key
            for spec in state.sheet.readings.values()
            if spec.limit.from_marking == event.what
            for row in spec.limit.rows
        )
        return (reply("no-no-row", name=name, keys=tuple(keys)),)
    if event.why == "open-already" and event.what in state.register:
        return (reply("no-open-already", name=name), _want_item(state, event.what))
    return (reply(f"no-{event.why}", name=name), *(prompt(state) if event.why in _SAYS_WANT else ()))


_SAYS_WANT = {"nothing-asked", "other-hold", "no-reading-wanted", "taken-already", "other-reading"}


def _not_understood(before: State, state: State, event: ev.NotUnderstood) -> Replies:
    if not event.heard:
        return (reply("say-again"),)
    return (reply("say-again"), *(prompt(state) if state.phase() is not Phase.READY else ()))


def _undone(before: State, state: State, event: ev.Undone) -> Replies:
    # A hold's undoing was said when it was reopened.
    return (reply(f"undone-{event.what}"),) if event.what != "hold" else ()


_SAY: dict[type, Callable[[State, State, Any], Replies]] = {
    ev.SessionStarted: _started,
    ev.ReadingsCarried: lambda before, state, event: (reply("carried", count=Decimal(len(event.readings))),),
    ev.InstrumentsTaken: _instruments,
    ev.HistoryTaken: _silent,
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
    ev.Told: _told,
    ev.Refused: _refused,
    ev.NotUnderstood: _not_understood,
    ev.StoodBy: lambda before, state, event: (reply("standing-by"),),
    ev.CarriedOn: lambda before, state, event: (reply("carrying-on"),),
    ev.Undone: _undone,
    ev.StopAsked: lambda before, state, event: (reply("ask-stop", True),),
    ev.JobStopped: lambda before, state, event: (reply("stopped", True),),
    ev.SignedOff: lambda before, state, event: (reply("signed-off"), *_follow_ups(state)),
}


def _follow_ups(state: State) -> Replies:
    return tuple(reply("follow-up", text=step.follow_up) for step in state.sheet.steps if step.follow_up)
